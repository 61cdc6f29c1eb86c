"""The documents that ship hold what is asked of a site's own: they lint clean under the real speech
model, keep the word limits, and every plan is a case."""

from __future__ import annotations

from pathlib import Path

import pytest

from voicelist.asr.model import ModelPlace
from voicelist.asr.vocabulary import vocabulary
from voicelist.documents.bundle import load_bundle
from voicelist.documents.loading import load_checklist
from voicelist.linting.check import lint_case, lint_paths
from voicelist.places import shipped
from voicelist.session.case import ANSWER_KINDS, COMMANDS, CORRECT, LATER_COMMANDS, compile_case
from voicelist.session.flow_phrases import BEGIN, MILESTONE

GRAMMARS = shipped("grammars")
PLANS = sorted(GRAMMARS.glob("plans/*.yaml"))
SOUND_MUCH_ALIKE = [
    ("correction for the bottle", '"correction for the pedal" of command.correct:pedal-reach'),
    (
        "correction for paper time out",
        '"correction for paper sign out" of command.correct:paper-sign-out',
    ),
]
CHECKLIST = GRAMMARS / "checklists" / "phaco.yaml"


def test_nothing_that_ships_has_a_problem(speech_model: ModelPlace) -> None:
    known = vocabulary(speech_model.path)
    problems = lint_paths([GRAMMARS], known.__contains__)
    assert [str(problem) for problem in problems if not problem.note] == []
    # Words of the shipped documents that deserve a look when they are adapted.
    assert {problem.found.partition(" (")[0] for problem in problems} == {
        f'"{one}", which sounds much like {other}' for one, other in SOUND_MUCH_ALIKE
    }


def test_every_word_that_has_to_be_heard_is_known(speech_model: ModelPlace) -> None:
    known = vocabulary(speech_model.path)
    case = compile_case(load_bundle(PLANS[0]))
    assert case.grammar.vocabulary() - known == set()
    assert set(case.room.fillers) - known == set()


def test_the_lint_would_see_a_word_that_the_model_lacks(speech_model: ModelPlace) -> None:
    known = vocabulary(speech_model.path) - {"vented"}
    found = [problem.found for problem in lint_case(load_bundle(PLANS[0]), known.__contains__)]
    assert 'the word "vented", which the speech model does not know' in found


def test_there_are_fifteen_practice_plans() -> None:
    assert [path.stem for path in PLANS] == [
        "practice-007",
        "practice-008",
        "practice-009",
        "practice-101",
        "practice-102",
        "practice-103",
        "practice-104",
        "practice-105",
        "practice-106",
        "practice-107",
        "practice-108",
        "practice-109",
        "practice-201",
        "practice-301",
        "practice-302",
    ]


@pytest.mark.parametrize("plan", PLANS, ids=lambda path: path.stem)
def test_every_plan_is_a_case(plan: Path) -> None:
    case = compile_case(load_bundle(plan))
    assert case.bundle.plan.case == plan.stem
    assert {name for name in case.grammar.names if name.startswith("command.")} == {
        *(f"command.{name}" for name in (*COMMANDS, *LATER_COMMANDS)),
        *(f"command.{CORRECT}{item_id}" for item_id in case.items),
        *(f"command.{BEGIN}{one.id}" for one in case.bundle.checklist.sections if one.waits),
        *(f"command.{MILESTONE}{one.id}" for one in case.bundle.checklist.milestones),
    }
    for item in case.items.values():
        kinds = [kind for kind in ANSWER_KINDS if getattr(item, kind) is not None]
        assert kinds
        assert all(f"{item.id}.{kind}" in case.grammar.names for kind in kinds)


def test_the_checklist_is_long_enough_for_a_case_and_short_enough_for_a_turnover() -> None:
    sections = load_checklist(CHECKLIST).document.sections
    assert sum(len(section.items) for section in sections) >= 15
    turnover = [section for section in sections if section.when != "first case of the day"]
    assert sum(len(section.items) for section in turnover) <= 18


def test_calls_and_reasons_keep_their_word_limits() -> None:
    for _, item in load_checklist(CHECKLIST).document.all_items():
        assert len(item.call.split()) <= 7, item.id
        assert len(item.why.split()) <= 15, item.id


def test_calls_put_the_state_before_the_thing_or_ask_openly() -> None:
    """Repeating a call then passes nothing (design rule)."""
    for _, item in load_checklist(CHECKLIST).document.all_items():
        before, colon, thing = item.call.partition(":")
        assert item.call.endswith("?")
        assert not colon or (before and thing), item.id


def test_values_are_read_from_somewhere() -> None:
    for _, item in load_checklist(CHECKLIST).document.all_items():
        assert (item.compare in (None, "profile")) == (item.read_from is None), item.id


def test_every_item_that_compares_the_eye_or_the_lens_is_a_stop_item() -> None:
    compared = {
        item.compare: item.stop for _, item in load_checklist(CHECKLIST).document.all_items()
    }
    assert compared["eye"]
    assert compared["lens-power"]
    assert compared["lens-model"]
