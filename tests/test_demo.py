"""The practice case, really decoded, from the shipped sound."""

from __future__ import annotations

import json

import pytest

from tests.command import Command, voicelist
from voicelist.hearing.model import ModelPlace

__all__ = ["voicelist"]


@pytest.fixture
def told(voicelist: Command, speech_model: ModelPlace) -> tuple[Command, str]:
    answer = voicelist("demo", "--voice", "none")
    assert answer.code == 0, answer.text
    return voicelist, answer.out


def test_the_practice_case_is_completed_by_what_is_heard(told: tuple[Command, str]) -> None:
    voicelist, text = told
    for expected in (
        "Vacuum is 500; the card says 350.",
        "vacuum three fifty",
        "Reported; it stays open.",
        "aspiration line firm",
        "Taken back: the sleeve.",
        "Left for later.",
        "reflux control found",
        "I heard right. The plan differs. Please check again.",
        "marked eye left",
        "(talk, not for us)",
        "PRACTICE",
    ):
        assert expected in text
    assert "Once more, please." in text or "Did you mean" in text
    (case,) = json.loads(voicelist("record", "list", "--practice", "--json").out)
    assert (case["source"], case["state"]) == ("practice", "completed")
    assert voicelist("record", "verify", case["case"], "--practice").code == 0
    assert voicelist("record", "list", "--json").out.strip() == "[]"
    assert "PRACTICE" in voicelist("record", "show", case["case"], "--practice").out
