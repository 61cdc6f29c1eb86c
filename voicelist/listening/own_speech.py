"""What the assistant says, beside what is heard: an answer begins after its own call and is heard
whole, and the assistant's own words are nobody's answer.

Pure; positions count samples of the room's sound. Where the microphone is gated its own words
hardly come in; where it is not (a headset, or the system cancels the echo), they are told by when
they were sounded and by what was being said.
"""

from __future__ import annotations

import re
from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from voicelist.asr.utterance import DecodedUtterance
from voicelist.audio.samples import SAMPLE_RATE_HZ
from voicelist.understanding.hypothesis import Words
from voicelist.understanding.interpretation import (
    NotForUs,
    NotUnderstood,
    Understanding,
    Understood,
)

if TYPE_CHECKING:
    from voicelist.listening.sound import Piece

BEFORE_CALL = "it was begun before the assistant had spoken"
BEGINNING_MISSED = "the assistant spoke into its beginning"
INTO_CALL = "it was begun before the question was over, and does not name the thing"
OWN_WORDS = "the assistant heard itself"

# Whoever speaks into a call makes it fall silent within about 0.4 s, and goes on for longer than
# this behind it; what comes in of its own voice, with the delay of the devices and the echo of the
# room, does not. Project choice.
BEHIND_OWN_S = 0.35
# Of a call that has almost been said the question is known. Project choice.
_ALMOST_SAID_S = 0.3
_REMEMBERED = 4
_WORD = re.compile(r"[\w']+")


@dataclass(frozen=True, slots=True)
class Saying:
    """One thing that the assistant said: its words, and between which samples it was heard; None
    while it is. `open_microphone`: no gate was closed meanwhile."""

    words: Words
    first_sample: int
    end_sample: int | None = None
    open_microphone: bool = False


@dataclass(slots=True)
class OwnSpeech:
    """Takes what is said and the pieces that are heard; judges what an utterance amounts to.

    `is_harmless` tells of a rule whether it passes nothing, `names_thing` of an answer whether it
    could be said without its call.
    """

    is_harmless: Callable[[str], bool]
    names_thing: Callable[[Words, str], bool]
    heard_itself: int = 0
    _sayings: deque[Saying] = field(default_factory=lambda: deque(maxlen=_REMEMBERED))
    _said_at: int = 0
    _opened: tuple[int, int] = (0, 0)

    def says(self, text: str, at_sample: int, *, open_microphone: bool) -> None:
        """The assistant begins to say something."""
        words = words_of(text)
        self._sayings.append(Saying(words, at_sample, None, open_microphone))
        self._said_at = max(self._said_at, at_sample)

    def said(self, at_sample: int) -> None:
        """It is over, or was cut off."""
        if self._sayings:
            last = self._sayings.pop()
            self._sayings.append(
                Saying(last.words, last.first_sample, at_sample, last.open_microphone)
            )

    def take(self, piece: Piece) -> None:
        """A piece from behind the gate."""
        end = piece.first_sample + piece.samples.shape[1]
        if piece.before_speech:
            self._said_at = max(self._said_at, end)
        if piece.whole_from is not None:
            self._opened = piece.first_sample, piece.whole_from

    def judged(self, sound: DecodedUtterance, heard: Understanding) -> Understanding:
        """What is heard amounts to, by when it was said; doubt passes nothing."""
        if isinstance(heard, NotForUs):
            return heard
        why = self._doubt(sound, heard)
        if why == OWN_WORDS:
            self.heard_itself += 1
            return NotForUs(())
        if not why or self._passes_nothing(heard):
            return heard
        # Without its words: they belong to a place at which the case no longer stands.
        return NotUnderstood((), why)

    def _passes_nothing(self, heard: Understanding) -> bool:
        if not isinstance(heard, Understood):
            return False
        return all(self.is_harmless(one.rule) for one in heard.matches)

    def _doubt(self, sound: DecodedUtterance, heard: Understanding) -> str:
        beside = [one for one in self._sayings if _beside(one, sound)]
        spoken = tuple(word for one in beside for word in one.words)
        brief = _behind_s(beside, sound) < BEHIND_OWN_S
        if beside and brief and _all_in(heard.words, spoken):
            return OWN_WORDS
        if sound.start_sample < self._said_at:
            return BEFORE_CALL
        opened, whole_from = self._opened
        if opened <= sound.start_sample < whole_from:
            return OWN_WORDS if _all_in(heard.words, self._last_words) else BEGINNING_MISSED
        if not any(one.open_microphone for one in beside):
            return ""
        if brief:
            return BEGINNING_MISSED
        early = any(_into(one, sound) for one in beside)
        return INTO_CALL if early and not self._is_whole(heard) else ""

    @property
    def _last_words(self) -> Words:
        return self._sayings[-1].words if self._sayings else ()

    def _is_whole(self, heard: Understanding) -> bool:
        if not isinstance(heard, Understood):
            return False
        return all(self.names_thing(one.words, one.rule) for one in heard.matches)


def words_of(text: str) -> Words:
    """The words of a sentence as it is spoken, in small letters."""
    return tuple(_WORD.findall(text.lower()))


def _all_in(words: Sequence[str], spoken: Sequence[str]) -> bool:
    """Whether words are among others in the same order."""
    rest = iter(spoken)
    return all(word in rest for word in words)


def _beside(one: Saying, sound: DecodedUtterance) -> bool:
    end = one.end_sample
    begun = sound.end_sample > one.first_sample
    return begun and (end is None or sound.start_sample < end + _samples(BEHIND_OWN_S))


def _into(one: Saying, sound: DecodedUtterance) -> bool:
    end = one.end_sample
    return end is None or sound.start_sample < end - _samples(_ALMOST_SAID_S)


def _behind_s(beside: Sequence[Saying], sound: DecodedUtterance) -> float:
    """How long an utterance went on when nothing was said any more."""
    if any(one.end_sample is None for one in beside):
        return 0.0
    end = max((one.end_sample or 0 for one in beside), default=0)
    return (sound.end_sample - end) / SAMPLE_RATE_HZ


def _samples(seconds: float) -> int:
    return round(seconds * SAMPLE_RATE_HZ)
