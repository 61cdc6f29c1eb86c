"""People's own words, by sound: where the recogniser understood no permitted sentence, what the
second speech model hears freely is read as plain speech.

One model's word is not enough to pass anything: an answer is read back first, whatever it is about.
A denial is taken up. What is only talk, or loosely an answer, is left alone where the recogniser
heard no word of what is asked.
"""

from __future__ import annotations

from collections.abc import Callable, Set
from dataclasses import dataclass

from voicelist.session.natural import BARE_WORD, Natural
from voicelist.session.state import State
from voicelist.understanding.evidence import Ask
from voicelist.understanding.interpretation import (
    Context,
    Denied,
    NotForUs,
    NotUnderstood,
    Unconfirmed,
    Understanding,
    Understood,
)

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
class Asked:
    """What is asked, and what may be answered."""

    natural: Natural
    item: str
    active: Set[str]
    permitted: Callable[[tuple[str, ...]], object]

    @classmethod
    def of(cls, natural: Natural, state: State, context: Context) -> Asked:
        return cls(natural, state.asked, context.active, context.permitted)

    def read(self, words: tuple[str, ...]) -> Understanding | None:
        """What words amount to as plain speech."""
        return self.natural.understand(words, self.item, self.active)


def heard_freely(found: Understanding, ask: Ask, asked: Asked) -> Understanding:
    """What was understood, or else what the second model's own words amount to."""
    if isinstance(found, Understood | Denied) or _was_weighed(found, asked):
        return found
    heard = ask((), True)
    if heard is None or not heard.words:
        return found
    freely, for_us = asked.read(heard.words), not isinstance(found, NotForUs)
    own = asked.read(found.words) if for_us else None
    if own is not None and freely is not None and _same_answer(own, freely):
        return freely
    return _of_one_model(freely, found, asked, for_us=for_us)


def _was_weighed(found: Understanding, asked: Asked) -> bool:
    """Whether a permitted sentence was heard, and something spoke against it: that stands."""
    if not isinstance(found, NotUnderstood):
        return False
    spoken_against = found.torn or found.turned or bool(found.against)
    return spoken_against or bool(asked.permitted(found.words))


def _same_answer(one: Understanding, other: Understanding) -> bool:
    """Whether two models heard the same answer, each in words that amount to it by themselves."""
    if not (isinstance(one, Understood) and isinstance(other, Understood)):
        return False
    return one.match.rule == other.match.rule and not _has_numbers(other)


def _of_one_model(
    other: Understanding | None, found: Understanding, asked: Asked, *, for_us: bool
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


def _is_loose(asked: Asked, heard: Unconfirmed) -> bool:
    return not asked.natural.is_whole(heard.words, heard.match.rule)


def _has_numbers(heard: Understood | Unconfirmed) -> bool:
    """The second model writes some numbers in figures, which are not read: one may be missing."""
    return any(one.value is not None for one in heard.match.walk())


def _may_be_done(heard: Understood) -> bool:
    name = heard.match.rule.removeprefix(_COMMAND)
    whole = len(heard.words) >= _COMMAND_WORDS
    return name in _WORDS_TO_READ_BACK or (name in _MAY_BE_DONE and whole)
