"""What the product is compared with: the speech model as published, used plainly; pocketsphinx."""

from __future__ import annotations

import importlib.metadata
import json
from typing import Any

import numpy as np
import vosk

from tests.benchmarks.harness.kept import Kept, key_of
from tests.benchmarks.harness.word_machine import machine_of
from voicelist.asr.model import ModelPlace
from voicelist.asr.offline import PADDING_SAMPLES
from voicelist.audio.samples import Samples
from voicelist.audio.sound_files import quiet
from voicelist.grammar.grammar import Grammar
from voicelist.understanding.phrase_lists import hearing_grammar

ALTERNATIVES = 10
RATE_HZ = 16_000


class PlainVosk:
    """vosk with the model's own settings, the word pairs of the phrases as its grammar, and its
    first few alternatives."""

    name = f"vosk, {ALTERNATIVES} alternatives, the first that parses"

    def __init__(self, place: ModelPlace, grammar: Grammar, kept: Kept) -> None:
        self._place, self._kept = place, kept
        self._phrases = hearing_grammar(grammar).phrase_list()
        self._engine = key_of("plain vosk", place.fingerprint, importlib.metadata.version("vosk"))
        self._model: vosk.Model | None = None

    def texts(self, samples: Samples) -> list[str]:
        """What it heard, best first."""
        key = key_of(self._engine, self._phrases, samples.tobytes())
        return list(self._kept.of(key, lambda: self._decoded(samples)))

    def _decoded(self, samples: Samples) -> list[str]:
        if self._model is None:
            vosk.SetLogLevel(-1)
            self._model = vosk.Model(str(self._place.path))
        recogniser = vosk.KaldiRecognizer(self._model, RATE_HZ, json.dumps(self._phrases))
        recogniser.SetMaxAlternatives(ALTERNATIVES)
        recogniser.AcceptWaveform(_padded(samples))
        heard = json.loads(recogniser.FinalResult())
        return [str(one["text"]).strip() for one in heard["alternatives"]]


class PocketSphinx:
    """pocketsphinx with its own model of English and the grammar as a finite-state machine. Raises
    PackageNotFoundError where it is not installed (the extra `bench`)."""

    name = "pocketsphinx, the grammar as its machine"

    def __init__(self, grammar: Grammar, kept: Kept) -> None:
        version = importlib.metadata.version("pocketsphinx")
        self._machine, self._kept = machine_of(grammar.graph), kept
        self._engine = key_of("pocketsphinx", version, repr(self._machine))
        self._decoder: Any = None

    def texts(self, samples: Samples) -> list[str]:
        """What it heard: one sentence, or none."""
        key = key_of(self._engine, samples.tobytes())
        return list(self._kept.of(key, lambda: self._decoded(samples)))

    def _decoded(self, samples: Samples) -> list[str]:
        if self._decoder is None:
            self._decoder = self._loaded()
        self._decoder.start_utt()
        # Quiet put before and behind, as for the others, makes it hear worse in noise.
        self._decoder.process_raw(samples.tobytes(), full_utt=True)
        self._decoder.end_utt()
        found = self._decoder.hyp()
        return [found.hypstr] if found is not None and found.hypstr else []

    def _loaded(self) -> Any:
        # An optional package, and slow to import.
        from pocketsphinx import Decoder  # type: ignore[import-not-found,import-untyped,unused-ignore]

        decoder = Decoder(samprate=RATE_HZ, lm=None, loglevel="FATAL")
        machine, end = self._machine, self._machine.states
        steps = [(one, other, 1.0, word) for one, other, word in machine.steps]
        ends = [(state, end, 1.0) for state in sorted(machine.ends)]
        decoder.add_fsg("bench", decoder.create_fsg("bench", 0, end, [*steps, *ends]))
        decoder.activate_search("bench")
        return decoder


def _padded(samples: Samples) -> bytes:
    """With the quiet before and behind that the product's hearing puts there."""
    edge = quiet(PADDING_SAMPLES)
    return bytes(np.concatenate([edge, samples, edge]).tobytes())
