"""A recogniser that remembers: looks at sounds that it has had under the same phrases are not done
again. All else of the product's hearing, which is cheap, is done as it stands.
"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

from kept import Kept, key_of, look_of, plain_look

from voicelist.asr.recogniser import Alternatives, HearingGrammar, Recogniser
from voicelist.audio.samples import Samples


class KeptRecogniser:
    """Stands in for a recogniser where an utterance is decoded whole; that one is asked for by
    `load` when there is something new. `engine` is a key of the model, its settings and code;
    `known` are the model's words."""

    def __init__(
        self, engine: str, kept: Kept, load: Callable[[], Recogniser], known: frozenset[str]
    ) -> None:
        self._engine, self._kept, self._load, self._known = engine, kept, load, known

    def vocabulary_has(self, word: str) -> bool:
        """Whether the model knows a word."""
        return word in self._known

    def look(self, grammar: HearingGrammar) -> KeptLook:
        """Begin a look at one utterance."""
        lists = (grammar.phrase_list(), grammar.second_phrase_list())
        return KeptLook(
            key_of(self._engine, *lists), self._kept, lambda: self._load().look(grammar)
        )


class KeptLook:
    """Takes the sound piece by piece, and looks at its end."""

    def __init__(self, key: str, kept: Kept, begin: Callable[[], Any]) -> None:
        self._key, self._kept, self._begin = key, kept, begin
        self._pieces: list[Samples | None] = []

    def feed(self, samples: Samples, pool: ThreadPoolExecutor | None = None) -> None:
        """The next samples of the utterance."""
        self._pieces.append(samples)

    def begin_again(self) -> None:
        """What was fed before teaches only the voice."""
        self._pieces.append(None)

    def finish(self, first_sample: int) -> tuple[Alternatives, Alternatives, float]:
        """Alternatives of both looks; seconds of computing when they were new."""
        pieces = ["again" if piece is None else piece.tobytes() for piece in self._pieces]
        key = key_of("looks", self._key, str(first_sample), *pieces)
        first, second, decode_s = self._kept.of(key, lambda: self._done(first_sample))
        return look_of(first), look_of(second), decode_s

    def _done(self, first_sample: int) -> list[Any]:
        look = self._begin()
        with ThreadPoolExecutor() as pool:
            for piece in self._pieces:
                if piece is None:
                    look.begin_again()
                else:
                    look.feed(piece, pool)
        first, second, decode_s = look.finish(first_sample)
        return [plain_look(first), plain_look(second), decode_s]
