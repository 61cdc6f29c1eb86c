"""The path that the benchmarks measure: the product's recogniser and its understanding of what was
heard, one sound file being one utterance. What was decoded once is kept (`kept.py`).
"""

from __future__ import annotations

import importlib.metadata
from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict, dataclass
from functools import partial
from pathlib import Path
from typing import Any, cast

from kept import Kept, code_of, key_of, plain, utterance_of
from kept_looks import KeptRecogniser

from voicelist.asr import recogniser, verifier
from voicelist.asr.forced_choice import Nearness, Sentence
from voicelist.asr.model import ModelPlace, find_model
from voicelist.asr.offline import Whole, decode_stream, decode_whole
from voicelist.asr.recogniser import Recogniser
from voicelist.asr.streaming import ChannelEar
from voicelist.asr.utterance import Utterance
from voicelist.asr.verifier import OnCall, witness_folder
from voicelist.asr.vocabulary import vocabulary
from voicelist.asr.wide_beam import wide_search_model
from voicelist.audio.samples import Samples
from voicelist.grammar.grammar import Grammar
from voicelist.grammar.match import Match
from voicelist.listening.both_hear import Place, Sound, heard_by_both
from voicelist.listening.free_transcript import Asked, heard_freely
from voicelist.listening.sound import (
    Further,
    context_by_sound,
    looks_at,
    looks_of,
    near_by_phones,
    understand_sound,
)
from voicelist.session.case import Case, is_harmless
from voicelist.session.state import State
from voicelist.understanding.evidence import Evidence
from voicelist.understanding.interpretation import (
    Context,
    Denied,
    NotForUs,
    Unconfirmed,
    Understanding,
    Understood,
    understand,
)
from voicelist.understanding.phrase_lists import HearingGrammar, hearing_grammar
from voicelist.understanding.room_words import Room

Again = Callable[[Utterance, float], Utterance | None]
AskOf = Callable[[Utterance, Sequence[str], bool], Evidence | None]
AmongOf = Callable[[Utterance, Sequence[Sentence]], Nearness | None]
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


@dataclass(frozen=True, slots=True)
class AsBefore:
    """What else can be asked of a sound, kept."""

    again: Again
    evidence: AskOf
    among: AmongOf


class Stream:
    """Samples decoded up to an utterance that is asked about; from the beginning only where an
    earlier one is."""

    def __init__(
        self, ear: Callable[[], ChannelEar], samples: Samples, grammar: HearingGrammar
    ) -> None:
        self._new_ear, self._samples, self._grammar = ear, samples, grammar
        self._reached: tuple[ChannelEar, Iterator[Utterance], Utterance] | None = None

    def at(self, heard: Utterance) -> tuple[ChannelEar, Utterance]:
        """The ear as it was then, and the utterance."""
        if self._reached is None or self._reached[2].start_sample > heard.start_sample:
            ear = self._new_ear()
            stream = decode_stream(ear, self._samples, self._grammar)
            self._reached = ear, stream, next(stream)
        ear, stream, there = self._reached
        while there.start_sample != heard.start_sample:
            there = next(stream)
        self._reached = ear, stream, there
        return ear, there


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
        # Where no witness is installed, nothing that one said before counts.
        self._testifying = key_of(code_of(verifier), str(witness_folder() is not None))
        self._witness = OnCall()
        self._remembering = KeptRecogniser(looking, self._kept, self.recogniser, self._known)

    def hearing(
        self, grammar: Grammar, room: Room, roots: tuple[str, ...] | None = None
    ) -> HearingGrammar:
        """A grammar, or some of its roots, for the recogniser, with the room's words."""
        return hearing_grammar(grammar, room, self._known, roots, is_harmless)

    def utterance(self, samples: Samples, grammar: HearingGrammar) -> Utterance:
        """One channel's samples decoded whole, or as they were before."""
        lists = (grammar.phrase_list(), grammar.second_phrase_list())
        key = key_of(self._hearing, samples.tobytes(), *lists)

        def decoded() -> dict[str, Any]:
            remembering = cast(Recogniser, self._remembering)
            return plain(decode_whole(remembering, samples, grammar))

        return utterance_of(self._kept.of(key, decoded))

    def further(self, samples: Samples, grammar: HearingGrammar) -> Further:
        """What else can be asked of the utterance that `samples` are, or what it was before."""
        remembering = cast(Recogniser, self._remembering)
        whole = Whole(remembering, samples, grammar, self._witness)
        evidence = self._kept_evidence(samples.tobytes(), whole.evidence)
        return AsBefore(whole.again, evidence, whole.among)

    def further_in(self, samples: Samples, grammar: HearingGrammar) -> Further:
        """What else can be asked of one of the utterances in `samples`, or what it was before."""
        lists = (grammar.phrase_list(), grammar.second_phrase_list())
        sound = key_of(self._hearing, "again", samples.tobytes(), *lists, repr(grammar.graph))

        stream = Stream(lambda: ChannelEar(0, self.recogniser(), self._witness), samples, grammar)

        def heard_again(heard: Utterance, speed: float) -> Utterance:
            def decoded() -> dict[str, Any]:
                ear, there = stream.at(heard)
                found = ear.again(there, speed)
                assert found is not None, "what was heard just now is forgotten"
                return plain(found)

            key = key_of(sound, str(heard.start_sample), str(speed))
            return utterance_of(self._kept.of(key, decoded))

        def told(heard: Utterance, sentences: Sequence[str], freely: bool) -> Evidence | None:
            ear, there = stream.at(heard)
            return ear.evidence(there, sentences, freely)

        def near(heard: Utterance, sentences: Sequence[Sentence]) -> Nearness | None:
            ear, there = stream.at(heard)
            return ear.among(there, sentences)

        return AsBefore(heard_again, self._kept_evidence(sound.encode(), told), near)

    def _kept_evidence(self, sound: bytes, ask: AskOf) -> AskOf:
        def told(heard: Utterance, sentences: Sequence[str], freely: bool) -> Evidence | None:
            def asked() -> dict[str, Any] | None:
                found = ask(heard, sentences, freely)
                return asdict(found) if found is not None else None

            where = (str(heard.start_sample), str(freely))
            found = self._kept.of(key_of(self._testifying, sound, *where, sentences), asked)
            if found is None:
                return None
            return Evidence(tuple(found["likely"]), tuple(found["words"]), found["freely"])

        return told

    def utterances(self, samples: Samples, grammar: HearingGrammar) -> list[Utterance]:
        """What endpointing finds in one channel's samples, or as it was found before."""
        lists = (grammar.phrase_list(), grammar.second_phrase_list())
        key = key_of(self._hearing, "stream", samples.tobytes(), *lists, repr(grammar.graph))

        def decoded() -> list[dict[str, Any]]:
            ear = ChannelEar(0, self.recogniser())
            return [plain(one) for one in decode_stream(ear, samples, grammar)]

        return [utterance_of(one) for one in self._kept.of(key, decoded)]

    def recogniser(self) -> Recogniser:
        """The recogniser itself, loaded when it is first needed."""
        if self._recogniser is None:
            self._recogniser = Recogniser(self._wide)
        return self._recogniser


class Plainly:
    """What utterances amount to in a case as a session has it: strictly, then as plain speech."""

    def __init__(self, case: Case) -> None:
        self._case = case
        self._near = near_by_phones(case)

    def meaning(self, utterance: Utterance, state: State, further: Further) -> Understanding:
        """While something is asked."""
        context = context_by_sound(self._case, state)
        strictly = understand_sound(utterance, context, further)
        asked = Asked.of(self._case.natural, state, context)
        ask, among = partial(further.evidence, utterance), partial(further.among, utterance)
        freely = heard_freely(strictly, ask, asked)
        both = Sound(looks_of(utterance), ask, among)
        return heard_by_both(freely, strictly, both, Place(asked, context, self._near))


def _code_of_hearing() -> list[Path]:
    """All of it: what an utterance holds depends on more than the recogniser."""
    return sorted(Path(str(recogniser.__file__)).parent.glob("*.py"))


def understood(
    utterance: Utterance,
    context: Context,
    further: Further | None = None,
    *,
    second_look: bool = True,
) -> Heard:
    """What an utterance amounts to where `context` is permitted; for comparison also where nothing
    is asked `further`, and then without the second look at the same sound."""
    hypotheses, second = looks_at(utterance)
    if further is not None:
        found = understand_sound(utterance, context, further)
    else:
        found = understand(hypotheses, second if second_look else (), context)
    return heard_as(found, utterance)


def heard_as(found: Understanding, utterance: Utterance) -> Heard:
    """What was understood, as it is counted."""
    _, second = looks_at(utterance)
    return Heard(
        _STATUS.get(type(found), NOT_UNDERSTOOD),
        " ".join(found.words),
        " ".join(second[0].words) if second else "",
        found.match if isinstance(found, Understood | Unconfirmed) else None,
    )
