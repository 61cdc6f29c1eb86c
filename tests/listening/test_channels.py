"""Two utterances at the same time: which counts. Limits are project choices, stated beside them."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as some

from tests.session.talk import Talk
from voicelist.listening.channels import (
    HEARD_OTHERWISE,
    NEITHER_NEARER,
    ChannelChoice,
    Judgement,
    PLAINLY_LOUDER_dB,
    judge,
    shared_span,
    together,
)
from voicelist.session.events import Overheard, Voice
from voicelist.session.records import Heard
from voicelist.understanding.interpretation import (
    Denied,
    NotForUs,
    NotUnderstood,
    Understanding,
    Understood,
)

RATE = 16_000
TALK = Talk()
ROOM = TALK.case.room

FIRM = TALK.hears("irrigation line firm")
FIRM_ALSO = TALK.hears("irrigation line on and firm")
LOOSE = TALK.hears("irrigation line loose")
NOT_FIRM = TALK.hears("irrigation line not firm")
GARBLED = TALK.hears("irrigation line the")
DOUBTED = TALK.hears("irrigation line maybe firm")
CHAT = TALK.hears("did you see the match")
HOLD_ON = TALK.hears("hold on please")
EVERYTHING = (FIRM, FIRM_ALSO, LOOSE, NOT_FIRM, GARBLED, DOUBTED, CHAT, HOLD_ON)


def test_the_examples_are_what_they_are_called() -> None:
    kinds = [type(one) for one in EVERYTHING]
    expected = [
        *(Understood, Understood, Understood, Denied),
        *(NotUnderstood, NotUnderstood, NotForUs, Understood),
    ]
    assert kinds == expected


def passes(ours: Understanding, theirs: Understanding, louder_dB: float) -> list[Understanding]:
    """What may be taken as understood of the two."""
    choice = judge(ours, theirs, louder_dB, ROOM).choice
    taken = {ChannelChoice.OURS: ours, ChannelChoice.THEIRS: theirs}.get(choice)
    return [taken] if isinstance(taken, Understood | Denied) else []


@pytest.mark.parametrize("louder_dB", [6.0, 12.0, 40.0])
def test_the_same_words_count_for_the_plainly_louder_channel(louder_dB: float) -> None:
    assert judge(FIRM, FIRM_ALSO, louder_dB, ROOM) == Judgement(ChannelChoice.OURS)
    assert judge(FIRM, FIRM_ALSO, -louder_dB, ROOM) == Judgement(ChannelChoice.THEIRS)


@pytest.mark.parametrize("louder_dB", [-5.9, -1.0, 0.0, 1.0, 5.9])
def test_below_the_limit_nothing_passes_not_even_the_same_words(louder_dB: float) -> None:
    assert judge(FIRM, FIRM, louder_dB, ROOM) == Judgement(ChannelChoice.NONE, NEITHER_NEARER)
    assert judge(FIRM, CHAT, louder_dB, ROOM) == Judgement(ChannelChoice.NONE, NEITHER_NEARER)


def test_different_meanings_pass_nothing_however_loud_one_is() -> None:
    for far in (LOOSE, NOT_FIRM, DOUBTED, HOLD_ON):
        assert judge(FIRM, far, 30.0, ROOM) == Judgement(ChannelChoice.NONE, HEARD_OTHERWISE)
        assert judge(far, FIRM, -30.0, ROOM) == Judgement(ChannelChoice.NONE, HEARD_OTHERWISE)


@pytest.mark.parametrize("far", [GARBLED, CHAT])
def test_an_answer_close_by_counts_though_the_far_microphone_made_nothing_of_it(
    far: Understanding,
) -> None:
    assert passes(FIRM, far, 12.0) == [FIRM]


@pytest.mark.parametrize("near", [GARBLED, DOUBTED, CHAT])
def test_what_only_the_farther_microphone_took_for_an_answer_does_not_pass(
    near: Understanding,
) -> None:
    assert passes(near, FIRM, 12.0) == []


def test_a_call_for_quiet_is_obeyed_wherever_it_was_heard() -> None:
    assert judge(HOLD_ON, HOLD_ON, 0.0, ROOM).choice is ChannelChoice.OURS


@given(
    some.sampled_from(EVERYTHING),
    some.sampled_from(EVERYTHING),
    some.floats(-60.0, 60.0, allow_nan=False).filter(bool),
)
def test_the_order_of_the_channels_does_not_matter(
    ours: Understanding, theirs: Understanding, louder_dB: float
) -> None:
    other_way = {
        ChannelChoice.OURS: ChannelChoice.THEIRS,
        ChannelChoice.THEIRS: ChannelChoice.OURS,
        ChannelChoice.NONE: ChannelChoice.NONE,
    }
    here, there = judge(ours, theirs, louder_dB, ROOM), judge(theirs, ours, -louder_dB, ROOM)
    assert (there.choice, there.why) == (other_way[here.choice], here.why)


@given(
    some.sampled_from([one for one in EVERYTHING if one is not HOLD_ON]),
    some.sampled_from([one for one in EVERYTHING if one is not HOLD_ON]),
    some.floats(-60.0, 60.0, allow_nan=False),
)
def test_what_passes_was_plainly_louder(
    ours: Understanding, theirs: Understanding, louder_dB: float
) -> None:
    for taken in passes(ours, theirs, louder_dB):
        nearer = ours if louder_dB >= 0 else theirs
        assert taken is nearer
        assert abs(louder_dB) >= PLAINLY_LOUDER_dB


def test_numbers_that_differ_are_different_meanings() -> None:
    talk = Talk("settings")
    talk.says("clinical grade three")
    fifty, fifteen = talk.hears("vacuum three fifty"), talk.hears("vacuum three fifteen")
    assert isinstance(fifty, Understood)
    assert isinstance(fifteen, Understood)
    assert judge(fifty, fifteen, 20.0, ROOM).why == HEARD_OTHERWISE
    other_words = talk.hears("vacuum three hundred and fifty")
    assert judge(fifty, other_words, 20.0, ROOM).choice is ChannelChoice.OURS


@pytest.mark.parametrize(
    ("theirs_s", "shared"),
    [
        ((1.0, 2.0), True),  # the same span
        ((1.003, 2.003), True),  # 3 ms later
        ((1.8, 3.0), True),  # exactly 0.2 s are shared
        ((1.81, 3.0), False),  # less: one after the other
        ((2.0, 3.0), False),
        ((3.0, 4.0), False),
        ((1.4, 1.6), True),  # a short word within a long sentence
        ((1.9, 2.1), True),  # half of the shorter one
        ((1.91, 2.11), False),
    ],
)
def test_utterances_are_at_the_same_time_from_a_fifth_of_a_second_or_half_of_the_shorter(
    theirs_s: tuple[float, float], shared: bool
) -> None:
    ours = (RATE, 2 * RATE)
    theirs = (round(theirs_s[0] * RATE), round(theirs_s[1] * RATE))
    found = shared_span(ours, theirs, RATE)
    assert (found is not None) == shared
    assert found == shared_span(theirs, ours, RATE)
    if found is not None:
        assert ours[0] <= found[0] < found[1] <= ours[1]


def test_an_utterance_without_length_is_at_no_time() -> None:
    assert shared_span((RATE, RATE), (0, 2 * RATE), RATE) is None


def test_among_several_one_doubt_is_enough() -> None:
    ours, theirs = Judgement(ChannelChoice.OURS), Judgement(ChannelChoice.THEIRS)
    doubt = Judgement(ChannelChoice.NONE, HEARD_OTHERWISE)
    assert together([]) == ours
    assert together([ours, ours]) == ours
    assert together([theirs]) == theirs
    assert together([ours, doubt]) == doubt
    assert together([ours, theirs]).choice is ChannelChoice.NONE


def test_what_is_overheard_is_kept_and_changes_nothing() -> None:
    talk = Talk()
    before, records = talk.state, len(talk.records)
    voice = Voice("voice", "surgeon", "channel", 1, ("irrigation line firm",))
    assert talk.take(Overheard(FIRM, voice, "nearer there")) == []
    (kept,) = talk.records[records:]
    assert isinstance(kept, Heard)
    assert (kept.status, kept.words, kept.rule) == ("not-taken", "irrigation line firm", "")
    assert (kept.why, kept.channel, kept.role) == ("nearer there", 1, "surgeon")
    assert talk.state == before


def test_overheard_talk_leaves_no_words() -> None:
    talk = Talk()
    talk.take(Overheard(CHAT, Voice("voice", channel=1, alternatives=("did you",)), "nearer there"))
    kept = talk.records[-1]
    assert isinstance(kept, Heard)
    assert (kept.status, kept.words, kept.alternatives) == ("not-taken", "", ())
