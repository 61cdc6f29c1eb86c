"""A recogniser that remembers: what it decoded under the same phrases is not decoded again, but
counts as the same computing time. All else of the product's hearing, which is cheap, is done as it
stands.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

from tests.benchmarks.harness.kept import Kept, key_of, n_best_of, plain_n_best
from voicelist.asr.recogniser import PhraseLists, Recogniser
from voicelist.audio.samples import Samples
from voicelist.understanding.hypothesis import NBest


class KeptRecogniser:
    """Stands in for a recogniser where an utterance is decoded whole; that one is asked for by
    `load` when there is something new. `engine` is a key of the model, its settings and code;
    `known` are the model's words."""

    def __init__(
        self, engine: str, kept: Kept, load: Callable[[], Recogniser], known: frozenset[str]
    ) -> None:
        self._engine, self._kept, self._load, self._known = engine, kept, load, known
        # Seconds of computing for everything that was decoded so far.
        self.spent_s = 0.0

    def vocabulary_has(self, word: str) -> bool:
        """Whether the model knows a word."""
        return word in self._known

    def look(self, grammar: PhraseLists) -> KeptLook:
        """Begin a look at one utterance."""
        lists = (grammar.phrase_list(), grammar.second_phrase_list())
        return KeptLook(
            key_of(self._engine, *lists),
            self._kept,
            lambda: self._load().look(grammar),
            self._spend,
        )

    def _spend(self, seconds: float) -> None:
        self.spent_s += seconds


class KeptLook:
    """Takes the sound piece by piece, and looks at its end."""

    def __init__(
        self, key: str, kept: Kept, begin: Callable[[], Any], spend: Callable[[float], None]
    ) -> None:
        self._key, self._kept, self._begin, self._spend = key, kept, begin, spend
        self._pieces: list[Samples | None] = []

    def feed(self, samples: Samples, pool: ThreadPoolExecutor | None = None) -> None:
        """The next samples of the utterance."""
        self._pieces.append(samples)

    def begin_again(self) -> None:
        """What was fed before teaches only the voice."""
        self._pieces.append(None)

    def finish(self, first_sample: int) -> tuple[NBest, NBest, float]:
        """The hypotheses of both passes; seconds of computing when they were new."""
        pieces = ["again" if piece is None else piece.tobytes() for piece in self._pieces]
        key = key_of("looks", self._key, str(first_sample), *pieces)
        first, second, decode_s = self._kept.of(key, lambda: self._done(first_sample))
        self._spend(decode_s)
        return n_best_of(first), n_best_of(second), decode_s

    def _done(self, first_sample: int) -> list[Any]:
        look = self._begin()
        each = _OneAfterTheOther()
        for piece in self._pieces:
            if piece is None:
                look.begin_again()
            else:
                look.feed(piece, each)
        began_s = time.process_time()
        first, second, _ = look.finish(first_sample)
        decode_s = max(each.spent_s) + time.process_time() - began_s
        return [plain_n_best(first), plain_n_best(second), decode_s]


class _OneAfterTheOther:
    """Stands in for a pool. Both passes run at the same time in a session: what they take is the
    longer of the two in processor time, however busy the machine is."""

    def __init__(self) -> None:
        self.spent_s = [0.0, 0.0]

    def map(self, work: Callable[[Any], Any], passes: list[Any]) -> list[Any]:
        done = []
        for number, one in enumerate(passes):
            began_s = time.thread_time()
            done.append(work(one))
            self.spent_s[number] += time.thread_time() - began_s
        return done
