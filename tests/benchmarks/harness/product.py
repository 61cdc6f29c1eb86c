"""The path that the benchmarks measure: the product's recogniser and its understanding of what was
heard, one sound file being one utterance. What was decoded once is kept (`kept.py`).
"""

from __future__ import annotations

import importlib.metadata
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, cast

import numpy as np

from tests.benchmarks.harness.kept import (
    Kept,
    KeptDecoder,
    KeptReplies,
    Timed,
    code_of,
    key_of,
    plain,
    utterance_of,
)
from tests.benchmarks.harness.kept_looks import KeptRecogniser
from tests.benchmarks.harness.later_in_stream import LaterInStream
from voicelist.asr import recogniser, verifier
from voicelist.asr.decoder import answered
from voicelist.asr.model import ModelPlace, find_model
from voicelist.asr.offline import decode_stream, decode_whole, past_of
from voicelist.asr.recogniser import Recogniser
from voicelist.asr.streaming import ChannelStream
from voicelist.asr.utterance import DecodedUtterance
from voicelist.asr.verifier import VerifierOnCall, verifier_folder
from voicelist.asr.vocabulary import vocabulary
from voicelist.asr.wide_beam import wide_search_model
from voicelist.audio.samples import SAMPLE_RATE_HZ, Samples
from voicelist.grammar.grammar import Grammar
from voicelist.grammar.match import Match
from voicelist.listening.sound import context_by_sound
from voicelist.session.case import Case, is_harmless
from voicelist.session.state import State
from voicelist.understanding.context import Context
from voicelist.understanding.decision import decide
from voicelist.understanding.hypothesis import Passes
from voicelist.understanding.interpretation import (
    Denied,
    NotForUs,
    Unconfirmed,
    Understanding,
    Understood,
    understand,
)
from voicelist.understanding.phrase_lists import HearingGrammar, hearing_grammar
from voicelist.understanding.policy import POLICY, Policy
from voicelist.understanding.questions import Decoder, Question, Reply
from voicelist.understanding.room_words import Room

_SETTINGS = ("conf/model.conf", "conf/mfcc.conf")
UNDERSTOOD, NOT_UNDERSTOOD, UNCONFIRMED = "understood", "not-understood", "read-back"
_STATUS = {
    Understood: UNDERSTOOD,
    Unconfirmed: UNCONFIRMED,
    Denied: "denied",
    NotForUs: "not-for-us",
}


@dataclass(frozen=True, slots=True)
class Heard:
    """What a file amounts to. `match` is there where it is understood."""

    status: str
    words: str
    second_look: str
    match: Match | None


class Product:
    """The shipped model, searched widely, loaded once."""

    def __init__(self, kept: Kept | None = None) -> None:
        self.place: ModelPlace = find_model()
        wide = wide_search_model(self.place)
        self._known = vocabulary(wide)
        self._wide = wide
        self._recogniser: Recogniser | None = None
        self._kept = kept or Kept()
        settings = [(wide / name).read_text(encoding="utf-8") for name in _SETTINGS]
        model = key_of(self.place.fingerprint, settings, importlib.metadata.version("vosk"))
        looking = key_of(model, code_of(recogniser))
        self._hearing = key_of(model, *(file.read_bytes() for file in _code_of_hearing()))
        # Where no verifier is installed, nothing that one said before counts.
        self._verifying = key_of(code_of(verifier), str(verifier_folder() is not None))
        self._verifier = loaded(VerifierOnCall())
        self._remembering = KeptRecogniser(looking, self._kept, self.recogniser, self._known)

    def hearing(
        self, grammar: Grammar, room: Room, roots: tuple[str, ...] | None = None
    ) -> HearingGrammar:
        """A grammar, or some of its roots, for the recogniser, with the room's words."""
        return hearing_grammar(grammar, room, self._known, roots, is_harmless)

    def utterance(self, samples: Samples, grammar: HearingGrammar) -> DecodedUtterance:
        """One channel's samples decoded whole, or as they were before."""
        lists = (grammar.phrase_list(), grammar.second_phrase_list())
        key = key_of(self._hearing, samples.tobytes(), *lists)

        def decoded() -> dict[str, Any]:
            recogniser = cast(Recogniser, self._remembering)
            return plain(decode_whole(recogniser, samples, grammar))

        return utterance_of(self._kept.of(key, decoded))

    def decoder(self, samples: Samples, grammar: HearingGrammar) -> KeptDecoder:
        """Answers about the utterance that `samples` are, or as it did before."""
        recogniser = cast(Recogniser, self._remembering)
        past = past_of(samples, grammar)

        def decoded(question: Question) -> Timed:
            before_s = self._remembering.spent_s
            reply = answered(recogniser, self._verifier, past, question)
            return reply, self._remembering.spent_s - before_s

        def verified(question: Question) -> Reply | None:
            return answered(recogniser, self._verifier, past, question)

        key = key_of(self._verifying, samples.tobytes())
        return KeptDecoder(decoded, KeptReplies(self._kept, key, verified).ask)

    def decoder_in(
        self, samples: Samples, grammar: HearingGrammar, utterance: DecodedUtterance
    ) -> KeptDecoder:
        """Answers about one of the utterances in `samples`, or as it did before."""
        lists = (grammar.phrase_list(), grammar.second_phrase_list())
        sound = key_of(self._hearing, "stream", samples.tobytes(), *lists, repr(grammar.graph))

        def new_stream() -> ChannelStream:
            return ChannelStream(0, self.recogniser(), self._verifier)

        later = LaterInStream(new_stream, samples, grammar, utterance.start_sample)
        key = key_of(self._verifying, sound, str(utterance.start_sample))
        replies = KeptReplies(self._kept, key, later.answer)
        return KeptDecoder(replies.ask, replies.ask)

    def utterances(self, samples: Samples, grammar: HearingGrammar) -> list[DecodedUtterance]:
        """What endpointing finds in one channel's samples, or as it was found before."""
        lists = (grammar.phrase_list(), grammar.second_phrase_list())
        key = key_of(self._hearing, "stream", samples.tobytes(), *lists, repr(grammar.graph))

        def decoded() -> list[dict[str, Any]]:
            ear = ChannelStream(0, self.recogniser())
            return [plain(one) for one in decode_stream(ear, samples, grammar)]

        return [utterance_of(one) for one in self._kept.of(key, decoded)]

    def recogniser(self) -> Recogniser:
        """The recogniser itself, loaded when it is first needed."""
        if self._recogniser is None:
            self._recogniser = Recogniser(self._wide)
        return self._recogniser


def loaded(verifier: VerifierOnCall) -> VerifierOnCall:
    """A verifier that has been asked once: what loading it takes is not counted."""
    verifier.scores(np.zeros(SAMPLE_RATE_HZ, np.int16), ("one",))
    return verifier


def _code_of_hearing() -> list[Path]:
    """All of it: what an utterance holds depends on more than the recogniser."""
    return sorted(Path(str(recogniser.__file__)).parent.glob("*.py"))


def strict_context(case: Case, state: State) -> Context:
    """What may be said as a case stands: the permitted sentences alone, for people's own words are
    another measurement."""
    return replace(context_by_sound(case, state), plain_speech=None)


def understood(
    utterance: DecodedUtterance,
    context: Context,
    decoder: Decoder | None = None,
    policy: Policy = POLICY,
    *,
    second_pass: bool = True,
) -> Heard:
    """What an utterance amounts to where `context` is permitted; for comparison also where no
    decoder is asked anything, and then without the second pass."""
    passes = utterance.passes
    if decoder is not None:
        found = decide(passes, context, decoder, policy)
    else:
        found = understand(passes.first, passes.second if second_pass else (), context, policy)
    return heard_as(found, passes)


def heard_as(found: Understanding, passes: Passes) -> Heard:
    """What was decided, for a report."""
    return Heard(
        _STATUS.get(type(found), NOT_UNDERSTOOD),
        " ".join(found.words),
        passes.second[0].text if passes.second else "",
        found.match if isinstance(found, Understood | Unconfirmed) else None,
    )
