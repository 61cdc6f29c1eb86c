"""What the assistant says, played into its own open microphone at full level."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from tests.team.right import right_line
from tests.team.room import Room, case_of
from voicelist.asr.decoder import DecoderHere
from voicelist.asr.model import ModelPlace
from voicelist.asr.offline import decode_whole, past_of
from voicelist.asr.recogniser import Recogniser
from voicelist.asr.utterance import DecodedUtterance
from voicelist.asr.verifier import VerifierOnCall
from voicelist.asr.vocabulary import vocabulary
from voicelist.asr.wide_beam import wide_search_model
from voicelist.audio.samples import SAMPLE_RATE_HZ, Samples
from voicelist.listening.own_speech import OwnSpeech
from voicelist.listening.sound import context_by_sound
from voicelist.session.case import Case, is_harmless
from voicelist.session.effects import Say
from voicelist.session.events import Event
from voicelist.session.machine import step
from voicelist.session.order import heard_here
from voicelist.session.state import State
from voicelist.session.wording import spoken
from voicelist.speaking.adapters import hibari
from voicelist.speaking.levels import standard_sound
from voicelist.understanding.decision import decide
from voicelist.understanding.interpretation import (
    Denied,
    Unconfirmed,
    Understanding,
    Understood,
)
from voicelist.understanding.phrase_lists import HearingGrammar, hearing_grammar
from voicelist.understanding.policy import POLICY

SLIP = "it is not clear"
# How late a device and the room bring the end of a sentence: 100 ms of buffers, and of an echo what
# the voice activity still takes for speech.
LATE_S = (0.0, 0.1, 0.25)


@dataclass(frozen=True)
class Sentence:
    """A sentence, and the case as it stands when it is spoken."""

    case: Case
    state: State
    text: str


class _Noting(Room):
    def __init__(self, case: Case, noted: list[Sentence]) -> None:
        self._noted = noted
        super().__init__(case)

    def take(self, event: Event) -> list[str]:
        before = self.state
        after, effects = step(self.case, before, event)
        said = [one.text for one in effects if isinstance(one, Say)]
        self._noted += [Sentence(self.case, after, text) for text in said]
        return super().take(event)


def sentences_of(plan: str) -> list[Sentence]:
    """All that is said in a case in which each question is once not understood, once not answered,
    asked why, and then answered."""
    noted: list[Sentence] = []
    room = _Noting(case_of(plan), noted)
    asked: set[str] = set()
    while not room.state.closed:
        item = room.state.current
        if item and item not in asked:
            asked.add(item)
            room.waits(8)
            room.says("tell me why please", f"{room.case.items[item].name} {SLIP}")
        room.says(right_line(room.case, room.state))
    once: dict[tuple[str, str], Sentence] = {}
    for one in noted:
        once.setdefault((one.state.current, one.text), one)
    return list(once.values())


class OwnVoice:
    """Renders a sentence and hears it under the phrases that are open when it is spoken."""

    def __init__(self, model: ModelPlace) -> None:
        self._voice = hibari(None, 1.0)
        self._known = vocabulary(model.path)
        self._recogniser = Recogniser(wide_search_model(model))
        self._verifier = VerifierOnCall()
        self._grammars: dict[tuple[int, tuple[str, ...]], HearingGrammar] = {}

    def sound_of(self, one: Sentence) -> Samples:
        bundle = one.case.bundle
        text = spoken(bundle.sentences, bundle.lexicon, one.text)
        return np.frombuffer(standard_sound(*self._voice.render(text)).pcm, np.int16)

    def heard(self, one: Sentence, samples: Samples) -> tuple[DecodedUtterance, Understanding]:
        """What it would be taken for if somebody had said it."""
        case, roots = one.case, heard_here(one.case, one.state)
        key = id(case), roots
        if key not in self._grammars:
            made = hearing_grammar(case.grammar, case.room, self._known, roots, is_harmless)
            self._grammars[key] = made
        grammar = self._grammars[key]
        sound = decode_whole(self._recogniser, samples, grammar)
        decoder = DecoderHere(self._recogniser, self._verifier, past_of(samples, grammar))
        found = decide(sound.passes, context_by_sound(case, one.state), decoder, POLICY)
        return DecodedUtterance(0, 1, 0, len(samples), len(samples), sound.passes), found

    def judged(
        self, one: Sentence, sound: DecodedUtterance, found: Understanding
    ) -> Iterator[Understanding]:
        """What it is taken for where the assistant is known to be speaking, by how late it is."""
        for late_s in LATE_S:
            own = OwnSpeech(is_harmless, one.case.natural.names_thing)
            own.says(one.text, 0, open_microphone=True)
            own.said(sound.end_sample - round(late_s * SAMPLE_RATE_HZ))
            yield own.judged(sound, found)


def acts(found: Understanding) -> bool:
    """Whether it would answer, report or ask for something, and not only quieten."""
    if isinstance(found, Understood):
        return not all(is_harmless(one.rule) for one in found.matches)
    return isinstance(found, Denied | Unconfirmed)
