"""Whether both speech models, each by itself, find that an answer in people's own words was said.

The recogniser is asked where nothing is permitted but the answer, what denies, doubts or asks it,
the opposite states, and what sounds like it; the second model, which of these is likelier, and how
much likelier what it hears of its own accord is. Neither knows what the other says.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Protocol

from voicelist.understanding.confusables import SoundAlikes
from voicelist.understanding.hypothesis import Words
from voicelist.understanding.questions import Scores, Transcript
from voicelist.understanding.room_words import Room

_NOT_FOUND = float("-inf")


class Models(Protocol):
    """What both models can be asked: an inquiry."""

    def forced_choice(self, sentences: Sequence[Words], /) -> Scores | None:
        """How near sentences are for the recogniser; minus infinity for one that is not found."""

    def verifier_scores(self, sentences: Sequence[str], /) -> Scores | None:
        """How likely written sentences are for the second model."""

    def free_transcript(self) -> Transcript | None:
        """What the second model hears where nothing is given."""


@dataclass(frozen=True, slots=True)
class AgreementPolicy:
    """Logarithms of likelihood. Project choice, 27 November 2026, on the development half of
    tests/benchmarks/studies/plain_speech.py."""

    # How much nearer the answer must be to the recogniser than any other sentence, where both are
    # to find it or it alone;
    nearer: float = 0.5
    nearer_alone: float = 2.0
    # how much likelier to the second model than what the recogniser found near, and how much
    # likelier what this model hears by itself may be, for each word of the answer.
    likelier: float = 2.0
    likelier_alone: float = 0.0
    own_a_word: float = 2.2
    # (where the recogniser alone is to find it, and so much for all of it)
    own_a_word_alone: float = 2.5
    own_alone: float = 2.5
    # How many sentences are put to the second model.
    put_at_most: int = 5
    opposites: int = 6
    opposites_put: int = 2


POLICY = AgreementPolicy()


@dataclass(frozen=True, slots=True)
class Agreement:
    """How far an answer is before the nearest other sentence for the recogniser (None: it was not
    found), for the second model, and behind what this hears of its own accord, for each of its
    `words`."""

    nearer: float | None
    likelier: float
    own_a_word: float
    words: int

    @property
    def of_both(self) -> bool:
        """Whether both find it."""
        found = self.nearer is not None and self.nearer >= POLICY.nearer
        return found and self.by_second_model_alone()

    def by_second_model_alone(self) -> bool:
        return self.likelier >= POLICY.likelier and self.own_a_word <= POLICY.own_a_word

    def by_recogniser_alone(self) -> bool:
        """Whether it does, and to the second model it is not out of the question."""
        found = self.nearer is not None and self.nearer >= POLICY.nearer_alone
        possible = self.likelier >= POLICY.likelier_alone
        own_at_most = POLICY.own_a_word_alone + POLICY.own_alone / max(1, self.words)
        return found and possible and self.own_a_word <= own_at_most


@dataclass(frozen=True, slots=True)
class Contest:
    """What an answer stands against."""

    room: Room
    alikes: SoundAlikes | None
    opposites: Sequence[Words]
    states: Sequence[Words]
    heard: Sequence[Words] = ()
    written: Callable[[Words], str] = " ".join  # as anybody would write it

    def against(self, answer: Words) -> list[Words]:
        """The sentences, each once."""
        others = [*self.heard, *self._turned(answer), *self.opposite(answer)]
        if self.alikes is not None:
            others += self.alikes.in_place_of(answer, self.room.small_talk())
        return [one for one in dict.fromkeys(others) if one and one != answer]

    def _turned(self, answer: Words) -> Iterator[Words]:
        for at in range(1, len(answer)):
            yield (*answer[:at], "not", *answer[at:])
        for at, word in enumerate(answer):
            if word + "n't" in self.room.negations:
                yield (*answer[:at], word + "n't", *answer[at + 1 :])
            if word in self.room.negations:
                affirmed = () if word.removesuffix("n't") == word else (word.removesuffix("n't"),)
                yield (*answer[:at], *affirmed, *answer[at + 1 :])
        yield from ((*turn.split(), *answer) for turn in self.room.before)
        yield from ((*answer, *turn.split()) for turn in self.room.behind)

    def opposite(self, answer: Words) -> Iterator[Words]:
        at, end = max(_where(answer, self.states), key=lambda one: one[1] - one[0], default=(0, 0))
        if end:
            for state in self.opposites[: POLICY.opposites]:
                yield (*answer[:at], *state, *answer[end:])


def _where(words: Words, phrases: Sequence[Words]) -> Iterator[tuple[int, int]]:
    for phrase in phrases:
        for at in range(len(words) - len(phrase) + 1):
            if words[at : at + len(phrase)] == phrase:
                yield at, at + len(phrase)


def agreement(answer: Words, contest: Contest, models: Models) -> Agreement | None:
    """What both models make of an answer; None where one of them cannot be asked."""
    others = contest.against(answer)
    near = models.forced_choice([answer, *others])
    if near is None:
        return None
    ours, *theirs = near
    found = sorted(
        ((how, one) for how, one in zip(theirs, others, strict=True) if how > _NOT_FOUND),
        reverse=True,
    )
    put = [one for _, one in found][: POLICY.put_at_most]
    always = (*list(contest.opposite(answer))[: POLICY.opposites_put], *contest.heard)
    put += [one for one in dict.fromkeys(always) if one != answer and one not in put]
    scores = models.verifier_scores([contest.written(one) for one in (answer, *put)])
    transcript = models.free_transcript()
    if scores is None or transcript is None:
        return None
    likely, *of_others = scores
    nearest = max((how for how, _ in found), default=_NOT_FOUND)
    rivals = (how for how, one in zip(of_others, put, strict=True) if one not in contest.heard)
    own = max(transcript.log_likelihood, *of_others, _NOT_FOUND)
    return Agreement(
        None if ours == _NOT_FOUND else ours - nearest,
        likely - max(rivals, default=_NOT_FOUND),
        (own - likely) / max(1, len(answer)),
        len(answer),
    )
