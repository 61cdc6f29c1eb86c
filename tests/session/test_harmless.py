"""What stands in the second look without its denials passes, accepts and ends nothing."""

from __future__ import annotations

import pytest

from tests.session.talk import Talk
from voicelist.session.case import is_harmless
from voicelist.session.records import Accepted, Answered, Closed
from voicelist.session.state import DEFERRED

ROOTS = Talk().case.grammar.names


@pytest.mark.parametrize("root", [one for one in ROOTS if is_harmless(one)])
def test_a_harmless_command_passes_accepts_and_ends_nothing(root: str) -> None:
    said = Talk().case.grammar.examples(root)[0]
    for section in ("lines", "handpiece", "settings", "time-out"):
        talk = Talk(section)
        talk.says(said, role="circulating-nurse")
        answers = [one.answer for one in talk.records if isinstance(one, Answered)]
        assert set(answers) <= {DEFERRED}
        assert not any(isinstance(one, Accepted | Closed) for one in talk.records)


@pytest.mark.parametrize(
    "root",
    [
        "irrigation-line.done",
        "lens-power.value",
        "command.not_applicable",
        "command.correct",
        "command.confirm_profile",
        "command.accept",
        "command.report_it",
        "command.abandon",
        "command.abandon_now",
        "command.cancel",
        "command.change_plan",
        "command.agree_to_change",
    ],
)
def test_what_passes_accepts_or_ends_something_is_not_harmless(root: str) -> None:
    assert root in ROOTS
    assert not is_harmless(root)
