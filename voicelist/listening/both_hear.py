"""People's own words that neither model heard quite as they were said: an answer that is near by
its sound is put to both.

What both find passes an ordinary item; a stop item, and what one of them finds, is read back first.
Nothing is looked for where a denial, a doubt or a question was heard.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from voicelist.grammar.grammar import UNHEARD, UNKNOWN
from voicelist.grammar.match import Match
from voicelist.listening.free_transcript import PlainSpeechBySound
from voicelist.session.natural import Natural, value_meaning
from voicelist.understanding.both_models import Contest, Models, agreement
from voicelist.understanding.context import Context
from voicelist.understanding.hypothesis import Passes, Words
from voicelist.understanding.interpretation import (
    Denied,
    Unconfirmed,
    Understanding,
    Understood,
    is_ambiguous,
    is_negated,
)
from voicelist.understanding.near_by_phones import NearByPhones
from voicelist.understanding.plain_score import SCORE, Evidence
from voicelist.understanding.plain_speech import KEEPS_FROM, About, Amounts
from voicelist.understanding.policy import POLICY
from voicelist.understanding.questions import Inquiry

# Of what the recogniser heard so many are looked at, where values may be said, and so many, where
# the item's own words are listened for.
_LOOKED_AT = 3
_ANSWERS_AT_MOST = 8
# Score so near to the best that a value may be either.
_AS_NEAR = 1.5
_NO_WORDS = (UNKNOWN, UNHEARD)
# Of what keeps words from being an answer, what also stands in none.
_IN_NO_ANSWER = ("later", "reported", "doubtful")


@dataclass(frozen=True, slots=True)
class HeardSound:
    """What the recogniser heard, the best first, and what both models can be asked."""

    looks: Sequence[Words]
    models: Models

    def likeliest(self) -> list[Words]:
        """What the recogniser heard, if it is words."""
        return [one for one in self.looks[:_LOOKED_AT] if not set(one) & set(_NO_WORDS)]


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

    def value_phrases(self) -> tuple[str, ...]:
        """What is said of the value that is asked for."""
        phrases = self.near.phrases
        if self.natural.items[self.asked.item].compare == "profile":
            return phrases.of_settings()
        value, source = self.natural.value_phrase(self.asked.item)
        return () if value is None else phrases.of_value(value, source)

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
    found = _agreed(told.words, about, sound, place)
    if found is None or (isinstance(freely, Unconfirmed) and isinstance(found, Unconfirmed)):
        return freely
    if is_negated(strictly) and isinstance(found, Understood):
        return Unconfirmed(found.match, found.words)
    return found


def _value(heard: Words, sound: HeardSound, place: AskedPlace) -> Understood | Unconfirmed | None:
    """A value that the recogniser heard, if what it heard nearly as well says the same or is far
    less likely to the second model, and it is probable to both. It is read back, unless the second
    model heard the same value by itself. Settings are always read back by the case."""
    if place.near.is_turned(place.natural.answers.without_hesitations(heard)):
        return None
    every = [*sound.likeliest(), *_guessed_values(sound, place)]
    meant = [(words, place.asked.read(words)) for words in dict.fromkeys(every)]
    rule = f"{place.asked.item}.value"
    values: dict[object, tuple[Words, Match]] = {}
    for words, one in meant:
        if isinstance(one, Understood | Unconfirmed) and one.match.rule == rule:
            values.setdefault(value_meaning(one.match), (words, one.match))
    chosen = _likeliest_value(list(values.values()), sound, place)
    if chosen is None:
        return None
    said, match = chosen
    if place.context.room.turns(heard, said):
        return None
    written = place.context.grammar.as_written
    evidence = _evidence(said, Contest(place.context.room, None, (), (), (heard,), written), sound)
    if evidence is None or not SCORE.is_read_back(evidence):
        return None
    other = place.asked.read(heard)
    same = isinstance(other, Understood) and value_meaning(other.match) == value_meaning(match)
    sure = same and SCORE.passes(evidence)
    profile = place.natural.items[place.asked.item].compare == "profile"
    return (Understood if profile or sure else Unconfirmed)(match, said)


def _likeliest_value(
    values: Sequence[tuple[Words, Match]], sound: HeardSound, place: AskedPlace
) -> tuple[Words, Match] | None:
    """The one value; of several that were heard nearly as well the one that is far likelier to the
    second model."""
    if len(values) < 2:
        return values[0] if values else None
    written = [place.context.grammar.as_written(words) for words, _ in values]
    likely = sound.models.verifier_scores(written)
    if likely is None:
        return None
    best, second = sorted(likely, reverse=True)[:2]
    return values[likely.index(best)] if best - second >= POLICY.verifier_margin else None


def _guessed_values(sound: HeardSound, place: AskedPlace) -> list[Words]:
    """What the recogniser hears where it listens for the value in people's own words."""
    guessed = sound.models.decode_under(place.value_phrases()) or ()
    near = [one for one in guessed if guessed[0].score - one.score <= _AS_NEAR]
    return [one.words for one in near if not set(one.words) & set(_NO_WORDS)]


def _agreed(
    heard: Words, about: About, sound: HeardSound, place: AskedPlace
) -> Understood | Unconfirmed | None:
    """The answer that may have been said, if it is probable enough."""
    weighed = weighed_answer(heard, about, sound, place)
    if weighed is None:
        return None
    words, evidence = weighed
    if not SCORE.is_read_back(evidence):
        return None
    return _taken(words, place, at_once=SCORE.passes(evidence))


def weighed_answer(
    heard: Words, about: About, sound: HeardSound, place: AskedPlace
) -> tuple[Words, Evidence] | None:
    """Of the answers that may have been said the one that is likeliest to the second model, which
    `heard` these words, and what both models make of it."""
    every = _possible(heard, about, sound, place)
    written = place.context.grammar.as_written
    likely = sound.models.verifier_scores([written(one) for one in every]) if every else None
    if not likely:
        return None
    best = max(zip(likely, every, strict=True))[1]
    near = place.near
    contest = Contest(
        place.context.room,
        place.context.alikes,
        near.bad_states(about),
        near.good_states(about),
        (place.natural.answers.without_hesitations(heard),),
        written,
    )
    evidence = _evidence(best, contest, sound)
    return None if evidence is None else (best, evidence)


def _evidence(words: Words, contest: Contest, sound: HeardSound) -> Evidence | None:
    """None where one of the models cannot be asked."""
    weighed = agreement(words, contest, sound.models)
    if weighed is None:
        return None
    return Evidence(weighed.nearer, weighed.likelier, weighed.own, len(words))


def _possible(heard: Words, about: About, sound: HeardSound, place: AskedPlace) -> Sequence[Words]:
    """The different answers that may have been said: what the recogniser hears where it listens
    for the item's own words, what the second model heard, as it is and brought near. Nothing else
    than that where it denies, doubts, asks or puts off."""
    own = [heard] if _is_answer(heard, about, place) else []
    if place.near.is_turned(place.natural.answers.without_hesitations(heard)):
        return own
    guessed = sound.models.decode_under(place.near.phrases.of(about)) or ()
    words = (one.words for one in guessed if not set(one.words) & set(_NO_WORDS))
    answers = [one for one in words if _is_answer(one, about, place)][:_ANSWERS_AT_MOST]
    near = place.near.answer(heard, about)
    if near is not None and _is_answer(near.words, about, place):
        answers.append(near.words)
    others = (one for one in answers if not _speaks_against(heard, one, place))
    return list(dict.fromkeys((*own, *others)))


def _speaks_against(heard: Words, answer: Words, place: AskedPlace) -> bool:
    """Whether the second model heard a denial, a doubt or a question that the answer has not, or
    anything that puts off or was reported."""
    answers = place.natural.answers
    if place.context.room.turns(heard, answer):
        return True
    written, other = answers.written_out(heard), answers.written_out(answer)
    return any(
        answers.around.holds_any(rule, written)
        and (rule in _IN_NO_ANSWER or not answers.around.holds_any(rule, other))
        for rule in KEEPS_FROM
    )


def _is_answer(words: Words, about: About, place: AskedPlace) -> bool:
    return place.natural.answers.read(words, about) in (Amounts.FULL, Amounts.SHORT)


def _taken(words: Words, place: AskedPlace, *, at_once: bool) -> Understood | Unconfirmed:
    match = Match(f"{place.asked.item}.done", words)
    if at_once and not place.stops:
        return Understood(match, words)
    return Unconfirmed(match, words)
