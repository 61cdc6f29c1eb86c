"""A list of another room runs as it is: no eye, roles of its own, words that add to the shipped."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.linting.lint_documents import spoil
from tests.session import endoscopy_room
from tests.session.talk import Talk
from voicelist.documents.bundle import load_bundle
from voicelist.documents.embedded import Bundle
from voicelist.errors import DocumentError
from voicelist.linting.check import lint_paths
from voicelist.listening.typed import role_and_text
from voicelist.session.case import compile_case
from voicelist.session.permitted import help_lines
from voicelist.session.records import Answered, ReadBack
from voicelist.session.team_records import HandedOver, PresenceChanged

TOWER = ("suction working", "light source bright", "leak test passed")
SIGN_IN = (
    "case number forty one",
    "doctor confirmed patient and procedure",
    "endoscopy nurse has confirmed patient and procedure",
    "label says agent bravo",
)


@pytest.fixture
def plan(tmp_path: Path) -> Path:
    return endoscopy_room.write(tmp_path / "room")


@pytest.fixture
def talk(plan: Path) -> Talk:
    return Talk(case=compile_case(load_bundle(plan)))


def test_the_list_of_another_room_has_no_problems_but_says_what_it_replaces(plan: Path) -> None:
    told = lint_paths([plan], None)
    assert all(one.note for one in told)
    assert [(Path(one.file).name, one.line) for one in told] == [
        ("ours.abnf", 4),
        ("sentences.en.yaml", 4),
    ]
    assert told[0].found.startswith("the rule $abandon_reason in place of what ")
    assert told[1].found.startswith("the sentence last-item in place of what ")


def test_a_whole_case_without_an_eye(talk: Talk) -> None:
    assert talk.says(*TOWER, *SIGN_IN) == ["That was the last item. The record is kept."]
    assert talk.state.closed == "completed"
    assert talk.case.bundle.plan.side == ""
    (agreed,) = [r for r in talk.records if isinstance(r, Answered) and r.item == "team-check"]
    assert list(agreed.values["roles"]) == ["endoscopist (spoken)", "endoscopy-nurse (spoken)"]


def test_thing_and_state_are_an_answer_where_an_item_has_no_other(talk: Talk) -> None:
    assert talk.says("suction line blocked") == [
        "Reported; it stays open.",
        "Bright or dim: the light source?",
    ]
    assert talk.status("suction") == "said-fault"
    talk.says("light source bright")
    assert talk.status("light") == "said-done"


def test_what_is_wrong_in_thing_or_state_is_told_where_it_is_written(plan: Path) -> None:
    folder, name = plan.parent.parent, "checklists/endoscopy.yaml"
    spoil(folder, name, "thing: leak test", "thing: leak test (")
    spoil(folder, name, "good: bright", "good: bright $nowhere")
    told = [one for one in lint_paths([folder / name], None) if not one.note]
    text = (folder / name).read_text(encoding="utf-8").splitlines()
    assert [text[one.line - 1].strip() for one in told] == [
        "good: bright $nowhere",
        "thing: leak test (",
    ]
    assert told[0].found == "$nowhere"


def test_the_other_sedative_is_no_match(talk: Talk) -> None:
    talk.says(*TOWER, *SIGN_IN[:-1])
    talk.says("label says agent alpha")
    assert talk.state.closed == ""
    assert talk.status("sedative") != "value"


def test_roles_of_the_lists_own_hand_over_and_are_away(talk: Talk) -> None:
    talk.says("doctor handing over")
    assert [one.role for one in talk.records if isinstance(one, HandedOver)] == ["endoscopist"]
    assert talk.says("sedation is away today") == ["Sedation is not here: is that so?"]
    talk.says("yes that is correct")
    (change,) = [one for one in talk.records if isinstance(one, PresenceChanged)]
    assert (change.role, change.present) == ("sedation", False)


def test_a_role_that_is_needed_is_not_away(talk: Talk) -> None:
    told = talk.says("endoscopy nurse is away today")
    assert told[0] == "Endoscopy nurse is needed for suction."
    assert not any(isinstance(one, ReadBack) for one in talk.records)


def test_roles_of_a_theatre_are_nobody_here(talk: Talk) -> None:
    for words in ("scrub nurse handing over", "surgeon is here now"):
        before = talk.records
        talk.says(words)
        assert not [r for r in talk.records[len(before) :] if isinstance(r, HandedOver)]
        assert talk.hears(words).__class__.__name__ in ("NotForUs", "NotUnderstood")


def test_a_rule_of_the_site_counts_wherever_it_is_referred_to(talk: Talk) -> None:
    assert "because of a full stomach" in help_lines(talk.case, talk.state)[-1]
    assert talk.says("abandon this case because of a full stomach") == ["End this case unfinished?"]
    other = Talk(case=talk.case)
    other.says("abandon this case because of a change of plan")
    assert other.state.pending is None


def test_typed_lines_name_the_lists_own_roles(talk: Talk) -> None:
    bundle = talk.case.bundle
    roles = bundle.checklist.role_names
    assert roles == ("endoscopist", "endoscopy-nurse", "sedation")
    assert role_and_text("Endoscopist: suction strong", bundle.lexicon, roles)[0] == "endoscopist"
    assert role_and_text("surgeon: suction strong", bundle.lexicon, roles)[0] == ""


def test_a_record_holds_all_that_the_case_was_run_on(plan: Path) -> None:
    bundle = load_bundle(plan)
    again = Bundle.from_json(bundle.to_json())
    assert again == bundle
    assert "eye" not in bundle.to_json()["plan"]
    assert Talk(case=compile_case(again)).says(*TOWER, *SIGN_IN[:2])[-1] == (
        "Endoscopy nurse, please."
    )


def test_a_list_that_compares_the_eye_needs_one_in_the_plan(plan: Path) -> None:
    spoil(
        plan.parent.parent,
        "checklists/endoscopy.yaml",
        "value: label says $our_sedative\n        compare: planned\n        planned: sedative\n",
        "value: marked eye $side\n        compare: eye\n",
    )
    spoil(plan.parent.parent, "plans/room-41.yaml", "also: {sedative: agent bravo}\n", "")
    with pytest.raises(DocumentError) as caught:
        compile_case(load_bundle(plan))
    (problem,) = caught.value.problems
    assert problem.found == "a plan without eye"
    assert problem.expected == "expected eye, for sedative compares it: left or right"


@pytest.mark.parametrize(
    ("old", "new", "found", "expected"),
    [
        (
            "answered by: [endoscopy-nurse]",
            "answered by: [endoscopy-nurs]",
            'the text "endoscopy-nurs"',
            'did you mean "endoscopy-nurse"? expected one of "endoscopist", "endoscopy-nurse"',
        ),
        (
            "answered by: [endoscopy-nurse]",
            "answered by: [surgeon]",
            'the text "surgeon"',
            'expected one of "endoscopist", "endoscopy-nurse", "sedation"',
        ),
        (
            "sedation: sedation",
            "sedation: doctor",
            'the name "doctor" of endoscopist too',
            "expected words of its own for each role",
        ),
        (
            "endoscopist: doctor",
            "endoscopist: Dr. 1",
            'the text "Dr. 1"',
            "expected lower-case words that name the role",
        ),
    ],
)
def test_roles_that_cannot_be_are_told_where_they_stand(
    plan: Path, old: str, new: str, found: str, expected: str
) -> None:
    folder = plan.parent.parent
    spoil(folder, "checklists/endoscopy.yaml", old, new)
    with pytest.raises(DocumentError) as caught:
        load_bundle(plan)
    text = (folder / "checklists/endoscopy.yaml").read_text(encoding="utf-8").splitlines()
    (problem,) = caught.value.problems
    assert problem.found == found
    assert problem.expected.startswith(expected)
    assert new.split(": ")[1].strip("[]") in text[problem.line - 1][problem.column - 1 :]


def test_a_plan_has_only_roles_of_its_list_in_the_room(plan: Path) -> None:
    with plan.open("a", encoding="utf-8") as file:
        file.write("present: [endoscopist, surgeon]\n")
    with pytest.raises(DocumentError) as caught:
        load_bundle(plan)
    (problem,) = caught.value.problems
    assert (problem.line, problem.found) == (6, 'the role "surgeon" in the room')


def test_a_role_whose_name_the_model_lacks_is_told_where_it_is_written(plan: Path) -> None:
    folder, name = plan.parent.parent, "checklists/endoscopy.yaml"
    spoil(folder, name, "endoscopist: doctor", "endoscopist: scopist")
    (told,) = [one for one in lint_paths([plan], lambda word: word != "scopist") if not one.note]
    assert (told.file, told.line, told.column) == (str(folder / name), 6, 16)
    assert 'the word "scopist"' in told.found
