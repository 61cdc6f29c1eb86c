"""The recogniser: one speech model, and looks at the sound of single utterances through it.

Native code runs here; a session uses it in a child process only
(`voicelist.asr.recogniser_process`).

Each utterance gets recognisers of its own for its grammar, because changing the grammar of a
running one aborts the process.

The same sound is always heard the same: the faint noise that the model expects is our own and the
same for each utterance, not the library's random one.
"""

from __future__ import annotations

import json
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np

from voicelist.audio.samples import SAMPLE_RATE_HZ, Samples
from voicelist.errors import MissingPart
from voicelist.understanding.hypothesis import Hypothesis, NBest, Words

ALTERNATIVES = 30
_QUIET = -1
_DITHER_SAMPLES = 1 << 16
_DITHER_SEED = 1

if TYPE_CHECKING:
    import vosk


class PhraseLists(Protocol):
    """What hearing needs to know of what may be said now. Must be picklable."""

    def phrase_list(self) -> tuple[str, ...]:
        """Phrases for the recogniser, fillers and "[unk]" among them, in the model's words."""

    def second_phrase_list(self) -> tuple[str, ...]:
        """Those for a second look at the same sound; () for none."""

    def can_grow(self, words: Words) -> bool:
        """Whether these words are the beginning of a longer permitted sentence."""


class Look:
    """The recognisers at work on one utterance; feed it, ask it, finish it."""

    def __init__(
        self, first: vosk.KaldiRecognizer, second: vosk.KaldiRecognizer | None, dither: Samples
    ) -> None:
        self._first = first
        self._every = [recogniser for recogniser in (first, second) if recogniser is not None]
        self._dither = dither
        self._fed_samples = 0
        self._before_samples = 0
        self._spent_s = 0.0

    def feed(self, samples: Samples, pool: ThreadPoolExecutor | None = None) -> None:
        """Take the next samples of the utterance; with a `pool` in both looks at the same time."""
        began_s = time.perf_counter()
        data = self._dithered(samples).tobytes()
        each = pool.map if pool is not None else map
        list(each(lambda recogniser: recogniser.AcceptWaveform(data), self._every))
        self._spent_s += time.perf_counter() - began_s

    def _dithered(self, samples: Samples) -> Samples:
        at = np.arange(self._fed_samples, self._fed_samples + len(samples)) % len(self._dither)
        self._fed_samples += len(samples)
        limits = np.iinfo(np.int16)
        noisy = samples.astype(np.int32) + self._dither[at]
        dithered: Samples = np.clip(noisy, limits.min, limits.max).astype(np.int16)
        return dithered

    def words_so_far(self) -> tuple[str, ...]:
        """The grammar's best guess so far; provisional, for endpointing alone."""
        partial = json.loads(self._first.PartialResult())
        return tuple(str(partial.get("partial", "")).split())

    def begin_again(self) -> None:
        """What was fed is forgotten, but not how the voice and the room sound."""
        for recogniser in self._every:
            recogniser.Reset()
        self._before_samples += self._fed_samples
        self._fed_samples = 0

    def finish(self, first_sample: int) -> tuple[NBest, NBest, float]:
        """The hypotheses of the first and of the second pass (best first), seconds of computing.

        `first_sample` is the position of the first sample fed: words' times count from there, and
        not from what this recogniser was fed.
        """
        began_s = time.perf_counter()
        first_s = (first_sample - self._before_samples) / SAMPLE_RATE_HZ
        # At the same time: somebody waits for this, and native code lets other threads run.
        with ThreadPoolExecutor(len(self._every)) as pool:
            results = pool.map(lambda recogniser: str(recogniser.FinalResult()), self._every)
        heard = [_hypotheses(json.loads(result), first_s) for result in results]
        self._spent_s += time.perf_counter() - began_s
        first, second = (*heard, ())[:2]
        return first, second, self._spent_s


class Recogniser:
    """One loaded model; takes most of a second to load and some 160 MB."""

    def __init__(self, model: Path) -> None:
        # Only where it is used: the session's own process would carry it for nothing.
        import vosk

        vosk.SetLogLevel(_QUIET)
        try:
            self._model = vosk.Model(str(model))
        except Exception as error:  # the binding raises nothing more particular
            raise MissingPart(
                f"The speech model in {model} cannot be loaded; run `voicelist model`."
            ) from error
        noise = np.random.default_rng(_DITHER_SEED).normal(0.0, 1.0, _DITHER_SAMPLES)
        self._dither: Samples = np.rint(noise).astype(np.int16)

    def vocabulary_has(self, word: str) -> bool:
        """Whether the model knows a word (lower case)."""
        return bool(self._model.vosk_model_find_word(word) >= 0)

    def look(self, grammar: PhraseLists) -> Look:
        """Begin a look at one utterance."""
        first, second = grammar.phrase_list(), grammar.second_phrase_list()
        return Look(self._under(first), self._under(second) if second else None, self._dither)

    def _under(self, phrases: tuple[str, ...]) -> vosk.KaldiRecognizer:
        import vosk

        recogniser = vosk.KaldiRecognizer(self._model, SAMPLE_RATE_HZ, json.dumps(phrases))
        recogniser.SetMaxAlternatives(ALTERNATIVES)
        recogniser.SetWords(True)
        return recogniser


def _hypotheses(heard: dict[str, Any], first_s: float) -> NBest:
    """The recogniser's hypotheses, each wording once, with times of the channel's stream."""
    found: dict[Words, Hypothesis] = {}
    for told in heard.get("alternatives", ()):
        words = told.get("result", ())
        spans_s = tuple((first_s + word["start"], first_s + word["end"]) for word in words)
        texts = tuple(str(word["word"]) for word in words)
        found.setdefault(texts, Hypothesis(texts, spans_s, float(told["confidence"])))
    return tuple(found.values())
