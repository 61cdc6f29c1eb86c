"""What the loop tells the machine."""

from __future__ import annotations

from dataclasses import dataclass

from voicelist.understanding.interpretation import Understanding


@dataclass(frozen=True, slots=True)
class Begin:
    """The team is ready: open the case, or go on where the journal ends."""


@dataclass(frozen=True, slots=True)
class Voice:
    """Who and what was heard, besides its meaning; `again` where it was doubtful and was heard more
    than once, and by a `witness`. Times in seconds of the channel's sound."""

    by: str = "typed"
    role: str = ""
    role_known_by: str = ""
    channel: int | None = None
    alternatives: tuple[str, ...] = ()
    second_look: str = ""
    again: tuple[str, ...] = ()
    witness: str = ""
    start_s: float | None = None
    end_s: float | None = None
    decided_s: float | None = None


@dataclass(frozen=True, slots=True)
class Utterance:
    """Somebody spoke or typed."""

    understanding: Understanding
    voice: Voice


@dataclass(frozen=True, slots=True)
class Overheard:
    """An utterance that does not count beside another one at the same time; `why` says so."""

    understanding: Understanding
    voice: Voice
    why: str


@dataclass(frozen=True, slots=True)
class Silence:
    """Nobody has spoken to us for `seconds`; `spoken_into` if the call was broken off because
    somebody spoke."""

    seconds: float
    spoken_into: bool = False


@dataclass(frozen=True, slots=True)
class Equipment:
    """A part was lost or is back; `key` names the sentence to say, "" to stay silent. Of one
    microphone of two, its `channel`, whose it is (`role`, "" if nobody's), and whether it is
    `heard` again: the other one goes on."""

    part: str
    what: str
    key: str = ""
    channel: int | None = None
    role: str = ""
    heard: bool = False


@dataclass(frozen=True, slots=True)
class Stop:
    """The program is asked to end: the sound is over, or somebody pressed the key for it."""

    reason: str


Event = Begin | Utterance | Overheard | Silence | Equipment | Stop
