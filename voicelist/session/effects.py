"""What the pure machine wants done, in order. The loop does it."""

from __future__ import annotations

from dataclasses import dataclass

from voicelist.session.record_base import Record


@dataclass(frozen=True, slots=True)
class Keep:
    """Make a record durable before anything after it is said or shown."""

    record: Record


@dataclass(frozen=True, slots=True)
class Say:
    """Speak a sentence (and show it)."""

    text: str


@dataclass(frozen=True, slots=True)
class Tone:
    """The one short soft tone: an answer was taken."""


@dataclass(frozen=True, slots=True)
class Show:
    """Show a line without speaking. `kind` is ignored, waiting, source, remedy, read-back or
    notice."""

    kind: str
    text: str


@dataclass(frozen=True, slots=True)
class Adjust:
    """Speak like this from now on: steps from the usual pace and level."""

    pace: int
    level: int


@dataclass(frozen=True, slots=True)
class Finish:
    """The case is closed; leave the loop."""


Effect = Keep | Say | Tone | Show | Adjust | Finish
