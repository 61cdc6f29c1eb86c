"""What a sound amounts to that was decoded more than once, because the first time left a doubt.

Decoding again may dispel a doubt. It never overrules talk or a denial, nor that a short answer may
have been negated, hedged or asked. One decoding more is enough where it understands what the first
found nearest; otherwise four are compared, and where they do not agree all. Where what surrounds an
answer is hardly fainter, it must be understood three times. Where two decodings have found nothing
permitted, it was most likely talk.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence

from voicelist.understanding.context import Context
from voicelist.understanding.hypothesis import Passes, holds
from voicelist.understanding.interpretation import (
    Denied,
    Doubt,
    Interpretation,
    NotUnderstood,
    Understanding,
    Understood,
    answer_of,
    interpreted,
    is_ambiguous,
    is_negated,
    same_answer,
)
from voicelist.understanding.parsing import ParsedHypothesis, semantic_key_of
from voicelist.understanding.policy import Policy
from voicelist.understanding.room_words import Room

_VOTES, _VOTES_LOW_SNR = 2, 3
_COMPARED_FIRST, _COMPARED_ALL = 4, 6


def is_doubtful(first: Interpretation) -> bool:
    """Whether one decoding is not enough. Where others talk, or the words hardly stand out, an
    answer is doubtful too: it may be other people's words that made it one."""
    if isinstance(first.found, Understood):
        amid_babble = first.nearest is not None and first.nearest.amid_babble
        return amid_babble or first.low_snr
    return isinstance(first.found, NotUnderstood)


def voted(
    decoded: list[Interpretation],
    further: Iterable[Passes | None],
    context: Context,
    policy: Policy,
) -> Understanding:
    """What a first decoding and `further` ones come to, which are only asked for while there is
    need; None is one that could not be had, with which the doubt stays. They are added to
    `decoded`, which holds the first."""
    votes = _VOTES_LOW_SNR if decoded[0].low_snr else _VOTES
    for passes in further:
        if passes is None:
            return _doubt_of(decoded[0])
        decoded.append(interpreted(passes, context, policy))
        if len(decoded) == votes == _VOTES and _dispelled(decoded, context):
            return decoded[1].found
        if len(decoded) == 2 and all(decoding.nearest is None for decoding in decoded):
            break
        if len(decoded) == _COMPARED_FIRST and (agreed := _agreed(decoded, votes, context, policy)):
            return agreed
    agreed = _agreed(decoded, votes, context, policy)
    return agreed or _unanimous(decoded, votes, context, policy) or _doubt_of(decoded[0])


def _doubt_of(first: Interpretation) -> Understanding:
    """What is asked where the doubt stays."""
    words = first.found.words
    if isinstance(first.found, Understood):
        why = "heard again it was not the same"
        return NotUnderstood(words, why, (" ".join(words),), Doubt.NOT_CONFIRMED)
    return first.found


def _dispelled(decoded: Sequence[Interpretation], context: Context) -> bool:
    """Whether the second decoding understood what the first found nearest."""
    first, answer = decoded[0], decoded[1].found
    if not isinstance(answer, Understood) or _may_be_negated((first,), answer, context):
        return False
    if any(_longer((first,), answer, context.room)):
        return False
    return first.nearest is not None and _says(first.nearest, answer, context.room)


def _agreed(
    decoded: Sequence[Interpretation], votes: int, context: Context, policy: Policy
) -> Understanding | None:
    """The one answer that so many understood, if none understood another and it was the nearest for
    most, and if no number in it may have been longer. Where two are enough, one is for a long
    answer if all others were ambiguous between permitted sentences, none of which says the same and
    more; and for the first, heard amid babble, if none was ambiguous and it was the nearest for
    all."""
    understood = [decoding.found for decoding in decoded if isinstance(decoding.found, Understood)]
    if not understood:
        return None
    answer, room = understood[0], context.room
    if any(not same_answer(other, answer, room) for other in understood):
        return None
    longer = list(_longer(decoded, answer, room))
    if _is_barred(decoded, answer, longer) or _may_be_negated(decoded, answer, context):
        return None
    nearest = [
        decoding.nearest is not None and _says(decoding.nearest, answer, room)
        for decoding in decoded
    ]
    others = sum(1 for decoding in decoded if decoding.nearest is not None) - sum(nearest)
    if len(understood) >= votes:
        return answer if sum(nearest) > others else None
    if votes > _VOTES:
        return None
    ambiguous = sum(is_ambiguous(decoding.found) for decoding in decoded)
    if answer is decoded[0].found:
        return answer if not ambiguous and all(nearest) else None
    every_other = ambiguous == len(decoded) - 1 and len(answer.words) >= policy.long_words
    return answer if every_other and not longer and sum(nearest) >= others else None


def _unanimous(
    decoded: Sequence[Interpretation], votes: int, context: Context, policy: Policy
) -> Understanding | None:
    """A long answer that all six decodings found nearest, if two understood it; if one did, and
    none was ambiguous; or if it holds no number, and each understood it or was ambiguous. Where the
    words hardly stand out, one must have understood it. No number in it may have been longer."""
    nearest = decoded[0].nearest
    if len(decoded) < _COMPARED_ALL or nearest is None or len(nearest.words) < policy.long_words:
        return None
    answer, room = answer_of(nearest), context.room
    if any(
        decoding.nearest is None or not _says(decoding.nearest, answer, room)
        for decoding in decoded
    ):
        return None
    if _is_barred(decoded, answer, _longer(decoded, answer, room)):
        return None
    understood = sum(isinstance(decoding.found, Understood) for decoding in decoded)
    ambiguous = sum(is_ambiguous(decoding.found) for decoding in decoded)
    if understood >= _VOTES or (understood and not ambiguous):
        return answer
    ambiguous_only = understood + ambiguous == len(decoded) and not _numbers(answer)
    return answer if ambiguous_only and (understood or votes == _VOTES) else None


def _is_barred(
    decoded: Sequence[Interpretation], answer: Understood, longer: Iterable[Counter[str]]
) -> bool:
    """Whether a decoding was a denial, or a number in the answer may have been `longer`."""
    numbers = _numbers(answer)
    denied = any(isinstance(decoding.found, Denied) for decoding in decoded)
    return denied or any(numbers.issuperset(more) for more in longer)


def _numbers(answer: Understood) -> set[str]:
    """The words of its numbers."""
    return {word for match in answer.matches for word in match.number_words()}


def _may_be_negated(
    decoded: Sequence[Interpretation], answer: Understood, context: Context
) -> bool:
    """Whether an answer that passes something may have been negated, hedged or asked in one of the
    decodings."""
    if context.passes_nothing(answer.matches):
        return False
    return any(is_negated(decoding.found) for decoding in decoded)


def _longer(
    decoded: Sequence[Interpretation], answer: Understood, room: Room
) -> Iterator[Counter[str]]:
    """By which words those sentences are longer that say what the answer says and more, and between
    which and others a decoding was ambiguous: words get lost more easily than they are made up."""
    said = room.meaning(answer.words)
    for decoding in decoded:
        if isinstance(decoding.found, NotUnderstood) and is_ambiguous(decoding.found):
            for text in decoding.found.offers:
                rival = room.meaning(text.split())
                if holds(rival, said):
                    yield Counter(rival) - Counter(said)


def _says(hypothesis: ParsedHypothesis, answer: Understood, room: Room) -> bool:
    return hypothesis.says({semantic_key_of(answer.matches)}, answer.words, room)
