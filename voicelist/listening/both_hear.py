"""People's own words that neither model heard quite as they were said: an answer that is near by
its sound is put to both.

What both find passes an ordinary item; a stop item, and what one of them finds, is read back first.
Nothing is looked for where a denial, a doubt or a question was heard.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import chain, islice

from voicelist.grammar.grammar import UNHEARD, UNKNOWN
from voicelist.grammar.match import Match
from voicelist.listening.free_transcript import PlainSpeechBySound
from voicelist.session.natural import Natural
from voicelist.understanding.both_models import Contest, Models, agreement
from voicelist.understanding.context import Context
from voicelist.understanding.hypothesis import Passes, Words
from voicelist.understanding.interpretation import (
    Denied,
    NotUnderstood,
    Unconfirmed,
    Understanding,
    Understood,
    is_ambiguous,
    is_negated,
)
from voicelist.understanding.near_by_phones import NearAnswer, NearByPhones
from voicelist.understanding.parsing import semantic_key_of
from voicelist.understanding.plain_speech import About, Amounts
from voicelist.understanding.questions import Inquiry

_NOT_FOUND = float("-inf")
_LOOKED_AT = 3
_CONTESTS_AT_MOST = 3
# Of so many words at most what the second model heard may have been one of the usual answers.
_SHORT = 8
_NO_WORDS = (UNKNOWN, UNHEARD)


@dataclass(frozen=True, slots=True)
class HeardSound:
    """What the recogniser heard, the best first, and what both models can be asked."""

    looks: Sequence[Words]
    models: Models

    def likeliest(self) -> list[Words]:
        """What the recogniser heard, if it is words."""
        return [one for one in self.looks[:_LOOKED_AT] if not set(one) & set(_NO_WORDS)]


@dataclass(frozen=True, slots=True)
class Candidate:
    """What may have been said: words of the second model as they are, or brought near, or words of
    the recogniser."""

    words: Words
    apart: float
    full: bool
    own: bool


@dataclass(frozen=True, slots=True)
class AskedPlace:
    """The item that is asked, and what may be said of it."""

    asked: PlainSpeechBySound
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

    @property
    def stops(self) -> bool:
        """Whether it is a stop item."""
        item = self.natural.items.get(self.asked.item)
        return item is not None and item.stop

    @property
    def has_value(self) -> bool:
        """Whether a value is asked for."""
        return f"{self.asked.item}.value" in self.asked.active


@dataclass(frozen=True, slots=True)
class BySound:
    """Plain speech as the last stage of a decision: what was heard freely, then what both find."""

    place: AskedPlace

    def __call__(self, found: Understanding, utterance: Passes, inquiry: Inquiry) -> Understanding:
        freely = self.place.asked(found, inquiry.free_transcript)
        sound = HeardSound([one.words for one in utterance.first], inquiry)
        return heard_by_both(freely, found, sound, self.place)


def heard_by_both(
    freely: Understanding, strictly: Understanding, sound: HeardSound, place: AskedPlace
) -> Understanding:
    """What was understood strictly and then freely, or what both models make of an answer that is
    near to it."""
    if isinstance(strictly, Understood | Denied) or isinstance(freely, Understood | Denied):
        return freely
    if isinstance(freely, Unconfirmed) and place.stops:
        return freely  # read back in any case
    if is_ambiguous(strictly):
        return freely  # two permitted sentences were near, and both models have been asked
    about, valued = place.about, place.has_value
    told = sound.models.free_transcript() if about is not None or valued else None
    if told is None or not told.words:
        return freely
    if about is None:
        return _value(told.words, sound, place) or freely
    for_us = isinstance(strictly, NotUnderstood)
    found = _agreed(told.words, about, sound, place, for_us=for_us)
    if found is None or (isinstance(freely, Unconfirmed) and isinstance(found, Unconfirmed)):
        return freely
    if is_negated(strictly) and isinstance(found, Understood):
        return Unconfirmed(found.match, found.words)
    return found


def _value(heard: Words, sound: HeardSound, place: AskedPlace) -> Understood | Unconfirmed | None:
    """A value that the recogniser heard, if all that it heard nearly as well says the same, and it
    is not out of the question for the second model. Settings are always read back by the case."""
    looks = sound.likeliest()
    meant = map(place.asked.read, looks)
    read = [one for one in meant if isinstance(one, Understood | Unconfirmed)]
    values = [one.match for one in read if one.match.rule == f"{place.asked.item}.value"]
    turned = place.near.is_turned(place.natural.answers.without_hesitations(heard))
    if not values or turned or len({semantic_key_of((one,)) for one in values}) > 1:
        return None
    said = next(one.words for one in read if one.match is values[0])
    if place.context.room.turns(heard, said):
        return None
    written = place.context.grammar.as_written
    contest = Contest(place.context.room, None, (), (), (heard,), written)
    weighed = agreement(said, contest, sound.models)
    if weighed is None or not weighed.by_recogniser_alone():
        return None
    profile = place.natural.items[place.asked.item].compare == "profile"
    return (Understood if profile else Unconfirmed)(values[0], said)


def _agreed(
    heard: Words, about: About, sound: HeardSound, place: AskedPlace, *, for_us: bool
) -> Understood | Unconfirmed | None:
    """The first candidate that both models find, or else one that one of them does."""
    near = place.near
    contest = Contest(
        place.context.room,
        place.context.alikes,
        near.bad_states(about),
        near.good_states(about),
        (place.natural.answers.without_hesitations(heard),),
        place.context.grammar.as_written,
    )
    alone = None
    every = _candidates(heard, about, sound, place)
    if for_us:
        every = chain(every, _typical(heard, about, sound, place))
    for one in islice(every, _CONTESTS_AT_MOST):
        weighed = agreement(one.words, contest, sound.models)
        if weighed is None:
            return None
        if weighed.of_both:
            return _taken(one, place, at_once=True)
        by_one = weighed.by_recogniser_alone() or (one.own and weighed.by_second_model_alone())
        if alone is None and by_one and not one.apart > near.policy.by_one:
            alone = _taken(one, place, at_once=False)
    return alone


def _candidates(
    heard: Words, about: About, sound: HeardSound, place: AskedPlace
) -> Iterator[Candidate]:
    """The different ones, those of the second model first."""
    found: set[Words] = set()
    amounts = place.natural.answers.read(heard, about)
    if amounts in (Amounts.FULL, Amounts.SHORT):
        found.add(heard)
        yield Candidate(heard, 0.0, amounts is Amounts.FULL, own=True)
    turned = place.near.is_turned(place.natural.answers.without_hesitations(heard))
    looks = [] if turned else sound.likeliest()
    for own, words in ((True, heard), *((False, one) for one in looks)):
        near = None if own and (found or turned) else place.near.answer(words, about)
        if near is not None and near.words not in found and _fits(near, heard, place, own=own):
            found.add(near.words)
            yield Candidate(near.words, near.apart, near.full, own=own)


def _typical(
    heard: Words, about: About, sound: HeardSound, place: AskedPlace
) -> Iterator[Candidate]:
    """The one of the answers that people give most which is nearest for the recogniser; only where
    a word of what is asked was heard."""
    turned = place.near.is_turned(place.natural.answers.without_hesitations(heard))
    typical = [] if turned or len(heard) > _SHORT else place.near.typical(about)
    near = sound.models.forced_choice(typical) if typical else None
    found = [(how, one) for how, one in zip(near or (), typical, strict=False) if how > _NOT_FOUND]
    if found:
        _, words = max(found)
        amounts = place.natural.answers.read(words, about)
        whole = amounts in (Amounts.FULL, Amounts.SHORT)
        if whole and not place.context.room.turns(heard, words):
            yield Candidate(words, 0.0, full=False, own=False)


def _fits(near: NearAnswer, heard: Words, place: AskedPlace, *, own: bool) -> bool:
    """What the recogniser heard counts only where the second model heard nothing that turns it."""
    return own or not place.context.room.turns(heard, near.words)


def _taken(one: Candidate, place: AskedPlace, *, at_once: bool) -> Understood | Unconfirmed:
    name = place.asked.item
    match = Match(f"{name}.done", one.words)
    if at_once and not place.stops:
        return Understood(match, one.words)
    return Unconfirmed(match, one.words)
