"""Whether a permitted reading of the sound stands against the others, by how far behind each is.

Differences of score are in the recogniser's own measure; the limits come from own measurements
(tests/benchmarks/understanding.py, orders.py).
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

from voicelist.phrases.match import Match
from voicelist.phrases.room import Room

# An answer with an unlikely number must be this much nearer than one without.
UNLIKELY = 2.5
# Two answers within this of each other are not told apart.
CLOSE = 0.5
# From so many words on a sentence is long, and so many other words in it are few.
_LONG = 6
_FEW = 2


@dataclass(frozen=True, slots=True)
class Slack:
    """How far an answer may be behind what is not permitted and still be taken: `misplaced` words
    of the answers themselves in another order, `no_number` other words in a part of a number that
    leave none ("point seventy eye"), `in_long` one or two other words in a long sentence, `beside`
    words more before or behind the answer, `strange` anything else."""

    misplaced: float
    no_number: float
    in_long: float
    beside: float
    strange: float


FIRST = Slack(misplaced=2.5, no_number=3.5, in_long=4.0, beside=0.0, strange=0.3)
# In the second look what is no answer has more ways to be found.
SECOND = Slack(misplaced=1.7, no_number=3.5, in_long=4.0, beside=1.0, strange=1.0)
# Denials, doubts and questions stand in the way even from behind: in the first look from so far,
TURNED = 0.3
# in the second from so far; unless they are not much nearer there and so far behind in the first
# that both together make up for it.
SECOND_TURNED = 0.3
SECOND_TURNED_NEARER = 1.0
BOTH_TURNED = 1.5
_FAR = 6.0


@dataclass(frozen=True, slots=True)
class Reading:
    """A hypothesis without noise at its edges, its permitted matches, and how far it is behind the
    best (0 or more)."""

    words: tuple[str, ...]
    matches: tuple[Match, ...]
    behind: float

    @property
    def cost(self) -> float:
        """How far behind, an unlikely number counted."""
        likely = not self.matches or any(one.is_likely() for one in self.matches)
        return self.behind + (0.0 if likely else UNLIKELY)

    def gists(self) -> set[tuple[object, ...]]:
        """What it says, by each of its matches."""
        return set(map(gist, self.matches))


def rival(taken: Reading, readings: Sequence[Reading]) -> Reading | None:
    """Another permitted reading that says something else and is about as near."""
    said = taken.gists()
    for one in readings:
        another = one.matches and said.isdisjoint(one.gists())
        if another and one.cost - taken.cost < CLOSE:
            return one
    return None


def in_the_way(
    taken: Reading, readings: Sequence[Reading], room: Room, answers: frozenset[str]
) -> Reading | None:
    """A reading of the first look that is not permitted, has another meaning and is nearer;
    `answers` are the words of what is asked."""
    for one in readings:
        if one.matches:
            continue
        if room.turns(one.words, taken.words):
            slack = -TURNED
        elif room.meaning(one.words) == room.meaning(taken.words):
            continue
        else:
            slack = _slack(FIRST, taken, one.words, answers)
        if one.behind + slack < taken.cost:
            return one
    return None


def veto(
    taken: Reading,
    first: Sequence[Reading],
    second: Sequence[Reading],
    room: Room,
    answers: frozenset[str],
    *,
    command: bool,
) -> str:
    """What the second look finds nearer than the answer, or "". Against a command only denials,
    doubts and questions count."""
    if not second:
        return ""
    ours = [one for one in second if _says(taken, one, room)]
    found_at = min((one.cost for one in ours), default=math.inf)
    for one in second:
        if one in ours:
            continue
        if room.turns(one.words, taken.words):
            slack = _slack_of_turned(one.cost - found_at, _turned_behind(taken, first, room))
        elif command:
            continue
        elif one.matches:
            slack = SECOND.strange
        else:
            slack = _slack(SECOND, taken, one.words, answers)
        if one.cost + slack < found_at:
            return " ".join(one.words)
    return ""


def _says(taken: Reading, one: Reading, room: Room) -> bool:
    """Whether a reading says what the taken one says, be it in words that are not permitted."""
    if one.matches:
        return not taken.gists().isdisjoint(one.gists())
    same_words = room.meaning(one.words) == room.meaning(taken.words)
    return same_words and not room.turns(one.words, taken.words)


def _turned_behind(taken: Reading, first: Sequence[Reading], room: Room) -> float:
    """How far behind the answer the first look found a denial, a doubt or a question."""
    turned = (one.behind for one in first if room.turns(one.words, taken.words))
    return min((*turned, taken.cost + _FAR)) - taken.cost


def _slack_of_turned(behind_second: float, behind_first: float) -> float:
    if behind_second >= -SECOND_TURNED_NEARER and behind_second + behind_first >= BOTH_TURNED:
        return math.inf
    return -SECOND_TURNED


def _slack(slack: Slack, taken: Reading, words: Sequence[str], answers: frozenset[str]) -> float:
    """By what sets the words apart from the taken reading."""
    ours, theirs = _apart(taken.words, words)
    if _leaves_no_number(taken, ours):
        return slack.no_number
    if not ours and (theirs[0] is words[0] or theirs[-1] is words[-1]):
        return slack.beside
    if len(taken.words) >= _LONG and max(len(ours), len(theirs)) <= _FEW:
        return slack.in_long
    return slack.misplaced if answers.issuperset(words) else slack.strange


def _apart(ours: Sequence[str], theirs: Sequence[str]) -> tuple[Sequence[str], Sequence[str]]:
    """The middle of both, without the words with which both begin and end."""
    before = _alike(ours, theirs)
    ours, theirs = ours[before:], theirs[before:]
    behind = _alike(ours[::-1], theirs[::-1])
    return ours[: len(ours) - behind], theirs[: len(theirs) - behind]


def _alike(ours: Sequence[str], theirs: Sequence[str]) -> int:
    """With how many same words both begin."""
    pairs = itertools.takewhile(lambda pair: pair[0] == pair[1], zip(ours, theirs, strict=False))
    return sum(1 for _ in pairs)


def _leaves_no_number(taken: Reading, other: Sequence[str]) -> bool:
    """Whether `other`, the words of the answer that another reading has not, are a part of a
    number, and not the whole."""
    rules = (one for match in taken.matches for one in match.walk())
    numbers = [one.words for one in rules if one.value is not None]
    inside = {word for words in numbers for word in words}
    return bool(other) and inside.issuperset(other) and tuple(other) not in numbers


def gist(match: Match) -> tuple[object, ...]:
    """What a reading says, however it is worded: its phrase, and of the rules inside their tags,
    values, or words where these are all that they have."""
    inside = [one for one in match.walk() if one is not match]
    return match.rule, *(
        (one.rule, one.tags, one.value)
        if one.tags or one.inside or one.value is not None
        else (one.rule, one.words)
        for one in inside
    )
