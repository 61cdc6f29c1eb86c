"""What waits for the other channel, for how long, and what comes out."""

from __future__ import annotations

import numpy as np
import pytest

from tests.session.talk import Talk
from voicelist.asr.utterance import DecodedUtterance
from voicelist.audio.levels import Levels
from voicelist.listening.channels import HEARD_OTHERWISE, NEITHER_NEARER
from voicelist.listening.crosstalk import (
    DECIDED_BEFORE,
    HELD_AT_MOST_S,
    NEARER_THERE,
    STILL_SPEAKING,
    ChannelProgress,
    Crosstalk,
)
from voicelist.session import events
from voicelist.session.events import Overheard, Voice
from voicelist.understanding.hypothesis import Hypothesis, Passes
from voicelist.understanding.interpretation import (
    NotForUs,
    NotUnderstood,
    Understanding,
    Understood,
)

RATE = 16_000
FIRM, LOOSE = "irrigation line firm", "irrigation line loose"
CHAT = "did you see the match"
TALK = Talk()


def samples(seconds: float) -> int:
    return round(seconds * RATE)


def said(
    channel: int, text: str, start_s: float, end_s: float, pause_s: float = 0.256
) -> DecodedUtterance:
    words = tuple(text.split())
    spans_s = ((start_s, end_s),) * len(words)
    return DecodedUtterance(
        channel,
        1,
        samples(start_s),
        samples(end_s),
        samples(end_s + pause_s),
        Passes((Hypothesis(words, spans_s),)),
    )


def meaning(
    sound: DecodedUtterance, known: Understanding | None = None
) -> tuple[Understanding, Voice]:
    voice = Voice("voice", channel=sound.channel, start_s=sound.start_sample / RATE)
    return known or TALK.hears(sound.passes.first[0].text), voice


def room(*ratios: tuple[float, float, float]) -> Levels:
    """From second, to second, how many dB channel 0 is louder; alike elsewhere."""
    levels, piece = Levels(), 512
    for at in range(0, samples(12.0), piece):
        louder_dB = next((dB for start, end, dB in ratios if start <= at / RATE < end), 0.0)
        first = np.full(piece, 1_000.0 * 10 ** (louder_dB / 20))
        levels.add(at, np.stack([first, np.full(piece, 1_000.0)]).astype(np.int16))
    return levels


def standing(reached_s: float, *open_from_s: float | None) -> list[ChannelProgress]:
    return [
        ChannelProgress(samples(reached_s), None if one is None else samples(one))
        for one in open_from_s
    ]


def everything(crosstalk: Crosstalk, channels: list[ChannelProgress]) -> list[events.Event]:
    found = []
    while (event := crosstalk.next(channels, meaning)) is not None:
        found.append(event)
    return found


def told(found: list[events.Event]) -> list[tuple[str, int | None, str]]:
    """Kind (taken, not understood, talk, not taken), channel and why."""
    kinds = {Understood: "taken", NotUnderstood: "not understood", NotForUs: "talk"}
    lines = []
    for one in found:
        assert isinstance(one, events.Utterance | Overheard)
        if isinstance(one, Overheard):
            lines.append(("not taken", one.voice.channel, one.why))
        else:
            why = getattr(one.understanding, "why", "")
            lines.append((kinds[type(one.understanding)], one.voice.channel, why))
    return lines


def test_one_channel_never_waits() -> None:
    crosstalk = Crosstalk(room(), TALK.case.room)
    crosstalk.add(said(0, FIRM, 1.0, 2.0))
    found = crosstalk.next([ChannelProgress(0, samples(1.5))], meaning)
    assert found is not None
    assert told([found]) == [("taken", 0, "")]
    assert not crosstalk.waiting


def test_where_the_other_channel_is_silent_nothing_waits() -> None:
    crosstalk = Crosstalk(room(), TALK.case.room)
    crosstalk.add(said(0, FIRM, 1.0, 2.0))
    assert told(everything(crosstalk, standing(2.256, None, None))) == [("taken", 0, "")]


def test_a_decision_waits_for_what_the_other_channel_has_not_yet_heard() -> None:
    crosstalk = Crosstalk(room(), TALK.case.room)
    crosstalk.add(said(0, FIRM, 1.0, 2.0))
    channels = [ChannelProgress(samples(2.256)), ChannelProgress(samples(2.05))]
    assert everything(crosstalk, channels) == []
    assert crosstalk.waiting
    channels[1] = ChannelProgress(samples(2.1))
    assert told(everything(crosstalk, channels)) == [("taken", 0, "")]


@pytest.mark.parametrize(
    ("louder_dB", "words", "decided"),
    [(12.0, FIRM, [0]), (-12.0, FIRM, [1]), (5.9, FIRM, [0, 1]), (12.0, LOOSE, [0, 1])],
)
def test_the_same_words_at_a_plainly_farther_microphone_are_not_decided_again(
    louder_dB: float, words: str, decided: list[int]
) -> None:
    asked: list[int] = []

    def noted(
        sound: DecodedUtterance, known: Understanding | None = None
    ) -> tuple[Understanding, Voice]:
        if known is None:
            asked.append(sound.channel)
        return meaning(sound, known)

    for first in (0, 1):
        crosstalk = Crosstalk(room((0.9, 2.2, louder_dB)), TALK.case.room)
        sounds = [said(0, FIRM, 1.0, 2.0), said(1, words, 1.0, 2.0)]
        crosstalk.add(sounds[first])
        crosstalk.add(sounds[1 - first])
        while crosstalk.next(standing(2.4, None, None), noted) is not None:
            pass
        assert sorted(asked) == decided
        asked.clear()


@pytest.mark.parametrize(("louder_dB", "near", "far"), [(12.0, 0, 1), (-12.0, 1, 0)])
def test_the_same_utterance_on_both_counts_once_and_both_are_told(
    louder_dB: float, near: int, far: int
) -> None:
    for first in (0, 1):
        crosstalk = Crosstalk(room((0.9, 2.2, louder_dB)), TALK.case.room)
        crosstalk.add(said(first, FIRM, 1.0, 2.0))
        still = [ChannelProgress(samples(2.3)), ChannelProgress(samples(2.3))]
        still[1 - first] = ChannelProgress(samples(2.3), samples(1.03))
        assert everything(crosstalk, still) == []
        crosstalk.add(said(1 - first, FIRM, 1.03, 2.03))
        found = told(everything(crosstalk, standing(2.35, None, None)))
        assert sorted(found) == [("not taken", far, NEARER_THERE), ("taken", near, "")]


def test_two_sentences_at_once_pass_nothing_and_one_of_them_asks_again() -> None:
    crosstalk = Crosstalk(room(), TALK.case.room)
    crosstalk.add(said(0, FIRM, 1.0, 2.0))
    crosstalk.add(said(1, LOOSE, 1.1, 2.1))
    found = told(everything(crosstalk, standing(2.4, None, None)))
    assert found == [("not taken", 1, NEITHER_NEARER), ("not understood", 0, NEITHER_NEARER)]


def test_different_words_pass_nothing_though_one_microphone_is_nearer() -> None:
    crosstalk = Crosstalk(room((0.0, 9.0, 12.0)), TALK.case.room)
    crosstalk.add(said(0, FIRM, 1.0, 2.0))
    crosstalk.add(said(1, LOOSE, 1.0, 2.0))
    found = told(everything(crosstalk, standing(2.4, None, None)))
    assert found == [("not taken", 1, HEARD_OTHERWISE), ("not understood", 0, HEARD_OTHERWISE)]


def test_talk_on_both_channels_is_talk_and_asks_nothing() -> None:
    crosstalk = Crosstalk(room(), TALK.case.room)
    crosstalk.add(said(0, CHAT, 1.0, 2.0))
    crosstalk.add(said(1, CHAT, 1.0, 2.0))
    found = told(everything(crosstalk, standing(2.4, None, None)))
    assert found == [("not taken", 1, NEARER_THERE), ("talk", 0, "")]


def test_utterances_one_after_the_other_both_count() -> None:
    crosstalk = Crosstalk(room(), TALK.case.room)
    crosstalk.add(said(0, FIRM, 1.0, 2.0))
    crosstalk.add(said(1, LOOSE, 1.9, 2.9))
    assert told(everything(crosstalk, standing(3.2, None, None))) == [
        ("taken", 0, ""),
        ("taken", 1, ""),
    ]


def test_no_decision_waits_longer_than_its_bound() -> None:
    decided_s = 2.256
    for louder_dB, expected in (
        (12.0, ("taken", 0, "")),
        (5.0, ("not taken", 0, STILL_SPEAKING)),
        (-12.0, ("not taken", 0, STILL_SPEAKING)),
    ):
        crosstalk = Crosstalk(room((0.0, 9.0, louder_dB)), TALK.case.room)
        crosstalk.add(said(0, FIRM, 1.0, 2.0))
        before = standing(decided_s + HELD_AT_MOST_S - 0.001, None, 0.5)
        assert everything(crosstalk, before) == []
        after = standing(decided_s + HELD_AT_MOST_S, None, 0.5)
        assert told(everything(crosstalk, after)) == [expected]


def test_what_is_decided_after_the_bound_is_not_waited_for_by_chance() -> None:
    """The same sound gives the same whether it was looked at sooner or later."""
    late = said(1, LOOSE, 0.5, 2.5)
    for at_once in (True, False):
        crosstalk = Crosstalk(room((0.0, 9.0, 12.0)), TALK.case.room)
        crosstalk.add(said(0, FIRM, 1.0, 2.0))
        found = [] if at_once else everything(crosstalk, standing(2.7, None, 0.5))
        crosstalk.add(late)
        found += everything(crosstalk, standing(3.0, None, None))
        assert told(found)[0] == ("taken", 0, "")
        assert told(found)[1:] == [("not understood", 1, HEARD_OTHERWISE)]


def test_the_same_utterance_that_ends_late_on_the_far_channel_is_told_and_not_taken() -> None:
    crosstalk = Crosstalk(room((0.0, 9.0, 12.0)), TALK.case.room)
    crosstalk.add(said(0, FIRM, 1.0, 2.0))
    found = everything(crosstalk, standing(2.7, None, 1.0))
    crosstalk.add(said(1, FIRM, 1.0, 2.1, pause_s=0.704))
    found += everything(crosstalk, standing(3.0, None, None))
    assert told(found) == [("taken", 0, ""), ("not taken", 1, DECIDED_BEFORE)]


@pytest.mark.parametrize("text", [FIRM, LOOSE, "irrigation line the"])
def test_what_comes_too_late_leaves_no_words(text: str) -> None:
    """They may be of a statement of which nothing may be kept, while the case has gone on."""
    crosstalk = Crosstalk(room((0.0, 9.0, 12.0)), TALK.case.room)
    crosstalk.add(said(0, FIRM, 1.0, 2.0))
    everything(crosstalk, standing(2.7, None, 1.0))
    crosstalk.add(said(1, text, 1.0, 2.1, pause_s=0.704))
    (late,) = everything(crosstalk, standing(3.0, None, None))
    assert isinstance(late, events.Utterance | Overheard)
    assert late.understanding.words == ()
    assert (late.voice.alternatives, late.voice.second_look) == ((), "")


def test_what_was_set_aside_does_not_stand_in_the_way_of_the_nearer_microphone() -> None:
    crosstalk = Crosstalk(room((0.0, 9.0, -12.0)), TALK.case.room)
    crosstalk.add(said(0, FIRM, 1.0, 2.0))
    found = everything(crosstalk, standing(2.7, None, 1.0))
    crosstalk.add(said(1, FIRM, 1.0, 2.1, pause_s=0.704))
    found += everything(crosstalk, standing(3.0, None, None))
    assert told(found) == [("not taken", 0, STILL_SPEAKING), ("taken", 1, "")]


def test_what_was_set_aside_and_said_otherwise_makes_the_later_one_doubtful() -> None:
    crosstalk = Crosstalk(room((0.0, 9.0, -12.0)), TALK.case.room)
    crosstalk.add(said(0, LOOSE, 1.0, 2.0))
    found = everything(crosstalk, standing(2.7, None, 1.0))
    crosstalk.add(said(1, FIRM, 1.0, 2.1, pause_s=0.704))
    found += everything(crosstalk, standing(3.0, None, None))
    assert told(found) == [
        ("not taken", 0, STILL_SPEAKING),
        ("not understood", 1, HEARD_OTHERWISE),
    ]


def test_two_near_answers_within_one_long_far_utterance_both_count() -> None:
    crosstalk = Crosstalk(room((0.0, 9.0, -12.0)), TALK.case.room)
    far = said(0, f"{FIRM} {CHAT}", 1.0, 4.0)
    crosstalk.add(said(1, FIRM, 1.0, 2.0))
    found = everything(crosstalk, standing(2.7, 1.0, None))
    crosstalk.add(said(1, FIRM, 3.0, 4.0))
    crosstalk.add(far)
    found += everything(crosstalk, standing(4.4, None, None))
    assert told(found) == [
        ("taken", 1, ""),
        ("not taken", 0, NEARER_THERE),
        ("taken", 1, ""),
    ]


def test_an_end_of_the_sound_waits_for_nothing() -> None:
    crosstalk = Crosstalk(room(), TALK.case.room)
    crosstalk.add(said(0, FIRM, 1.0, 2.0, pause_s=0.0))
    channels = standing(2.0, None, None)
    assert crosstalk.next(channels, meaning) is None
    assert crosstalk.next(channels, meaning, over=True) is not None


def test_sound_without_words_is_not_told() -> None:
    crosstalk = Crosstalk(room(), TALK.case.room)
    crosstalk.add(said(0, "", 1.0, 2.0))
    assert everything(crosstalk, standing(2.4, None, None)) == []
    assert not crosstalk.waiting
