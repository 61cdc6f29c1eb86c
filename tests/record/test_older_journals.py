"""Journals of every earlier version verify, replay, are shown and can be gone on with."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.team.right import right_line
from voicelist.documents.embedded import Bundle, thawed
from voicelist.record.exports import FORMATS, export
from voicelist.record.journal import Entry
from voicelist.record.verify import read_journal_file, verify_file
from voicelist.record.view import case_view
from voicelist.record.words import quantities_words
from voicelist.session.case import compile_case
from voicelist.session.checked import as_profile
from voicelist.session.events import Begin, Utterance, Voice
from voicelist.session.machine import context_of, step
from voicelist.session.records import Opened, from_body
from voicelist.session.state import State, replay
from voicelist.understanding.hypothesis import Hypothesis
from voicelist.understanding.interpretation import understand

FOLDER = Path(__file__).parent / "journals"
HEADS = {
    "0.1.0-completed": "4cbd770cad0ae9be232161fca681024db90707dff8ebf05b307e2bdd9e4c4a3b",
    "0.1.0-demo": "6100907cdd4ebe8ec092c293860df349abcf51ec34dc18d251db19d9f182cdef",
    "0.1.0-stopped": "e74635c6294e56ea25fa03b7d3b68f56b8e7d74033736c4c40a2299cfdcd0d10",
}


def entries_of(name: str) -> tuple[Entry, ...]:
    return read_journal_file(FOLDER / f"{name}.jsonl")


def test_every_journal_has_its_head_kept_here() -> None:
    assert sorted(path.stem for path in FOLDER.glob("*.jsonl")) == sorted(HEADS)


@pytest.mark.parametrize(("name", "head"), HEADS.items())
def test_it_verifies_against_the_head_that_was_kept(name: str, head: str) -> None:
    verdict = verify_file(FOLDER / f"{name}.jsonl", head)
    assert verdict.ok, verdict.problems


@pytest.mark.parametrize("name", HEADS)
def test_it_replays_to_the_end_that_it_tells_of(name: str) -> None:
    records = [from_body(entry.kind, entry.body) for entry in entries_of(name)]
    state = replay(records)
    wanted = "stopped" if name.endswith("stopped") else "completed"
    assert state.closed == wanted
    assert records[-1].kind in ("closed", "said")


def test_what_it_replays_to_is_what_was_said() -> None:
    records = [from_body(entry.kind, entry.body) for entry in entries_of("0.1.0-completed")]
    state = replay(records)
    assert state.item("mark").answer == "not-applicable"
    assert state.item("sleeve").answer == "said-done"
    assert state.item("eye").values == {"eye": "left"}
    assert state.item("lens-power").values == {"power_D": 21.5}
    (accepted,) = state.item("quadrant-profile").accepted
    assert (accepted.quantity, accepted.heard, accepted.reason) == (
        "flow_cc_per_min",
        40,
        "a dense lens",
    )


@pytest.mark.parametrize("name", HEADS)
@pytest.mark.parametrize("form", FORMATS)
def test_it_is_shown_in_every_form(name: str, form: str) -> None:
    entries = entries_of(name)
    assert len(export(entries, form)) > 500
    view = case_view(entries)
    assert view.problems == ()
    assert view.plan_changes == ()
    assert view.late_entries == ()


def test_a_stopped_one_is_gone_on_with_by_its_own_documents() -> None:
    records = [from_body(entry.kind, entry.body) for entry in entries_of("0.1.0-stopped")]
    opened = records[0]
    assert isinstance(opened, Opened)
    case = compile_case(Bundle.from_json(thawed(opened.documents)), opened.first_section)
    assert not any("correct:" in name for name in case.grammar.names), "it had no such phrase"
    state: State = replay([*records, from_body("resumed", _resumed())])
    state, _ = step(case, state, Begin())
    for _ in range(80):
        if state.closed:
            break
        words = tuple(right_line(case, state).split())
        heard = understand([Hypothesis(words)], (), context_of(case, state))
        state, _ = step(case, state, Utterance(heard, Voice()))
    assert state.closed == "completed"


def _resumed() -> dict[str, object]:
    return {"source": "typed", "software": "later", "model": None}


def test_names_that_are_no_longer_used_are_read_in_a_record() -> None:
    """A card with `kind: short-pulses`, a limit of theirs, and a rate that was called a count."""
    entry = entries_of("0.1.0-completed")[0]
    opened = from_body(entry.kind, entry.body)
    assert isinstance(opened, Opened)
    documents = Bundle.from_json(thawed(opened.documents)).to_json()
    for band in documents["card"]["grades"]:
        band["phases"]["quadrant"]["modulation"] = {
            "kind": "short-pulses",
            "pulses_per_s": 30.0,
            "on_time_ms": 8.0,
        }
    documents["limits"]["off"] = ["rise-time", "short-pulse-time", "count-as-rate"]
    documents["limits"]["limits"]["short_pulse_on_time_ms"] = {"from": 2.0, "to": 10.0}
    case = compile_case(Bundle.from_json(documents), "settings")
    settings = case.bundle.card.settings_for("clinical", 3, "quadrant")
    assert settings is not None
    assert settings.modulation is not None
    assert settings.modulation.kind == "pulse"
    said = {
        "modulation": {"value": "short-pulses", "control": ""},
        "pulses_per_s": {"value": 30, "control": "", "counted": True},
    }
    assert as_profile("quadrant", said).kind == "pulse"
    assert quantities_words(said) == "modulation short-pulses, pulses 30/s (said as a count)"
