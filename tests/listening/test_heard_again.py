"""A session has what is doubtful heard again, and only that."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import cast

import pytest

from tests.session.talk import Talk
from voicelist.asr.forced_choice import Nearness, Sentence
from voicelist.asr.recogniser_process import Ears
from voicelist.asr.redecoding import SPEEDS
from voicelist.asr.utterance import Alternative, Word
from voicelist.asr.utterance import Utterance as HeardSound
from voicelist.listening.sound import Piece, SoundHearer
from voicelist.session.events import Utterance
from voicelist.session.state import State
from voicelist.understanding.evidence import Evidence
from voicelist.understanding.interpretation import NotUnderstood, Understood

PLAIN = ("irrigation line firm",)
DOUBTFUL = ("irrigation line firm", "irrigation line loose")


def sound(*texts: str) -> HeardSound:
    """An utterance in which these were found about as near, one after the other."""
    found = tuple(
        Alternative(
            tuple(
                Word(word, 0.5 + 0.3 * at, 0.8 + 0.3 * at) for at, word in enumerate(text.split())
            ),
            -0.1 * rank,
        )
        for rank, text in enumerate(texts)
    )
    return HeardSound(0, 1, 8_000, 24_000, 29_000, found, found, 0.0)


class EarsThatHear:
    """Have heard one utterance, and hear it again as they are told to."""

    behind_samples = 0

    def __init__(
        self, heard: HeardSound, again: HeardSound | None, evidence: Evidence | None = None
    ) -> None:
        self._heard, self._again, self._evidence = [heard], again, evidence
        self.speeds: list[float] = []
        self.put: list[Sequence[str]] = []
        self.compared: list[Sequence[Sentence]] = []

    def again(self, heard: HeardSound, speed: float, within_s: float) -> HeardSound | None:
        self.speeds.append(speed)
        return self._again

    def evidence(
        self, heard: HeardSound, sentences: Sequence[str], freely: bool, within_s: float
    ) -> Evidence | None:
        """Whatever else is put to it is unlikely."""
        self.put.append(sentences)
        if self._evidence is None:
            return None
        unlikely = (-100.0,) * len(sentences)
        return replace(self._evidence, likely=(*self._evidence.likely, *unlikely)[: len(sentences)])

    def among(
        self, heard: HeardSound, sentences: Sequence[Sentence], within_s: float
    ) -> Nearness | None:
        """The last is nearest."""
        self.compared.append(sentences)
        return tuple(float(rank) for rank in range(len(sentences)))

    def listen(self, grammar: object) -> None: ...

    def feed(self, channel: int, samples: object, first_sample: int) -> None: ...

    def wait(self, timeout_s: float) -> None: ...

    def poll(self, timeout_s: float) -> HeardSound | None:
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


def heard(ears: EarsThatHear) -> Utterance:
    talk = Talk()
    hearer = SoundHearer(talk.case, cast(Ears, ears), Room(), (), frozenset())
    event = hearer.next_event(talk.state)
    assert isinstance(event, Utterance)
    return event


def test_a_plain_answer_is_heard_once() -> None:
    ears = EarsThatHear(sound(*PLAIN), None)
    assert isinstance(heard(ears).understanding, Understood)
    assert ears.speeds == []


def test_a_doubt_may_be_dispelled() -> None:
    ears = EarsThatHear(sound(*DOUBTFUL), sound(*PLAIN))
    found = heard(ears)
    assert isinstance(found.understanding, Understood)
    assert found.voice.alternatives == DOUBTFUL
    assert found.voice.again == PLAIN
    assert ears.speeds == [SPEEDS[0]]


def test_a_doubt_that_stays_is_asked_about() -> None:
    ears = EarsThatHear(sound(*DOUBTFUL), sound(*DOUBTFUL))
    found = heard(ears)
    assert isinstance(found.understanding, NotUnderstood)
    assert found.understanding.offers == DOUBTFUL
    assert ears.speeds == list(SPEEDS)


@pytest.mark.parametrize("again", [None, replace(sound(*PLAIN), alternatives=())])
def test_what_cannot_be_heard_again_passes_nothing(again: HeardSound | None) -> None:
    assert isinstance(heard(EarsThatHear(sound(*DOUBTFUL), again)).understanding, NotUnderstood)


def test_a_witness_may_dispel_a_doubt_that_stays() -> None:
    """It hears the first of the two, and finds the other far less likely."""
    evidence = Evidence((-1.0, -20.0), ("irrigation", "line", "firm"), -1.0)
    ears = EarsThatHear(sound(*DOUBTFUL), sound(*DOUBTFUL), evidence)
    found = heard(ears)
    assert isinstance(found.understanding, Understood)
    assert found.understanding.match.text == DOUBTFUL[0]
    assert found.voice.witness == DOUBTFUL[0]
    assert ears.put == [list(DOUBTFUL)]


def test_a_witness_that_finds_both_likely_dispels_nothing() -> None:
    evidence = Evidence((-1.0, -3.0), ("irrigation", "line", "firm"), -1.0)
    found = heard(EarsThatHear(sound(*DOUBTFUL), sound(*DOUBTFUL), evidence))
    assert isinstance(found.understanding, NotUnderstood)


def test_a_plain_answer_is_put_to_no_witness() -> None:
    ears = EarsThatHear(sound(*PLAIN), None, Evidence((-50.0,), (), 0.0))
    assert isinstance(heard(ears).understanding, Understood)
    assert ears.put == []


@pytest.mark.parametrize(
    ("likely", "outcome"), [((-9.0, -6.0), NotUnderstood), ((-9.0, -7.0), Understood)]
)
def test_in_noise_a_plain_answer_is_put_beside_what_sounds_like_it(
    likely: tuple[float, float], outcome: type
) -> None:
    in_noise = replace(sound(*PLAIN), in_noise=True)
    ears = EarsThatHear(in_noise, None, Evidence(likely))
    assert isinstance(heard(ears).understanding, outcome)
    (compared,) = ears.compared
    assert compared[0] == ("irrigation", "line", "firm")
    assert ears.put[0][:2] == [*PLAIN, " ".join(compared[-1])]


def test_in_a_quiet_room_it_is_not_if_it_was_alone() -> None:
    ears = EarsThatHear(sound(*PLAIN), None, Evidence((-9.0, -6.0)))
    assert isinstance(heard(ears).understanding, Understood)
    assert ears.compared == []


def test_in_a_quiet_room_it_is_if_it_was_not() -> None:
    told = sound(*PLAIN)
    near = replace(told.alternatives[0], words=told.alternatives[0].words[:2], score=-2.9)
    not_alone = replace(told, alternatives=(*told.alternatives, near))
    ears = EarsThatHear(not_alone, None, Evidence((-9.0, -6.0)))
    assert isinstance(heard(ears).understanding, NotUnderstood)
    assert len(ears.compared) == 1
