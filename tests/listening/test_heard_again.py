"""A session has what is doubtful heard again, and only that."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import cast

import pytest

from tests.session.talk import Talk
from tests.understanding.small_room import Answers, ranked
from voicelist.asr.recogniser_process import RecogniserProcess
from voicelist.asr.utterance import DecodedUtterance
from voicelist.listening.sound import Piece, SoundHearer
from voicelist.session.events import Utterance
from voicelist.session.state import State
from voicelist.understanding.hypothesis import Passes
from voicelist.understanding.interpretation import NotUnderstood, Unconfirmed, Understood
from voicelist.understanding.policy import POLICY
from voicelist.understanding.questions import Question, Reply, Transcript

PLAIN = ("irrigation line firm",)
DOUBTFUL = ("irrigation line firm", "irrigation line loose")


def sound(*texts: str, in_noise: bool = False) -> DecodedUtterance:
    """An utterance in which these were found about as near, one after the other."""
    return DecodedUtterance(0, 1, 8_000, 24_000, 29_000, passes(*texts, in_noise=in_noise))


def passes(*texts: str, in_noise: bool = False) -> Passes:
    found = tuple(
        replace(
            one, spans_s=tuple((0.5 + 0.3 * at, 0.8 + 0.3 * at) for at in range(len(one.words)))
        )
        for one in ranked(texts, 0.1)
    )
    return Passes(found, found, in_noise)


class RecogniserTold:
    """Has heard one utterance, and answers as it is told."""

    behind_samples = 0

    def __init__(self, heard: DecodedUtterance, answers: Answers) -> None:
        self._heard, self._answers = [heard], answers

    def ask(
        self,
        utterance: DecodedUtterance,
        question: Question,
        by_s: float,
        meanwhile: Callable[[], None] | None = None,
    ) -> Reply | None:
        if meanwhile is not None:
            meanwhile()
        return self._answers.ask(question, by_s)

    def listen(self, grammar: object) -> None: ...

    def feed(self, channel: int, samples: object, first_sample: int) -> None: ...

    def wait(self, timeout_s: float) -> None: ...

    def poll(self, timeout_s: float) -> DecodedUtterance | None:
        return self._heard.pop() if self._heard else None

    def reached_sample(self, channel: int) -> int:
        return 29_000

    def open_from_sample(self, channel: int) -> None: ...


class Room:
    """Gives no sound: all has been heard."""

    channels = 1

    def cue(self, state: State) -> None: ...

    def answered(self) -> None: ...

    def read(self) -> Piece | None:
        return None


def heard(told: DecodedUtterance, answers: Answers) -> Utterance:
    talk, recogniser = Talk(), cast(RecogniserProcess, RecogniserTold(told, answers))
    event = SoundHearer(talk.case, recogniser, Room(), (), frozenset()).next_event(talk.state)
    assert isinstance(event, Utterance)
    return event


def again(*texts: str) -> Iterator[Passes]:
    """However often it is decoded again."""
    return itertools.repeat(passes(*texts))


def test_a_plain_answer_is_decoded_once_and_nothing_is_asked() -> None:
    answers = Answers(again(*PLAIN), likely={}, free=Transcript(("firm",)))
    assert isinstance(heard(sound(*PLAIN), answers).understanding, Understood)
    assert answers.asked == []


def test_a_doubt_may_be_dispelled_and_what_was_decoded_is_told() -> None:
    answers = Answers(again(*PLAIN))
    found = heard(sound(*DOUBTFUL), answers)
    assert isinstance(found.understanding, Understood)
    assert found.voice.alternatives == DOUBTFUL
    assert found.voice.again == PLAIN
    assert answers.speeds() == [POLICY.speeds[0]]


class OneIsLost:
    """Two microphones, of which one is found lost once they are read."""

    all_heard = True

    def take_in(self) -> None:
        self.all_heard = False


@pytest.mark.parametrize(("said", "role"), [(PLAIN, "circulating-nurse"), (DOUBTFUL, "")])
def test_microphones_are_read_while_it_is_decided_and_a_loss_found_then_counts(
    said: tuple[str, ...], role: str
) -> None:
    talk = Talk()
    recogniser = cast(RecogniserProcess, RecogniserTold(sound(*said), Answers(again(*PLAIN))))
    hearer = SoundHearer(
        talk.case, recogniser, Room(), ("circulating-nurse", "surgeon"), frozenset()
    )
    hearer.microphones = OneIsLost()
    event = hearer.next_event(talk.state)
    assert isinstance(event, Utterance)
    assert event.voice.role == role


def test_a_doubt_that_stays_is_asked_about() -> None:
    answers = Answers(again(*DOUBTFUL))
    found = heard(sound(*DOUBTFUL), answers)
    assert isinstance(found.understanding, NotUnderstood)
    assert found.understanding.offers == DOUBTFUL
    assert answers.speeds() == list(POLICY.speeds)


@pytest.mark.parametrize("decodings", [(), (Passes(()),)])
def test_what_cannot_be_decoded_again_passes_nothing(decodings: tuple[Passes, ...]) -> None:
    found = heard(sound(*DOUBTFUL), Answers(decodings))
    assert isinstance(found.understanding, NotUnderstood)


def test_a_verifier_may_dispel_a_doubt_that_stays() -> None:
    """It hears the first of the two, and finds the other far less likely."""
    free = Transcript(("irrigation", "line", "firm"), -1.0)
    answers = Answers(again(*DOUBTFUL), likely={DOUBTFUL[0]: -1.0}, free=free)
    found = heard(sound(*DOUBTFUL), answers)
    assert isinstance(found.understanding, Understood)
    assert found.understanding.match.text == DOUBTFUL[0]
    assert found.voice.witness == DOUBTFUL[0]
    assert answers.scored()[:2] == list(DOUBTFUL)


def test_in_noise_a_plain_answer_is_put_beside_what_sounds_like_it() -> None:
    answers = Answers(likely={}, near={})
    heard(sound(*PLAIN, in_noise=True), answers)
    assert answers.compared()[0] == PLAIN[0]
    assert answers.scored() == list(PLAIN)


def test_people_s_own_words_are_read_where_nothing_permitted_was_understood() -> None:
    free = Transcript(("the", "irrigation", "line", "is", "firm"), -1.0)
    found = heard(sound("[unk]"), Answers(free=free))
    assert isinstance(found.understanding, Unconfirmed)
    assert found.voice.witness == "the irrigation line is firm"
