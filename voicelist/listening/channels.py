"""Two utterances at the same time on two channels: which of them may be taken, if any.

One voice is heard by both microphones, so the same utterance comes twice: the nearer microphone,
that is the louder channel, says who spoke. Two people who speak at once are not one: where neither
microphone is plainly nearer, or the channels hear different things, nothing is taken.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum

from voicelist.understanding.interpretation import (
    Denied,
    NotForUs,
    NotUnderstood,
    Unconfirmed,
    Understanding,
    Understood,
    same_meaning,
)
from voicelist.understanding.room_words import Room

# Turns of a conversation overlap a little; so much of both, or half of the shorter, is more than
# that. Project choice.
SHARED_AT_LEAST_S = 0.2
SHARED_OF_SHORTER = 0.5
# Twice the distance halves the sound pressure, 6 dB, in the open. Microphones differ in gain by
# less than that once set. Project choice.
PLAINLY_LOUDER_dB = 6.0
# They make the assistant quiet and answer nothing: whoever says so is obeyed.
_QUIETING = frozenset({"command.hold_on", "command.silence"})

NEITHER_NEARER = "both channels heard somebody, and neither microphone is plainly nearer"
HEARD_OTHERWISE = "the two channels heard different things at the same time"


class ChannelChoice(Enum):
    """Which of two utterances at the same time counts."""

    OURS = "ours"
    THEIRS = "theirs"
    NONE = "none"


@dataclass(frozen=True, slots=True)
class Judgement:
    """`why` is empty unless the choice is NONE."""

    choice: ChannelChoice
    why: str = ""


def shared_span(
    ours: tuple[int, int], theirs: tuple[int, int], samples_per_s: int
) -> tuple[int, int] | None:
    """The samples of two spans (first, behind the last) that are at the same time, or None where
    they are too few to matter."""
    span = max(ours[0], theirs[0]), min(ours[1], theirs[1])
    shorter = min(ours[1] - ours[0], theirs[1] - theirs[0])
    enough = min(SHARED_AT_LEAST_S * samples_per_s, SHARED_OF_SHORTER * shorter)
    return span if span[1] - span[0] >= max(1.0, enough) else None


def judge(ours: Understanding, theirs: Understanding, louder_dB: float, room: Room) -> Judgement:
    """Which of two utterances at the same time counts, ours being so much louder than theirs over
    the time that they share."""
    louder = ChannelChoice.OURS if louder_dB >= 0.0 else ChannelChoice.THEIRS
    near, far = (ours, theirs) if louder is ChannelChoice.OURS else (theirs, ours)
    if _both_quiet(near, far):
        return Judgement(louder)
    if not any(isinstance(one, Understood | Denied) for one in (near, far)):
        return Judgement(louder)
    if abs(louder_dB) < PLAINLY_LOUDER_dB:
        return Judgement(ChannelChoice.NONE, NEITHER_NEARER)
    if _at_odds(near, far, room):
        return Judgement(ChannelChoice.NONE, HEARD_OTHERWISE)
    return Judgement(louder)


def together(judgements: Sequence[Judgement]) -> Judgement:
    """The choice between one utterance and all that overlap it; ours where there are none."""
    doubts = [one for one in judgements if one.choice is ChannelChoice.NONE]
    if doubts:
        return doubts[0]
    choices = {one.choice for one in judgements}
    if len(choices) > 1:
        return Judgement(ChannelChoice.NONE, NEITHER_NEARER)
    return Judgement(choices.pop() if choices else ChannelChoice.OURS)


def _both_quiet(near: Understanding, far: Understanding) -> bool:
    if not (isinstance(near, Understood) and isinstance(far, Understood)):
        return False
    return same_meaning(near, far) and near.match.rule in _QUIETING


def _at_odds(near: Understanding, far: Understanding, room: Room) -> bool:
    """Whether what the farther microphone heard speaks against what the nearer one did. Where the
    nearer one heard nothing permitted, nothing is taken anyway."""
    match near, far:
        case NotUnderstood(), _:
            return False
        case (Unconfirmed(), _) | (_, Unconfirmed()):
            return True
        case Understood(), Understood():
            return not same_meaning(near, far)
        case Denied(), Denied():
            return near.rule != far.rule
        case Understood(), NotUnderstood():
            return bool(room.turns(far.words, near.words))
        case _, Understood() | Denied():
            return True
        case _, NotUnderstood() | NotForUs():
            return False
