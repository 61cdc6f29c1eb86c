"""People's own words, by sound: where the recogniser understood no permitted sentence, what the
verifier hears freely is read as plain speech.

One model's word is not enough to pass anything: an answer is read back first, whatever it is about.
A denial is taken up. What is only talk, or loosely an answer, is left alone where the recogniser
heard no word of what is asked.
"""

from __future__ import annotations

from collections.abc import Callable, Set
from dataclasses import dataclass

from voicelist.grammar.match import Match
from voicelist.session.natural import BARE_WORD, Natural
from voicelist.session.state import State
from voicelist.understanding.context import Context
from voicelist.understanding.hypothesis import Words
from voicelist.understanding.interpretation import (
    Denied,
    Doubt,
    NotForUs,
    NotUnderstood,
    Unconfirmed,
    Understanding,
    Understood,
)
from voicelist.understanding.questions import Transcript

_COMMAND = "command."
# Heard by one model alone these may be done: they change no answer.
_MAY_BE_DONE = (
    "say_again",
    "where_are_we",
    "what_is_open",
    "why_asked",
    "what_may_be_said",
    "hold_on",
    "carry_on",
    "silence",
)
# To what was read back; the answer itself was heard before.
_WORDS_TO_READ_BACK = (
    "correct",
    "report_it",
    "do_not_report",
    "go_on_with_case",
    "not_yet",
    "keep_plan",
)
# From so many words on talk that holds a command is taken for one.
_COMMAND_WORDS = 2


@dataclass(frozen=True, slots=True)
class PlainSpeechBySound:
    """Reads what the verifier hears freely, by what is asked and what may be answered: the last
    stage of a decision."""

    natural: Natural
    item: str
    active: Set[str]
    permitted: Callable[[Words], object]

    @classmethod
    def of(cls, natural: Natural, state: State, context: Context) -> PlainSpeechBySound:
        return cls(natural, state.asked, context.active, context.permitted)

    def __call__(
        self, found: Understanding, transcribe: Callable[[], Transcript | None]
    ) -> Understanding:
        """What was understood, or else what the verifier's own words amount to."""
        if isinstance(found, Understood | Denied) or _was_weighed(found, self):
            return found
        heard = transcribe()
        if heard is None or not heard.words:
            return found
        freely, for_us = self.read(heard.words), not isinstance(found, NotForUs)
        own = self.read(found.words) if for_us else None
        if own is not None and freely is not None and _same_answer(own, freely):
            return freely
        return _of_one_model(freely, found, self, for_us=for_us)

    def read(self, words: Words) -> Understanding | None:
        """What words amount to as plain speech."""
        return self.natural.understand(words, self.item, self.active)


def _was_weighed(found: Understanding, asked: PlainSpeechBySound) -> bool:
    """Whether a permitted sentence was heard, and something spoke against it: that stands."""
    if not isinstance(found, NotUnderstood):
        return False
    weighed = found.doubt is not Doubt.OUT_OF_GRAMMAR or bool(found.against)
    return weighed or bool(asked.permitted(found.words))


def _same_answer(one: Understanding, other: Understanding) -> bool:
    """Whether two models heard the same answer, each in words that amount to it by themselves."""
    if not (isinstance(one, Understood) and isinstance(other, Understood)):
        return False
    same = one.match.rule == other.match.rule and _told(one.match) == _told(other.match)
    return same and not _has_numbers(other)


def _told(match: Match) -> list[tuple[str, str, tuple[str, ...]]]:
    """What an answer tells beyond its being one: a side, a model, a reason."""
    return [(part.rule, part.text, part.tags) for part in match.walk() if part is not match]


def _of_one_model(
    other: Understanding | None, found: Understanding, asked: PlainSpeechBySound, *, for_us: bool
) -> Understanding:
    match other:
        case Denied():
            return other if for_us and asked.natural.denies(other.words) else found
        case Understood() | Unconfirmed() if _has_numbers(other):
            return found
        case Unconfirmed():
            return other if for_us or not _is_loose(asked, other) else found
        case Understood() if other.match.rule.startswith(_COMMAND):
            return other if _may_be_done(other) else found
        case Understood() if other.match.rule.endswith(".fault"):
            return Denied(f"{asked.item}.done", other.words)
        case Understood():
            return Unconfirmed(other.match, other.words)
        case NotUnderstood(why=why) if why == BARE_WORD:
            return other
    return found


def _is_loose(asked: PlainSpeechBySound, heard: Unconfirmed) -> bool:
    return not asked.natural.is_whole(heard.words, heard.match.rule)


def _has_numbers(heard: Understood | Unconfirmed) -> bool:
    """The verifier writes some numbers in figures, which are not read: one may be missing."""
    return any(one.value is not None for one in heard.match.walk())


def _may_be_done(heard: Understood) -> bool:
    name = heard.match.rule.removeprefix(_COMMAND)
    whole = len(heard.words) >= _COMMAND_WORDS
    return name in _WORDS_TO_READ_BACK or (name in _MAY_BE_DONE and whole)
