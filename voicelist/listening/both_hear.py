"""People's own words that neither model heard quite as they were said: an answer that is near by
its sound is put to both.

What both find passes an ordinary item; a stop item, and what one of them finds, is read back first.
Nothing is looked for where a denial, a doubt or a question was heard.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from voicelist.grammar.grammar import UNHEARD, UNKNOWN
from voicelist.grammar.match import Match
from voicelist.listening.free_transcript import Asked
from voicelist.session.natural import Natural
from voicelist.understanding.both_models import Among, Contest, agreement
from voicelist.understanding.evidence import Ask
from voicelist.understanding.interpretation import (
    Context,
    Denied,
    NotUnderstood,
    Unconfirmed,
    Understanding,
    Understood,
)
from voicelist.understanding.near_by_phones import NearAnswer, NearByPhones
from voicelist.understanding.plain_speech import About, Amounts

Words = tuple[str, ...]
_LOOKED_AT = 3
_CONTESTS_AT_MOST = 3
_NO_WORDS = (UNKNOWN, UNHEARD)


@dataclass(frozen=True, slots=True)
class Sound:
    """What the recogniser heard, the best first, and what both models can be asked."""

    looks: Sequence[Words]
    ask: Ask
    among: Among


@dataclass(frozen=True, slots=True)
class Candidate:
    """What may have been said: words of the second model as they are, or brought near, or words of
    the recogniser."""

    words: Words
    apart: float
    full: bool
    own: bool


@dataclass(frozen=True, slots=True)
class Place:
    """The item that is asked, and what may be said of it."""

    asked: Asked
    context: Context
    near: NearByPhones

    @property
    def natural(self) -> Natural:
        return self.asked.natural

    @property
    def about(self) -> About | None:
        """What the item says of itself, if it may be answered so."""
        name = self.asked.item
        there = name in self.natural.items and f"{name}.done" in self.asked.active
        return self.natural.about(name) if there else None


def heard_by_both(
    freely: Understanding, strictly: Understanding, sound: Sound, place: Place
) -> Understanding:
    """What was understood strictly and then freely, or what both models make of an answer that is
    near to it."""
    if isinstance(strictly, Understood | Denied) or isinstance(freely, Understood | Denied):
        return freely
    about = place.about
    told = sound.ask((), True) if about is not None else None
    if about is None or told is None or not told.words or _may_be_turned(strictly):
        return freely
    if place.near.is_turned(place.natural.answers.without_hesitations(told.words)):
        return freely
    found = _agreed(told.words, about, sound, place)
    if found is None or (isinstance(freely, Unconfirmed) and isinstance(found, Unconfirmed)):
        return freely
    doubtful = isinstance(strictly, NotUnderstood) and strictly.torn
    if doubtful and isinstance(found, Understood):
        return Unconfirmed(found.match, found.words)
    return found


def _may_be_turned(strictly: Understanding) -> bool:
    return isinstance(strictly, NotUnderstood) and strictly.turned


def _agreed(
    heard: Words, about: About, sound: Sound, place: Place
) -> Understood | Unconfirmed | None:
    """The first candidate that both models find, or else one that one of them does."""
    near = place.near
    contest = Contest(
        place.context.room,
        place.context.alikes,
        near.bad_states(about),
        near.good_states(about),
        (place.natural.answers.without_hesitations(heard),),
    )
    alone = None
    for one in list(_candidates(heard, about, sound, place))[:_CONTESTS_AT_MOST]:
        weighed = agreement(one.words, contest, sound.among, sound.ask)
        if weighed is None:
            return None
        if weighed.of_both:
            return _taken(one, place, at_once=True)
        by_one = weighed.by_recogniser_alone() or (one.own and weighed.by_second_model_alone())
        if alone is None and by_one and not one.apart > near.policy.by_one:
            alone = _taken(one, place, at_once=False)
    return alone


def _candidates(heard: Words, about: About, sound: Sound, place: Place) -> Iterator[Candidate]:
    """The different ones, those of the second model first."""
    found: set[Words] = set()
    amounts = place.natural.answers.read(heard, about)
    if amounts in (Amounts.FULL, Amounts.SHORT):
        found.add(heard)
        yield Candidate(heard, 0.0, amounts is Amounts.FULL, own=True)
    looks = [one for one in sound.looks[:_LOOKED_AT] if not set(one) & set(_NO_WORDS)]
    for own, words in ((True, heard), *((False, one) for one in looks)):
        near = None if own and found else place.near.answer(words, about)
        if near is not None and near.words not in found and _fits(near, heard, place, own=own):
            found.add(near.words)
            yield Candidate(near.words, near.apart, near.full, own=own)


def _fits(near: NearAnswer, heard: Words, place: Place, *, own: bool) -> bool:
    """What the recogniser heard counts only where the second model heard nothing that turns it."""
    return own or not place.context.room.turns(heard, near.words)


def _taken(one: Candidate, place: Place, *, at_once: bool) -> Understood | Unconfirmed:
    name = place.asked.item
    match = Match(f"{name}.done", one.words)
    if at_once and not place.natural.items[name].stop:
        return Understood(match, one.words)
    return Unconfirmed(match, one.words)
