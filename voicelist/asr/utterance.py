"""What hearing hands on: one endpointed utterance with its alternatives, in samples and words."""

from __future__ import annotations

from dataclasses import dataclass

from voicelist.audio.samples import SAMPLE_RATE_HZ


@dataclass(frozen=True, slots=True)
class Word:
    """One recognised word; times in seconds of its channel's sound since the stream began."""

    text: str
    start_s: float
    end_s: float


@dataclass(frozen=True, slots=True)
class Alternative:
    """One hypothesis; `score` is the recogniser's (higher is better), comparable within one
    utterance only. `before_s` and `behind_s` are seconds of speech before its first and behind its
    last word; so many of its first and of its last words are as faint as the background, which
    is talk where it was said `amid_talk`. `loud_around` where what is heard around the words is
    hardly fainter than they are."""

    words: tuple[Word, ...]
    score: float
    before_s: float = 0.0
    behind_s: float = 0.0
    faint_before: int = 0
    faint_behind: int = 0
    amid_talk: bool = False
    loud_around: bool = False

    @property
    def text(self) -> str:
        return " ".join(word.text for word in self.words)


@dataclass(frozen=True, slots=True)
class Utterance:
    """Sound between two silences on one channel, decoded under grammar number `grammar_no`.

    Sample positions count the channel's 16 kHz samples since the stream began. `second_look`
    holds the alternatives of a second look at the same sound (empty if there was none). `decode_s`
    is computing time. `in_noise` where speech stands out so little that words may be mistaken for
    others.
    """

    channel: int
    grammar_no: int
    start_sample: int
    end_sample: int
    decided_sample: int
    alternatives: tuple[Alternative, ...]
    second_look: tuple[Alternative, ...]
    decode_s: float
    in_noise: bool = False

    @property
    def speech_end_s(self) -> float:
        return self.end_sample / SAMPLE_RATE_HZ

    @property
    def decided_at_s(self) -> float:
        return self.decided_sample / SAMPLE_RATE_HZ
