"""Whether a permitted reading of the sound stands against the others, by how far behind each is.

Differences of score are in the recogniser's own measure; the limits come from own measurements
(tests/benchmarks/understanding.py, orders.py).
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

from voicelist.grammar.grammar import UNHEARD
from voicelist.grammar.match import Match
from voicelist.understanding.room_words import Room

# An answer with an unlikely number must be this much nearer than one without.
UNLIKELY = 4.0
# Two answers within this of each other are not told apart: any two, a teen and its ten, two of one
# word each.
CLOSE = 0.5
CLOSE_NUMBERS = 1.0
CLOSE_ONE_WORD = 3.0
CLOSE_AMID_TALK = 1.5
# Where others talk, an answer may be no farther than this behind what is not permitted.
AMID_TALK_AT_MOST = 1.0
# Words get lost more easily than they are made up: a rival with words more must be farther than
# this, one with words less need not; of two as near as that the fuller one is meant.
LOST = 2.0
FULLER = 0.7
# From so many words on a sentence is long, and so many other words in it are few.
LONG = 6
_FEW = 3


@dataclass(frozen=True, slots=True)
class Slack:
    """How far an answer may be behind what is not permitted and still be taken: `misplaced` words
    of the answers, at least half of this one's among them, `no_number` other words in a part of a
    number that leave none ("point seventy eye"), `in_long` a few other words in a long sentence,
    `one_word` another word for an answer of one word (much of what is said in a room sounds like
    "two" or "six"; such answers pass no stop item), `half` only the beginning of the answer,
    `beside` words more before or behind it, `unheard` speech there, `other` words, none of them
    the answer's, `strange` anything else, and a denial in the place of its last words."""

    misplaced: float
    no_number: float
    in_long: float
    one_word: float
    half: float
    beside: float
    unheard: float
    other: float
    strange: float


FIRST = Slack(
    misplaced=2.5,
    no_number=3.5,
    in_long=4.0,
    one_word=3.5,
    half=1.0,
    beside=0.0,
    unheard=2.5,
    other=0.0,
    strange=0.3,
)
# In the second look what is no answer has more ways to be found; so far behind another permitted
# sentence the answer may be there.
SECOND_RIVAL = 0.5
SECOND = Slack(
    misplaced=1.7,
    no_number=3.5,
    in_long=4.0,
    one_word=3.5,
    half=1.0,
    beside=0.2,
    unheard=2.5,
    other=0.0,
    strange=1.0,
)
# Denials, doubts and questions stand in the way even from behind, in the first look from so far,
TURNED = 0.3
# in the second from so far; of a long sentence, which small sounds bend more easily, not if they
# are not much nearer there and so far behind in the first that both looks make up for it.
SECOND_TURNED = 1.5
SECOND_TURNED_IN_LONG = 0.3
TURNED_NEARER = 1.0
BOTH_TURNED = 1.5
_FAR = 6.0


@dataclass(frozen=True, slots=True)
class Reading:
    """A hypothesis without noise at its edges, its permitted matches (the ways to read it), and how
    far it is behind the best (0 or more). Several sentences in one breath have no match as a whole;
    theirs are in `together`. Others may have talked while it was said."""

    words: tuple[str, ...]
    matches: tuple[Match, ...]
    behind: float
    together: tuple[Match, ...] = ()
    amid_talk: bool = False

    @property
    def cost(self) -> float:
        """How far behind, an unlikely number counted."""
        return self.behind + (0.0 if self.likely else UNLIKELY)

    @property
    def likely(self) -> bool:
        """Whether it holds no unlikely number."""
        return not self.matches or any(one.is_likely() for one in self.matches)

    def gists(self) -> set[tuple[object, ...]]:
        """What it says, by each way to read it."""
        if self.together:
            return {gist_of(self.together)}
        return {gist_of((match,)) for match in self.matches}

    def says(self, said: set[tuple[object, ...]], words: Sequence[str], room: Room) -> bool:
        """Whether it says one of these, or what the words say but for those of asking."""
        if not self.gists().isdisjoint(said):
            return True
        return room.asked_for(self.words) == room.asked_for(words)

    @property
    def permitted(self) -> bool:
        return bool(self.matches or self.together)


def nearest(permitted: Sequence[Reading]) -> Reading:
    """The nearest of some readings, or of those about as near one that holds its words and more."""
    best = min(permitted, key=lambda one: one.cost)
    fuller = (
        one for one in permitted if one.cost - best.cost < FULLER and holds(one.words, best.words)
    )
    return min(fuller, key=lambda one: one.cost, default=best)


def rival(taken: Reading, readings: Sequence[Reading], room: Room) -> Reading | None:
    """Another permitted reading that says something else and is about as near."""
    said = taken.gists()
    for one in readings:
        if (
            one.permitted
            and not one.says(said, taken.words, room)
            and one.cost - taken.cost < _apart_at_least(taken, one)
        ):
            return one
    return None


def _apart_at_least(taken: Reading, other: Reading) -> float:
    if len(taken.words) == len(other.words) == 1:
        return CLOSE_ONE_WORD
    if taken.amid_talk and not holds(other.words, taken.words):
        return CLOSE_AMID_TALK
    if holds(taken.words, other.words):
        return -FULLER
    if holds(other.words, taken.words):
        return LOST
    # Where only one of the two is likely, that has been counted already.
    alike = taken.likely == other.likely and _sound_alike(taken.words, other.words)
    return CLOSE_NUMBERS if alike else CLOSE


def holds(words: Sequence[str], fewer: Sequence[str]) -> bool:
    """Whether `fewer` are some of the words, in their order."""
    left = iter(words)
    return len(fewer) < len(words) and all(word in left for word in fewer)


def _sound_alike(ours: Sequence[str], theirs: Sequence[str]) -> bool:
    """Whether the first words in which two sentences differ are a teen and its ten."""
    pairs = zip(ours, theirs, strict=False)
    one, other = next((pair for pair in pairs if pair[0] != pair[1]), ("", ""))
    ends = {one[-4:] == "teen", other[-4:] == "teen"}, {one[-2:] == "ty", other[-2:] == "ty"}
    return one[:2] == other[:2] and ends == ({True, False}, {True, False})


def in_the_way(
    taken: Reading, readings: Sequence[Reading], room: Room, answers: frozenset[str]
) -> Reading | None:
    """A reading of the first look that is not permitted, has another meaning and is nearer;
    `answers` are the words of what is asked."""
    for one in readings:
        if one.permitted:
            continue
        if _is_turned(taken, one, room):
            slack = -TURNED
        elif _same_words(taken, one, room):
            continue
        else:
            slack = _slack(FIRST, taken, one.words, room, answers)
            if taken.amid_talk:
                slack = min(slack, AMID_TALK_AT_MOST)
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
) -> Reading | None:
    """What the second look finds nearer than the answer. Against a command only denials, doubts
    and questions count, and other permitted sentences."""
    if not second:
        return None
    ours = [one for one in second if _says(taken, one, room)]
    found_at = min((one.cost for one in ours), default=math.inf)
    for one in second:
        if one in ours:
            continue
        if _is_turned(taken, one, room):
            behind_first = _turned_behind(taken, first, room)
            slack = _slack_of_turned(one.cost - found_at, behind_first, taken)
        elif one.permitted:
            slack = FULLER if holds(taken.words, one.words) else SECOND_RIVAL
        elif command:
            continue
        else:
            slack = _slack(SECOND, taken, one.words, room, answers)
        if one.cost + slack < found_at:
            return one
    return None


def is_turned_short(taken: Reading, one: Reading, room: Room) -> bool:
    """Whether a reading holds all that a short answer says, denied, doubted or asked."""
    return len(taken.words) < LONG and _is_turned(taken, one, room)


def _is_turned(taken: Reading, one: Reading, room: Room) -> bool:
    """Whether a reading holds all that is taken, denied, doubted or asked; or all but the denial
    that is taken ("no known allergies")."""
    denied = room.negations.intersection(taken.words)
    if not room.turns(one.words, taken.words) and denied.issubset(one.words):
        return False
    turning = room.negations | room.questions | room.doubts
    return set(room.meaning(taken.words)).difference(turning).issubset(one.words)


def _says(taken: Reading, one: Reading, room: Room) -> bool:
    """Whether a reading says what the taken one says, be it in words that are not permitted."""
    if one.permitted:
        return not taken.gists().isdisjoint(one.gists())
    return _same_words(taken, one, room) and not room.turns(one.words, taken.words)


def _same_words(taken: Reading, one: Reading, room: Room) -> bool:
    """Whether only small words set the two apart, or a word said twice that is heard once ("five
    oh oh", "five oh"), or the other lacks some of those with which something is asked for."""
    ours, theirs = room.meaning(taken.words), room.meaning(one.words)
    once = [word for word, _ in itertools.groupby(ours)]
    lacks = holds(ours, theirs) and room.asked_for(one.words) == room.asked_for(taken.words)
    return theirs in (ours, once) or (bool(theirs) and lacks)


def _turned_behind(taken: Reading, first: Sequence[Reading], room: Room) -> float:
    """How far behind the answer the first look found a denial, a doubt or a question."""
    turned = (one.behind for one in first if _is_turned(taken, one, room))
    return min((*turned, taken.cost + _FAR)) - taken.cost


def _slack_of_turned(behind_second: float, behind_first: float, taken: Reading) -> float:
    if len(taken.words) < LONG:
        return -SECOND_TURNED
    if behind_second >= -TURNED_NEARER and behind_second + behind_first >= BOTH_TURNED:
        return math.inf
    return -SECOND_TURNED_IN_LONG


def _slack(
    slack: Slack, taken: Reading, words: Sequence[str], room: Room, answers: frozenset[str]
) -> float:
    """By what sets the words apart from the taken reading, small words aside."""
    if UNHEARD in (words[0], words[-1]):
        return slack.unheard
    ours, theirs = room.meaning(taken.words), room.meaning(words)
    before = _alike(ours, theirs)
    behind = _alike(ours[before:][::-1], theirs[before:][::-1])
    ours, theirs = ours[before : len(ours) - behind], theirs[before : len(theirs) - behind]
    inside = before and behind
    if (inside or not theirs) and _leaves_no_number(taken, ours):
        return slack.no_number
    if not ours and not inside:
        return slack.beside
    if len(taken.words) == len(words) == 1:
        return slack.one_word
    if not theirs and before and len(taken.words) < LONG:
        return slack.half
    if before and not behind and not room.negations.isdisjoint(theirs):
        return slack.strange
    few = max(len(ours), len(theirs)) <= _FEW
    replaced = ours and (inside or _numbers(taken).isdisjoint(ours))
    if len(taken.words) >= LONG and few and (replaced or answers.isdisjoint(theirs)):
        return slack.in_long
    said = set(room.meaning(taken.words))
    shared = len(said.intersection(words))
    if not shared:
        return slack.other
    misplaced = 2 * shared >= len(said) and answers.issuperset(words)
    return slack.misplaced if misplaced else slack.strange


def _alike(ours: Sequence[str], theirs: Sequence[str]) -> int:
    """With how many same words both begin."""
    pairs = itertools.takewhile(lambda pair: pair[0] == pair[1], zip(ours, theirs, strict=False))
    return sum(1 for _ in pairs)


def _leaves_no_number(taken: Reading, other: Sequence[str]) -> bool:
    """Whether `other`, the words of the answer that another reading has not, are a part of a
    number, and not the whole."""
    rules = (one for match in taken.matches for one in match.walk())
    whole = any(one.words == tuple(other) for one in rules if one.value is not None)
    return bool(other) and _numbers(taken).issuperset(other) and not whole


def _numbers(taken: Reading) -> set[str]:
    """The words of its numbers."""
    return {word for match in taken.matches for word in match.number_words()}


def gist_of(matches: Sequence[Match]) -> tuple[object, ...]:
    """What one or more sentences say."""
    return tuple(map(gist, matches))


def gist(match: Match) -> tuple[object, ...]:
    """What a reading says, however it is worded: its phrase with its tags, and of the rules inside
    their tags, values, or words where these are all that they have."""
    inside = [one for one in match.walk() if one is not match]
    return (
        match.rule,
        match.tags,
        *(
            (one.rule, one.tags, one.value)
            if one.tags or one.inside or one.value is not None
            else (one.rule, one.words)
            for one in inside
        ),
    )
