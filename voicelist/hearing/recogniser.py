"""The recogniser: one speech model, and looks at the sound of single utterances through it.

Native code runs here; a session uses it in a child process only (`voicelist.hearing.ears`).

Each utterance gets a recogniser of its own for its grammar, because changing the grammar of a
running one aborts the process. The open-vocabulary recogniser of a channel is kept for some minutes
instead: what it has once composed of its graph it need not compose again, which halves its work
(own measurement: 0.25 of real time when new, 0.10 to 0.15 when kept), at the price of memory.
Nothing of an utterance lives on in it.

The same sound is always heard the same: the faint noise that the model expects is our own and the
same for each utterance, not the library's random one.
"""

from __future__ import annotations

import json
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any, Protocol

import numpy as np
import vosk

from voicelist.errors import MissingPart
from voicelist.hearing.sources import Samples
from voicelist.hearing.utterance import SAMPLE_RATE_HZ, Alternative, Word

ALTERNATIVES = 10
_QUIET = -1
# Own measurement: 80 MB larger after three minutes of speech, and growing on.
_RENEW_AFTER_SAMPLES = 180 * SAMPLE_RATE_HZ
_BYTES_PER_SAMPLE = 2
_DITHER_SAMPLES = 1 << 16
_DITHER_SEED = 1


class HearingGrammar(Protocol):
    """What hearing needs to know of what may be said now. Must be picklable."""

    def phrase_list(self) -> tuple[str, ...]:
        """Phrases for the recogniser, fillers and "[unk]" among them, in the model's words."""

    def can_grow(self, words: tuple[str, ...]) -> bool:
        """Whether these words are the beginning of a longer permitted sentence."""


class _OpenVocabulary:
    """The kept open-vocabulary recogniser of one channel.

    It works in a thread of its own (native code lets Python go on), so that a second core halves
    the wait; the two looks meet in `finish`.
    """

    def __init__(self, model: vosk.Model) -> None:
        self._model = model
        self._recogniser = vosk.KaldiRecognizer(model, SAMPLE_RATE_HZ)
        self._thread = ThreadPoolExecutor(max_workers=1, thread_name_prefix="open-look")
        self._fed_samples = 0

    def feed(self, data: bytes) -> None:
        self._thread.submit(self._recogniser.AcceptWaveform, data)
        self._fed_samples += len(data) // _BYTES_PER_SAMPLE

    def finish(self) -> tuple[str, ...]:
        """The words since the last finish; what is fed next is another utterance."""
        heard = self._thread.submit(self._recogniser.FinalResult).result()
        words = tuple(str(json.loads(heard).get("text", "")).split())
        if self._fed_samples >= _RENEW_AFTER_SAMPLES:
            self._recogniser = vosk.KaldiRecognizer(self._model, SAMPLE_RATE_HZ)
            self._fed_samples = 0
        return words


class Look:
    """The recognisers at work on one utterance; feed it, ask it, finish it."""

    def __init__(
        self, closed: vosk.KaldiRecognizer, opened: _OpenVocabulary | None, dither: Samples
    ) -> None:
        self._closed = closed
        self._opened = opened
        self._dither = dither
        self._fed_samples = 0
        self._spent_s = 0.0

    def feed(self, samples: Samples) -> None:
        """Take the next samples of the utterance."""
        began_s = time.perf_counter()
        data = self._dithered(samples).tobytes()
        self._closed.AcceptWaveform(data)
        if self._opened is not None:
            self._opened.feed(data)
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
        partial = json.loads(self._closed.PartialResult())
        return tuple(str(partial.get("partial", "")).split())

    def finish(self, first_sample: int) -> tuple[tuple[Alternative, ...], tuple[str, ...], float]:
        """Alternatives (best first), open-vocabulary words, seconds of computing.

        `first_sample` is the position of the first sample fed: words' times count from there, and
        not from what this recogniser was fed.
        """
        began_s = time.perf_counter()
        heard = json.loads(self._closed.FinalResult())
        words = self._opened.finish() if self._opened is not None else ()
        self._spent_s += time.perf_counter() - began_s
        return _alternatives(heard, first_sample / SAMPLE_RATE_HZ), words, self._spent_s

    def drop(self) -> None:
        """End it without a result, leaving the kept recogniser ready for another utterance."""
        if self._opened is not None:
            self._opened.finish()


class Recogniser:
    """One loaded model; takes most of a second to load and some 160 MB."""

    def __init__(self, model: Path, *, open_look: bool = True, channels: int = 1) -> None:
        vosk.SetLogLevel(_QUIET)
        try:
            self._model = vosk.Model(str(model))
        except Exception as error:  # the binding raises nothing more particular
            raise MissingPart(
                f"The speech model in {model} cannot be loaded; run `voicelist model`."
            ) from error
        noise = np.random.default_rng(_DITHER_SEED).normal(0.0, 1.0, _DITHER_SAMPLES)
        self._dither: Samples = np.rint(noise).astype(np.int16)
        kept = channels if open_look else 0
        self._opened = [_OpenVocabulary(self._model) for _ in range(kept)]

    def vocabulary_has(self, word: str) -> bool:
        """Whether the model knows a word (lower case)."""
        return bool(self._model.vosk_model_find_word(word) >= 0)

    def look(self, grammar: HearingGrammar, channel: int = 0) -> Look:
        """Begin a look at one utterance; one at a time on each channel."""
        phrases = json.dumps(grammar.phrase_list())
        closed = vosk.KaldiRecognizer(self._model, SAMPLE_RATE_HZ, phrases)
        closed.SetMaxAlternatives(ALTERNATIVES)
        closed.SetWords(True)
        return Look(closed, self._opened[channel] if self._opened else None, self._dither)


def _alternatives(heard: dict[str, Any], first_s: float) -> tuple[Alternative, ...]:
    """The recogniser's alternatives, each wording once, with times of the channel's stream."""
    found: dict[tuple[str, ...], Alternative] = {}
    for told in heard.get("alternatives", ()):
        words = tuple(
            Word(str(word["word"]), first_s + word["start"], first_s + word["end"])
            for word in told.get("result", ())
        )
        alternative = Alternative(words, float(told["confidence"]))
        found.setdefault(tuple(word.text for word in words), alternative)
    return tuple(found.values())
