"""Questions that are asked aloud and answered: what an answer is worth, what comes of many. Pure:
whoever asks gives the words of the answers and how long they took."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Protocol

from voicelist.grammar.match import Match

# So often a question is answered; then the answer is told. Project choice.
TRIES = 2


@dataclass(frozen=True, slots=True)
class QuizVerdict:
    """What an answer is worth. `told` is said next, `shown` are lines for the display alone: the
    reasons, each with its source. `answer` is what was understood, in words."""

    right: bool
    told: tuple[str, ...]
    shown: tuple[str, ...] = ()
    answer: str = ""


class QuizQuestion(Protocol):
    """Something that is asked. `roots` name the rules that permit its answers."""

    @property
    def kind(self) -> str: ...

    @property
    def about(self) -> str: ...

    @property
    def text(self) -> str: ...

    @property
    def roots(self) -> tuple[str, ...]: ...

    def judged(self, answers: Sequence[Match], *, last: bool) -> QuizVerdict:
        """What all answers so far amount to; after the `last` one the right one is told."""


@dataclass(frozen=True, slots=True)
class AskedOnce:
    """A question as it went: the answers in words, the seconds from the end of the question to each
    of them, and whether the last was right."""

    kind: str
    about: str
    text: str
    answers: tuple[str, ...]
    seconds: tuple[float, ...]
    right: bool
    reasons: tuple[str, ...] = ()

    @property
    def at_once(self) -> bool:
        return self.right and len(self.answers) == 1


@dataclass(frozen=True, slots=True)
class Score:
    """What came of a practice. `ended_early` where not all was asked."""

    asked: tuple[AskedOnce, ...] = field(default=())
    questions: int = 0

    @property
    def ended_early(self) -> bool:
        return len(self.asked) < self.questions

    @property
    def at_once(self) -> int:
        return sum(one.at_once for one in self.asked)

    @property
    def later(self) -> int:
        return sum(one.right and not one.at_once for one in self.asked)
