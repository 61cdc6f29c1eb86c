"""What one decoding of an utterance amounts to. Doubt never passes; a denial is taken up.

The recogniser bends near sentences into permitted ones, so a hypothesis counts only if it parses
strictly and whole, if no hypothesis that says something else is about as near to the sound, and if
a second pass over the same sound, in which each answer stands beside its denials, doubts and
questions, does not find one of these nearer.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum, auto

from voicelist.grammar.match import Match
from voicelist.understanding.context import Context, is_command
from voicelist.understanding.hypothesis import Hypothesis, Passes, Words
from voicelist.understanding.parsing import (
    ParsedHypothesis,
    has_two_meanings,
    parsed,
    semantic_key_of,
)
from voicelist.understanding.policy import POLICY, Policy
from voicelist.understanding.rejection import (
    in_the_way,
    is_negated_short,
    nearest,
    rival,
    veto,
)
from voicelist.understanding.room_words import Room


@dataclass(frozen=True, slots=True)
class Understood:
    """A permitted sentence; `match.rule` names the phrase. `more` are further ones, said in the
    same breath."""

    match: Match
    words: Words
    more: tuple[Match, ...] = ()

    @property
    def matches(self) -> tuple[Match, ...]:
        """All of them, in the order said."""
        return (self.match, *self.more)


@dataclass(frozen=True, slots=True)
class Unconfirmed:
    """An answer as people put it: it passes nothing until it was read back and agreed to."""

    match: Match
    words: Words


@dataclass(frozen=True, slots=True)
class Denied:
    """The negation of a permitted answer; `in_other_words`, something that may be amiss."""

    rule: str
    words: Words
    in_other_words: bool = False


class Doubt(Enum):
    """Why something is not taken: it is no permitted sentence (`OUT_OF_GRAMMAR`); it may have been
    another permitted sentence, or one that sounds like it (`AMBIGUOUS`); a short answer may have
    been negated, hedged or asked (`NEGATED_OR_HEDGED`); decoded again it was not the same, or there
    was no time left to make sure (`NOT_CONFIRMED`)."""

    OUT_OF_GRAMMAR = auto()
    AMBIGUOUS = auto()
    NEGATED_OR_HEDGED = auto()
    NOT_CONFIRMED = auto()


@dataclass(frozen=True, slots=True)
class NotUnderstood:
    """Meant for us, but not taken; `why` for people, `doubt` for the next stages. `offers` are
    permitted sentences that were near, `against` what stood in the way that is not permitted."""

    words: Words
    why: str
    offers: tuple[str, ...] = ()
    doubt: Doubt = Doubt.OUT_OF_GRAMMAR
    against: Words = ()


@dataclass(frozen=True, slots=True)
class NotForUs:
    """Talk that holds no word of what is asked."""

    words: Words


Understanding = Understood | Unconfirmed | Denied | NotUnderstood | NotForUs


@dataclass(frozen=True, slots=True)
class Interpretation:
    """What one decoding amounts to, the permitted hypothesis that is nearest to the sound, and all
    that are permitted; whether the words hardly stood out from what was around them."""

    found: Understanding
    nearest: ParsedHypothesis | None = None
    permitted: tuple[ParsedHypothesis, ...] = ()
    low_snr: bool = False


def understand(
    hypotheses: Sequence[Hypothesis],
    second_pass: Sequence[Hypothesis],
    context: Context,
    policy: Policy = POLICY,
) -> Understanding:
    """What hypotheses amount to by themselves, without anything else that could be asked."""
    return interpreted(Passes(tuple(hypotheses), tuple(second_pass)), context, policy).found


def interpreted(passes: Passes, context: Context, policy: Policy) -> Interpretation:
    """What one decoding amounts to."""
    low_snr = any(hypothesis.low_snr for hypothesis in passes.first[:1])
    hypotheses = parsed(passes.first, context, policy)
    if not hypotheses:
        return Interpretation(NotForUs(()), low_snr=low_snr)
    permitted = tuple(hypothesis for hypothesis in hypotheses if hypothesis.permitted)
    if permitted:
        taken = nearest(permitted, policy)
        found = _accepted_or_not(taken, hypotheses, passes.second, context, policy)
        return Interpretation(found, taken, permitted, low_snr)
    words = hypotheses[0].words
    doubt = _denied(words, context) or _out_of_grammar(words, passes.second, context)
    return Interpretation(doubt, low_snr=low_snr)


def _accepted_or_not(
    taken: ParsedHypothesis,
    hypotheses: Sequence[ParsedHypothesis],
    second_pass: Sequence[Hypothesis],
    context: Context,
    policy: Policy,
) -> Understanding:
    """Whether the permitted hypothesis that is nearest to the sound may be taken."""
    words, room = taken.words, context.room
    if has_two_meanings(taken):
        return NotUnderstood(words, "it can be read in two ways", context.offers(words))
    other = rival(taken, hypotheses, room, policy)
    if other is not None:
        rivals = (" ".join(words), " ".join(other.words))
        return NotUnderstood(words, f"it may also have been '{rivals[1]}'", rivals, Doubt.AMBIGUOUS)
    answers = context.words()
    nearer = in_the_way(taken, hypotheses, room, answers, policy)
    if nearer is not None:
        why = "it was nearer to something that is not permitted"
        doubt = _doubt_by(taken, nearer, room, policy)
        offers = context.offers(nearer.words)
        unsure = NotUnderstood(nearer.words, why, offers, doubt, against=nearer.words)
        denied = _denied(nearer.words, context) if nearer.gap < taken.cost else None
        return denied or unsure
    answer = answer_of(taken)
    rule = answer.match.rule
    second = [] if rule in context.harmless else parsed(second_pass, context, policy)
    vetoed = veto(taken, hypotheses, second, room, answers, policy, command=is_command(rule))
    if vetoed is not None:
        why = f"the second look heard '{' '.join(vetoed.words)}'"
        offers, against = (" ".join(words),), () if vetoed.permitted else vetoed.words
        doubt = _doubt_by(taken, vetoed, room, policy)
        unsure = NotUnderstood(words, why, offers, doubt, against)
        nearest_there = vetoed.words == second[0].words
        return (_denied(vetoed.words, context) if nearest_there else None) or unsure
    return answer


def _doubt_by(
    taken: ParsedHypothesis, other: ParsedHypothesis, room: Room, policy: Policy
) -> Doubt:
    negated = is_negated_short(taken, other, room, policy)
    return Doubt.NEGATED_OR_HEDGED if negated else Doubt.OUT_OF_GRAMMAR


def answer_of(taken: ParsedHypothesis) -> Understood:
    """What a permitted hypothesis says."""
    first, *more = taken.matches[:1] or taken.together
    return Understood(first, taken.words, tuple(more))


def is_ambiguous(found: Understanding) -> bool:
    """Whether another sentence was about as near."""
    return isinstance(found, NotUnderstood) and found.doubt is Doubt.AMBIGUOUS


def is_negated(found: Understanding) -> bool:
    """Whether a short answer may have been negated, hedged or asked."""
    return isinstance(found, NotUnderstood) and found.doubt is Doubt.NEGATED_OR_HEDGED


def same_meaning(answer: Understood, other: Understood) -> bool:
    """Whether two utterances say the same things, however they are worded."""
    return semantic_key_of(answer.matches) == semantic_key_of(other.matches)


def same_answer(answer: Understood, other: Understood, room: Room) -> bool:
    """The same, or whether only words of asking set them apart."""
    asked = room.asked_for(answer.words) == room.asked_for(other.words)
    return asked or same_meaning(answer, other)


def _denied(words: Words, context: Context) -> Denied | None:
    """The answer that is left when the negation is taken out. Where the whole answer stands beside
    the negation ("no, irrigation line firm") it may be a correction, so nothing is taken up; and a
    denial that is read back never holds a permitted sentence."""
    room = context.room
    if not room.negations.intersection(words) or words[0] in room.questions:
        return None
    if context.grammar.graph.accepted_run(words) is not None:
        return None
    affirmed = tuple(word for word in words if word not in room.negations)
    for bare in (affirmed, tuple(room.meaning(affirmed))):
        for match in context.permitted(bare):
            if match.rule.endswith(".done"):
                return Denied(match.rule, words)
    meant = room.meaning(affirmed)
    for name in context.answers():
        if name.endswith(".done") and any(
            room.meaning(text.split()) == meant for text in context.grammar.examples(name)
        ):
            return Denied(name, words)
    return None


def _out_of_grammar(
    words: Words, second_pass: Sequence[Hypothesis], context: Context
) -> Understanding:
    """Not permitted: is it for us at all? Both passes must hold a word of what is asked, because
    the grammar bends any talk towards its own words."""
    topics = context.topics()
    second_words = second_pass[0].words if second_pass else words
    if not topics.intersection(words) or not topics.intersection(second_words):
        return NotForUs(words)
    why = "it is not one of the permitted answers"
    return NotUnderstood(words, why, context.offers(words))
