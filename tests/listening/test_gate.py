"""The gate: nothing of the assistant comes through, and no word of a person is lost at its edges.

The sound is made up: a room's noise, the assistant's voice with an echo that dies away by 60 dB in
a given time (the definition of reverberation time, ISO 3382), and a person's voice.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from voicelist.listening.gate import MicrophoneGate, Sounded

RATE_HZ = 16_000
NS = 1_000_000_000
BLOCK = 320
FLOOR, VOICE = 10.0, 3_000.0
BEGINS_S, ENDS_S = 2.0, 4.0


def noise(seconds: float, level: float, seed: int) -> np.ndarray:
    return np.random.default_rng(seed).normal(0, level, round(seconds * RATE_HZ))


def room(echo_s: float, *, seconds: float = 6.0, own_dB: float = 0.0, seed: int = 1) -> np.ndarray:
    """A quiet room in which the assistant speaks from BEGINS_S to ENDS_S."""
    at = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    own = noise(seconds, VOICE * 10 ** (own_dB / 20), seed)
    own[(at < BEGINS_S) | (at >= ENDS_S)] = 0
    if echo_s > 0.01:
        after = at >= ENDS_S
        own[after] = noise(seconds, VOICE * 10 ** (own_dB / 20), seed)[after]
        own[after] *= 10 ** (-60 / 20 * (at[after] - ENDS_S) / echo_s)
    return noise(seconds, FLOOR, seed + 1) + own


def speak(sound: np.ndarray, from_s: float, seconds: float, level: float = VOICE) -> None:
    """Somebody speaks; softly for the first 60 ms, as words begin."""
    first = round(from_s * RATE_HZ)
    voice = noise(seconds, level, 7)
    voice[: round(0.06 * RATE_HZ)] *= 0.25
    sound[first : first + len(voice)] += voice


def through(
    sound: np.ndarray, *, told_s: float = 0.0, gate: MicrophoneGate | None = None
) -> list[Sounded]:
    """What comes out. The end of speech is told so long after it was heard."""
    gate, out, told = gate or MicrophoneGate(), [], False
    samples = np.clip(sound, -32_768, 32_767).astype(np.int16)
    for first in range(0, len(samples) - BLOCK, BLOCK):
        at_s = first / RATE_HZ
        if at_s >= BEGINS_S and at_s - BLOCK / RATE_HZ < BEGINS_S:
            gate.speech_begins(round(BEGINS_S * NS))
        if at_s >= ENDS_S + told_s and not told:
            told = True
            out += gate.speech_ended(round(ENDS_S * NS))
        one = Sounded(first, samples[None, first : first + BLOCK], round(at_s * NS))
        out += gate.feed(one)
    return out


def opened_s(out: list[Sounded]) -> float:
    (first,) = [one.first_sample for one in out if one.whole_from is not None]
    return first / RATE_HZ - ENDS_S


def whole_from_s(out: list[Sounded]) -> float:
    (sample,) = [one.whole_from for one in out if one.whole_from is not None]
    assert sample is not None
    return sample / RATE_HZ - ENDS_S


@settings(max_examples=40, deadline=None)
@given(
    echo_s=st.floats(0, 1.2),
    own_dB=st.floats(-30, 10),
    told_s=st.floats(0, 0.4),
    seed=st.integers(0, 99),
)
def test_nothing_is_handed_out_while_the_assistant_is_heard_and_all_else_is(
    echo_s: float, own_dB: float, told_s: float, seed: int
) -> None:
    out = through(room(echo_s, own_dB=own_dB, seed=seed), told_s=told_s)
    for one in out:
        at_s = one.first_sample / RATE_HZ
        assert at_s + BLOCK / RATE_HZ <= BEGINS_S or at_s >= ENDS_S
    assert 0.0 <= opened_s(out) <= 0.27
    firsts = [one.first_sample for one in out]
    assert firsts == sorted(set(firsts))
    before = [one for one in firsts if one + BLOCK <= BEGINS_S * RATE_HZ]
    behind = [one for one in firsts if one >= ENDS_S * RATE_HZ]
    for some in (before, behind):
        assert np.array_equal(np.diff(some), np.full(len(some) - 1, BLOCK)), "there is a hole"
    # In a room without an echo it opens at once.
    assert echo_s > 0.01 or opened_s(out) < 0.03


@settings(max_examples=40, deadline=None)
@given(
    after_and_echo_s=st.one_of(
        st.tuples(st.floats(0.16, 0.4), st.just(0.0)),
        st.tuples(st.floats(0.21, 0.4), st.floats(0, 0.8)),
    ),
    told_s=st.floats(0, 0.4),
)
def test_an_answer_soon_after_a_call_loses_nothing_and_counts_as_whole(
    after_and_echo_s: tuple[float, float], told_s: float
) -> None:
    after_s, echo_s = after_and_echo_s
    sound = room(echo_s, own_dB=-10)
    speak(sound, ENDS_S + after_s, 1.0)
    out = through(sound, told_s=told_s)
    # Of the soft beginning a little may be missing where the echo hides it.
    assert opened_s(out) <= after_s + 0.02
    assert whole_from_s(out) <= after_s + 0.02


@pytest.mark.parametrize("echo_s", [0.0, 0.3, 0.8])
@pytest.mark.parametrize(("dip_at_s", "dip_s"), [(0.02, 0.06), (0.06, 0.06), (0.15, 0.2)])
def test_one_begun_before_the_assistant_had_ended_is_not_taken_for_whole(
    echo_s: float, dip_at_s: float, dip_s: float
) -> None:
    """ "Not firm" of which "not" was spoken over, and the gate would open between the two words."""
    sound = room(echo_s)
    speak(sound, ENDS_S - 0.3, 0.3 + dip_at_s)
    rest_s = ENDS_S + dip_at_s + dip_s
    speak(sound, rest_s, 0.4)
    assert whole_from_s(through(sound)) > rest_s - ENDS_S - 0.02


def test_with_a_headset_even_an_answer_at_once_counts_as_whole() -> None:
    """Nothing of the assistant is heard, so it is known that nobody had begun before."""
    sound = room(0.0, own_dB=-80)
    speak(sound, ENDS_S + 0.03, 1.0)
    assert whole_from_s(through(sound, told_s=0.1)) <= 0.0
    begun_before = room(0.0, own_dB=-80)
    speak(begun_before, ENDS_S - 0.3, 0.28)
    speak(begun_before, ENDS_S + 0.03, 1.0)
    assert whole_from_s(through(begun_before, told_s=0.1)) > 0.03


def test_two_sentences_without_a_pause_for_an_answer_are_one() -> None:
    gate, samples = MicrophoneGate(), room(0.0).astype(np.int16)
    out: list[Sounded] = []
    for first in range(0, len(samples) - BLOCK, BLOCK):
        at_ns = round(first / RATE_HZ * NS)
        if first == round(BEGINS_S * RATE_HZ):
            gate.speech_begins(at_ns)
        if first == round(3.0 * RATE_HZ):
            # Nothing is fed between the end of the first and the beginning of the second.
            out += gate.speech_ended(at_ns)
            gate.speech_begins(at_ns)
        if first == round(ENDS_S * RATE_HZ):
            out += gate.speech_ended(at_ns)
        out += gate.feed(Sounded(first, samples[None, first : first + BLOCK], at_ns))
    assert sum(one.whole_from is not None for one in out) == 1
    assert opened_s(out) < 0.03


def test_what_was_sounded_before_speech_is_marked_however_late_it_is_read() -> None:
    gate = MicrophoneGate()
    gate.speech_begins(NS)
    (late,) = gate.feed(Sounded(0, np.ones((1, BLOCK), np.int16), NS // 2))
    assert late.before_speech
    assert not gate.feed(Sounded(RATE_HZ, np.ones((1, BLOCK), np.int16), NS))
