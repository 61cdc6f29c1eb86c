"""The surgeon accepts what does not fit, in words of one's own. The wordings are invented; that an
acceptance is the surgeon's, of what was read back, is the design's rule."""

from __future__ import annotations

import pytest

from tests.session.plain_talk import PlainTalk
from voicelist.session import records as rec

SURGEON = "surgeon"


def at_a_mismatch() -> PlainTalk:
    """The vacuum is far from the card's, and was read back."""
    talk = PlainTalk("settings", "practice-101")
    talk.says("clinical grade three")
    while talk.state.current != "quadrant-profile":
        talk.says("come back to this later")
    talk.says("power forty vacuum four hundred flow thirty two pulses thirty", role=SURGEON)
    assert talk.state.pending is not None
    assert talk.state.pending.about == "mismatch"
    assert talk.state.pending.findings[0]["quantity"] == "vacuum_mmHg"
    return talk


def accepted(talk: PlainTalk) -> list[tuple[str, str]]:
    return [(one.quantity, one.reason) for one in talk.records if isinstance(one, rec.Accepted)]


@pytest.mark.parametrize(
    ("words", "reason"),
    [
        ("surgeon accepts the vacuum because of a shallow chamber", "a shallow chamber"),
        ("surgeon accepts that shallow chamber", "shallow chamber"),
        ("the surgeon accepts it", ""),
        ("surgeon accepts all", ""),
        ("okay surgeon accepts vacuum due to a very deep chamber", "a very deep chamber"),
        ("surgeon accepts the vacuum because of a dense lens", "a dense lens"),
    ],
)
def test_the_reason_is_kept_as_it_was_said_or_none_is(words: str, reason: str) -> None:
    talk = at_a_mismatch()
    talk.says(words)
    assert accepted(talk) == [("vacuum_mmHg", reason)]


@pytest.mark.parametrize("words", ["i accept that shallow chamber", "accepted", "accept it"])
def test_without_the_word_surgeon_it_counts_from_the_surgeons_microphone_alone(words: str) -> None:
    talk = at_a_mismatch()
    assert talk.says(words) == ["Surgeon, please."]
    assert accepted(talk) == []
    assert talk.says(words, role="circulating-nurse") == ["Surgeon, please."]
    assert accepted(talk) == []
    talk.says(words, role=SURGEON)
    assert [one for one, _ in accepted(talk)] == ["vacuum_mmHg"]


@pytest.mark.parametrize(
    "words",
    [
        "surgeon accepts nothing",
        "surgeon does not accept that",
        "surgeon accepts that if it holds",
        "surgeon accepts the vacuum power fifty",
        "surgeon accepts the vacuum but lower",
        "does the surgeon accept that",
        "surgeon accepts it is too high",
        "surgeon accepted that yesterday",
        "surgeon might accept that",
        "surgeon accepts the flow",
    ],
)
def test_a_denial_doubt_number_or_other_setting_accepts_nothing(words: str) -> None:
    talk = at_a_mismatch()
    talk.says(words, role=SURGEON)
    assert accepted(talk) == []
    assert talk.state.pending is not None
