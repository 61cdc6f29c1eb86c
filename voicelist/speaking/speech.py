"""What may be spoken, as samples and as text, and what became of it."""

from __future__ import annotations

import re
from dataclasses import dataclass

RATE_HZ = 16_000
BYTES_A_SAMPLE = 2
TEXT_AT_MOST = 500

_SENTENCE_END = re.compile(r"(?<=[.?!;])\s+")


@dataclass(frozen=True, slots=True)
class Speech:
    """Text fit for a voice: 1 to 500 characters in one line, with a letter or digit among them.

    Anything else raises ValueError: some voices crash on text without a sound.
    """

    text: str

    def __post_init__(self) -> None:
        if not any(character.isalnum() for character in self.text):
            raise ValueError(
                f"nothing to speak in {self.text!r}: give at least one letter or digit"
            )
        if len(self.text) > TEXT_AT_MOST:
            raise ValueError(
                f"{len(self.text)} characters are too many to speak at once; at most {TEXT_AT_MOST}"
            )
        if not self.text.isprintable():
            raise ValueError(f"{self.text!r} holds control characters; give plain text")

    @classmethod
    def of(cls, text: str) -> Speech:
        """Text as people write it: line breaks and runs of blanks become single blanks."""
        return cls(" ".join(text.split()))

    def sentences(self) -> tuple[str, ...]:
        """The sentences in order; a piece without letter or digit stays with the one before."""
        found: list[str] = []
        for piece in _SENTENCE_END.split(self.text):
            if (found and not any(character.isalnum() for character in piece)) or (
                found and not any(character.isalnum() for character in found[-1])
            ):
                found[-1] = f"{found[-1]} {piece}"
            else:
                found.append(piece)
        return tuple(found)


@dataclass(frozen=True, slots=True)
class Sound:
    """Mono sound: 16-bit little-endian samples at 16 kHz."""

    pcm: bytes

    @property
    def seconds(self) -> float:
        return len(self.pcm) / BYTES_A_SAMPLE / RATE_HZ

    def first(self, seconds: float) -> Sound:
        """The beginning, up to `seconds`."""
        return Sound(self.pcm[: round(seconds * RATE_HZ) * BYTES_A_SAMPLE])


def silence(seconds: float) -> Sound:
    """Nothing to hear, for so long."""
    return Sound(bytes(round(seconds * RATE_HZ) * BYTES_A_SAMPLE))


@dataclass(frozen=True, slots=True)
class Spoken:
    """What became of one `say`.

    `seconds` is the length of the sound that was made (up to the interruption, if there was one),
    gaps between sentences included; `played` says whether all of it was played; `problem` is one
    plain sentence if something failed.
    """

    text: str
    seconds: float
    played: bool
    problem: str | None
