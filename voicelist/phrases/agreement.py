"""What a sound amounts to that was heard more than once, because the first time left a doubt.

Hearing again may dispel a doubt. It never overrules talk or a denial, nor that a short answer may
have been denied, doubted or asked. One hearing more is enough where it understands what the first
found nearest; otherwise four are compared, and where they do not agree all. Where two have found
nothing permitted, it was most likely talk.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence

from voicelist.phrases.room import Room
from voicelist.phrases.understanding import (
    Context,
    Denied,
    Hypothesis,
    NotUnderstood,
    Opinion,
    Understanding,
    Understood,
    opinion,
    same_meaning,
)
from voicelist.phrases.weighing import Reading, gist_of, holds

Looks = tuple[Sequence[Hypothesis], Sequence[Hypothesis]]
_VOTES = 2
_COMPARED_FIRST = 4


def settled(hearings: Iterable[Looks | None], context: Context) -> Understanding:
    """What the first hearing amounts to, or where that is doubtful, what the further ones make of
    it. They are only asked for if there is need; None is one that could not be had, with which the
    doubt stays."""
    opinions: list[Opinion] = []
    for looks in hearings:
        if looks is None:
            return _doubt_of(opinions[0])
        opinions.append(opinion(*looks, context))
        if len(opinions) == 1 and not _is_doubtful(opinions[0]):
            return opinions[0].found
        if len(opinions) == 2 and _dispelled(opinions[0], opinions[1], context):
            return opinions[1].found
        if len(opinions) == 2 and all(one.nearest is None for one in opinions):
            break
        if len(opinions) == _COMPARED_FIRST and (agreed := _agreed(opinions, context)):
            return agreed
    return _agreed(opinions, context) or _doubt_of(opinions[0])


def _is_doubtful(first: Opinion) -> bool:
    """Where others talk an answer is doubtful too: it may be their words that made it one."""
    if isinstance(first.found, Understood):
        return first.nearest is not None and first.nearest.amid_talk
    return isinstance(first.found, NotUnderstood)


def _doubt_of(first: Opinion) -> Understanding:
    """What is asked where the doubt stays."""
    words = first.found.words
    if isinstance(first.found, Understood):
        return NotUnderstood(words, "it was heard otherwise amid talk", (" ".join(words),))
    return first.found


def _dispelled(first: Opinion, again: Opinion, context: Context) -> bool:
    """Whether the second hearing understood what the first found nearest."""
    answer = again.found
    if not isinstance(answer, Understood) or _may_be_turned((first,), answer, context):
        return False
    if any(_longer((first,), answer, context.room)):
        return False
    return first.nearest is not None and _says(first.nearest, answer, context.room)


def _agreed(opinions: Sequence[Opinion], context: Context) -> Understanding | None:
    """The one answer that some understood, if none understood another and it was the nearest for
    most, and if no number in it may have been longer. A single one is enough only if all others
    were torn between permitted sentences, none of which says the same and more; if it is the first,
    which was heard amid talk, only if none was torn and it was the nearest for all."""
    understood = [one.found for one in opinions if isinstance(one.found, Understood)]
    if not understood or any(isinstance(one.found, Denied) for one in opinions):
        return None
    answer, room = understood[0], context.room
    if any(not _same(one, answer, room) for one in understood):
        return None
    longer = list(_longer(opinions, answer, room))
    numbers = {word for match in answer.matches for word in match.number_words()}
    if _may_be_turned(opinions, answer, context) or any(numbers.issuperset(one) for one in longer):
        return None
    nearest = [one.nearest is not None and _says(one.nearest, answer, room) for one in opinions]
    others = sum(1 for one in opinions if one.nearest is not None) - sum(nearest)
    if len(understood) >= _VOTES:
        return answer if sum(nearest) > others else None
    rest = [one.found for one in opinions if one.found is not answer]
    torn = sum(1 for one in rest if isinstance(one, NotUnderstood) and one.torn)
    if answer is opinions[0].found:
        return answer if not torn and all(nearest) else None
    return answer if torn == len(rest) and not longer and sum(nearest) >= others else None


def _may_be_turned(opinions: Sequence[Opinion], answer: Understood, context: Context) -> bool:
    """Whether an answer that passes something may have been turned, by one of the hearings."""
    if context.harmless.issuperset(match.rule for match in answer.matches):
        return False
    return any(isinstance(one.found, NotUnderstood) and one.found.turned for one in opinions)


def _longer(opinions: Sequence[Opinion], answer: Understood, room: Room) -> Iterator[Counter[str]]:
    """By which words those sentences are longer that say what the answer says and more, and between
    which and others a hearing was torn: words get lost more easily than they are made up."""
    said = room.meaning(answer.words)
    for one in opinions:
        if isinstance(one.found, NotUnderstood) and one.found.torn:
            for text in one.found.offers:
                rival = room.meaning(text.split())
                if holds(rival, said):
                    yield Counter(rival) - Counter(said)


def _same(one: Understood, other: Understood, room: Room) -> bool:
    return same_meaning(one, other) or room.asked_for(one.words) == room.asked_for(other.words)


def _says(reading: Reading, answer: Understood, room: Room) -> bool:
    return reading.says({gist_of(answer.matches)}, answer.words, room)
