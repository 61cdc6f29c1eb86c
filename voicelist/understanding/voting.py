"""What a sound amounts to that was heard more than once, because the first time left a doubt.

Hearing again may dispel a doubt. It never overrules talk or a denial, nor that a short answer may
have been denied, doubted or asked. One hearing more is enough where it understands what the first
found nearest; otherwise four are compared, and where they do not agree all. Where what is heard
around an answer is hardly fainter, it must be understood three times. Where two hearings have found
nothing permitted, it was most likely talk.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence

from voicelist.understanding.evidence import Ask
from voicelist.understanding.interpretation import (
    Context,
    Denied,
    Hypothesis,
    NotUnderstood,
    Opinion,
    Understanding,
    Understood,
    answer_of,
    opinion,
    same_answer,
)
from voicelist.understanding.rejection import LONG, Reading, gist_of, holds
from voicelist.understanding.room_words import Room
from voicelist.understanding.verification import with_evidence

Looks = tuple[Sequence[Hypothesis], Sequence[Hypothesis]]
_VOTES, _VOTES_LOUD_AROUND = 2, 3
_COMPARED_FIRST, _COMPARED_ALL = 4, 6


def settled(hearings: Iterable[Looks | None], context: Context, ask: Ask) -> Understanding:
    """What the first hearing amounts to, or where that is doubtful, what the further ones and a
    witness make of it. They are only asked for if there is need; None is one that could not be had,
    with which the doubt stays."""
    opinions: list[Opinion] = []
    return with_evidence(_settled(hearings, context, opinions), opinions, ask, context)


def _settled(
    hearings: Iterable[Looks | None], context: Context, opinions: list[Opinion]
) -> Understanding:
    """By the hearings alone; `opinions` collects what each amounts to."""
    votes = _VOTES
    for looks in hearings:
        if looks is None:
            return _doubt_of(opinions[0])
        opinions.append(opinion(*looks, context))
        if len(opinions) == 1:
            votes = _VOTES_LOUD_AROUND if opinions[0].loud_around else _VOTES
            if not _is_doubtful(opinions[0], votes):
                return opinions[0].found
        if len(opinions) == votes == _VOTES and _dispelled(opinions, context):
            return opinions[1].found
        if len(opinions) == 2 and all(one.nearest is None for one in opinions):
            break
        if len(opinions) == _COMPARED_FIRST and (agreed := _agreed(opinions, votes, context)):
            return agreed
    agreed = _agreed(opinions, votes, context) or _unanimous(opinions, votes, context)
    return agreed or _doubt_of(opinions[0])


def _is_doubtful(first: Opinion, votes: int) -> bool:
    """Where others talk, or it is loud, an answer is doubtful too: it may be their words that made
    it one."""
    if isinstance(first.found, Understood):
        amid_talk = first.nearest is not None and first.nearest.amid_talk
        return amid_talk or votes > _VOTES
    return isinstance(first.found, NotUnderstood)


def _doubt_of(first: Opinion) -> Understanding:
    """What is asked where the doubt stays."""
    words = first.found.words
    if isinstance(first.found, Understood):
        return NotUnderstood(words, "heard again it was not the same", (" ".join(words),))
    return first.found


def _dispelled(opinions: Sequence[Opinion], context: Context) -> bool:
    """Whether the second hearing understood what the first found nearest."""
    first, answer = opinions[0], opinions[1].found
    if not isinstance(answer, Understood) or _may_be_turned((first,), answer, context):
        return False
    if any(_longer((first,), answer, context.room)):
        return False
    return first.nearest is not None and _says(first.nearest, answer, context.room)


def _agreed(opinions: Sequence[Opinion], votes: int, context: Context) -> Understanding | None:
    """The one answer that so many understood, if none understood another and it was the nearest for
    most, and if no number in it may have been longer. Where two are enough, one is for a long
    answer if all others were torn between permitted sentences, none of which says the same and
    more; and for the first, heard amid talk, if none was torn and it was the nearest for all."""
    understood = [one.found for one in opinions if isinstance(one.found, Understood)]
    if not understood:
        return None
    answer, room = understood[0], context.room
    if any(not same_answer(one, answer, room) for one in understood):
        return None
    longer = list(_longer(opinions, answer, room))
    if _is_barred(opinions, answer, longer) or _may_be_turned(opinions, answer, context):
        return None
    nearest = [one.nearest is not None and _says(one.nearest, answer, room) for one in opinions]
    others = sum(1 for one in opinions if one.nearest is not None) - sum(nearest)
    if len(understood) >= votes:
        return answer if sum(nearest) > others else None
    if votes > _VOTES:
        return None
    torn = sum(map(_is_torn, opinions))
    if answer is opinions[0].found:
        return answer if not torn and all(nearest) else None
    every_other = torn == len(opinions) - 1 and len(answer.words) >= LONG
    return answer if every_other and not longer and sum(nearest) >= others else None


def _unanimous(opinions: Sequence[Opinion], votes: int, context: Context) -> Understanding | None:
    """A long answer that all six hearings found nearest, if two understood it; if one did, and none
    was torn; or if it holds no number, and each understood it or was torn. Where it is loud, one
    must have understood it. No number in it may have been longer."""
    nearest = opinions[0].nearest
    if len(opinions) < _COMPARED_ALL or nearest is None or len(nearest.words) < LONG:
        return None
    answer, room = answer_of(nearest), context.room
    if any(one.nearest is None or not _says(one.nearest, answer, room) for one in opinions):
        return None
    if _is_barred(opinions, answer, _longer(opinions, answer, room)):
        return None
    understood = sum(isinstance(one.found, Understood) for one in opinions)
    torn = sum(map(_is_torn, opinions))
    if understood >= _VOTES or (understood and not torn):
        return answer
    torn_only = understood + torn == len(opinions) and not _numbers(answer)
    return answer if torn_only and (understood or votes == _VOTES) else None


def _is_barred(
    opinions: Sequence[Opinion], answer: Understood, longer: Iterable[Counter[str]]
) -> bool:
    """Whether a hearing was denied, or a number in the answer may have been `longer`."""
    numbers = _numbers(answer)
    denied = any(isinstance(one.found, Denied) for one in opinions)
    return denied or any(numbers.issuperset(one) for one in longer)


def _is_torn(one: Opinion) -> bool:
    return isinstance(one.found, NotUnderstood) and one.found.torn


def _numbers(answer: Understood) -> set[str]:
    """The words of its numbers."""
    return {word for match in answer.matches for word in match.number_words()}


def _may_be_turned(opinions: Sequence[Opinion], answer: Understood, context: Context) -> bool:
    """Whether an answer that passes something may have been turned, by one of the hearings."""
    if context.passes_nothing(answer):
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


def _says(reading: Reading, answer: Understood, room: Room) -> bool:
    return reading.says({gist_of(answer.matches)}, answer.words, room)
