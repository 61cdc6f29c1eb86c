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
from voicelist.understanding.hypothesis import NBest, Words
from voicelist.understanding.questions import Scores, Transcript
from voicelist.understanding.room_words import Room

_NOT_FOUND = float("-inf")


class Models(Protocol):
    """What both models can be asked: an inquiry."""

    def forced_choice(self, sentences: Sequence[Words], /) -> Scores | None:
        """How near sentences are for the recogniser; minus infinity for one that is not found."""

    def decode_under(self, phrases: tuple[str, ...], /) -> NBest | None:
        """What the recogniser hears where nothing but the word pairs of phrases is permitted."""

    def verifier_scores(self, sentences: Sequence[str], /) -> Scores | None:
        """How likely written sentences are for the second model."""

    def free_transcript(self) -> Transcript | None:
        """What the second model hears where nothing is given."""


# Sentences that are put to the second model beside an answer, the recogniser's nearest first; and
# opposite states that are tried, and put in any case.
_PUT_AT_MOST = 5
_OPPOSITES, _OPPOSITES_PUT = 6, 2


@dataclass(frozen=True, slots=True)
class Agreement:
    """How far an answer is before the nearest other sentence for the recogniser (None: it was not
    found), how much likelier than others it is to the second model, and how much likelier what this
    hears of its own accord is."""

    nearer: float | None
    likelier: float
    own: float


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
            yield from ((*answer[:at], word, *answer[at:]) for word in self.room.denials)
        for at, word in enumerate(answer):
            for ending in self.room.denying_endings:
                if word + ending in self.room.negations:
                    yield (*answer[:at], word + ending, *answer[at + 1 :])
            if word in self.room.negations:
                affirmed = self.room.affirmed(word)
                yield (*answer[:at], *affirmed, *answer[at + 1 :])
        yield from ((*turn.split(), *answer) for turn in self.room.before)
        yield from ((*answer, *turn.split()) for turn in self.room.behind)

    def opposite(self, answer: Words) -> Iterator[Words]:
        at, end = max(_where(answer, self.states), key=lambda one: one[1] - one[0], default=(0, 0))
        if end:
            for state in self.opposites[:_OPPOSITES]:
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
    put = [one for _, one in found][:_PUT_AT_MOST]
    always = (*list(contest.opposite(answer))[:_OPPOSITES_PUT], *contest.heard)
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
        own - likely,
    )
