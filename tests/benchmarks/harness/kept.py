"""What was heard once is kept, so that a run which was cut, or is done in parts, goes on where it
was.

Kept in one file in the user's cache (or in the folder VOICELIST_BENCHMARKS_CACHE), by what it
depends on: the sound, the phrases, the engine with its settings and the product's own code for it.
After a change of any of these it is heard anew; after a change of understanding alone it is not,
which makes measuring it quick. What is kept is safe to delete.
"""

from __future__ import annotations

import hashlib
import json
import os
import sqlite3
import time
import zlib
from collections.abc import Callable, Iterable
from dataclasses import fields
from pathlib import Path
from typing import Any

import platformdirs

from voicelist.asr.utterance import DecodedUtterance
from voicelist.understanding.hypothesis import Hypothesis, NBest, Passes
from voicelist.understanding.questions import (
    DecodeAgain,
    DecodeUnder,
    ForcedChoice,
    FreeTranscript,
    Question,
    Reply,
    Transcript,
    VerifierScores,
)

_PATIENCE_S = 60.0
_BESIDE_WORDS = tuple(
    one.name for one in fields(Hypothesis) if one.name not in ("words", "spans_s")
)


def kept_folder() -> Path:
    """Where it is kept; made if need be."""
    named = os.environ.get("VOICELIST_BENCHMARKS_CACHE")
    folder = Path(named or platformdirs.user_cache_path("voicelist") / "benchmarks")
    folder.mkdir(parents=True, exist_ok=True)
    return folder


class Kept:
    """Plain values by key; several processes may use the file at once."""

    def __init__(self, file: Path | None = None) -> None:
        self._db = sqlite3.connect(
            file or kept_folder() / "heard.sqlite", timeout=_PATIENCE_S, isolation_level=None
        )
        self._db.execute("PRAGMA journal_mode=WAL")
        self._db.execute("PRAGMA synchronous=NORMAL")
        self._db.execute("CREATE TABLE IF NOT EXISTS heard (key TEXT PRIMARY KEY, value BLOB)")

    def of(self, key: str, make: Callable[[], Any]) -> Any:
        """The value kept under a key, made first where there is none."""
        row = self._db.execute("SELECT value FROM heard WHERE key = ?", (key,)).fetchone()
        if row is not None:
            return json.loads(zlib.decompress(row[0]))
        value = make()
        blob = zlib.compress(json.dumps(value, separators=(",", ":")).encode())
        self._db.execute("INSERT OR REPLACE INTO heard VALUES (?, ?)", (key, blob))
        return value


def key_of(*parts: bytes | str | Iterable[str]) -> str:
    """A key that is another one if any part is another one."""
    digest = hashlib.sha256()
    for part in parts:
        if isinstance(part, str):
            data = part.encode()
        elif isinstance(part, bytes):
            data = part
        else:
            data = "\n".join(part).encode()
        digest.update(len(data).to_bytes(8, "big"))
        digest.update(data)
    return digest.hexdigest()


def code_of(*modules: Any) -> str:
    """The text of modules that a kept value depends on."""
    return "\n".join(Path(str(one.__file__)).read_text(encoding="utf-8") for one in modules)


def plain(utterance: DecodedUtterance) -> dict[str, Any]:
    """An utterance as plain values."""
    passes = utterance.passes
    rest = {one.name: getattr(utterance, one.name) for one in fields(utterance)}
    first, second = plain_n_best(passes.first), plain_n_best(passes.second)
    return {**rest, "passes": [first, second, passes.in_noise]}


def utterance_of(told: dict[str, Any]) -> DecodedUtterance:
    """The utterance of plain values."""
    return DecodedUtterance(**{**told, "passes": passes_of(told["passes"])})


def passes_of(told: list[Any]) -> Passes:
    """Both passes of plain values."""
    first, second, in_noise = told
    return Passes(n_best_of(first), n_best_of(second), in_noise)


def plain_n_best(hypotheses: NBest) -> list[dict[str, Any]]:
    """Hypotheses as plain values."""
    return [
        {
            **{name: getattr(one, name) for name in _BESIDE_WORDS},
            "words": [[word, *span] for word, span in zip(one.words, one.spans_s, strict=True)],
        }
        for one in hypotheses
    ]


def n_best_of(told: Iterable[dict[str, Any]]) -> NBest:
    """The hypotheses of plain values."""
    return tuple(
        Hypothesis(
            tuple(word for word, *_ in one["words"]),
            tuple((begin_s, end_s) for _, begin_s, end_s in one["words"]),
            **{name: _frozen(one[name]) for name in _BESIDE_WORDS if name in one},
        )
        for one in told
    )


def _frozen(value: Any) -> Any:
    return tuple(value) if isinstance(value, list) else value


# A reply, and the seconds of computing that it took when it was new.
Timed = tuple[Reply | None, float]
Ask = Callable[[Question], Timed]


class KeptDecoder:
    """Answers by `decode` what the recogniser is asked, by `verify` what the verifier is."""

    def __init__(self, decode: Ask, verify: Ask) -> None:
        self._decode, self._verify = decode, verify
        self.spent_s = 0.0

    def now_s(self) -> float:
        """Seconds of computing since the decision began."""
        return self.spent_s

    def ask(self, question: Question, by_s: float) -> Reply | None:
        """The reply; None where it would have come too late, and then the time is over."""
        reply, took_s = self.timed(question)
        late = self.spent_s + took_s >= by_s
        self.spent_s = by_s if late else self.spent_s + took_s
        return None if late else reply

    def timed(self, question: Question) -> Timed:
        """The reply, and what it takes."""
        decoded = isinstance(question, DecodeAgain | DecodeUnder | ForcedChoice)
        return self._decode(question) if decoded else self._verify(question)


class KeptReplies:
    """Replies about one sound, whose key is `key`: as `answer` gives them when they are new."""

    def __init__(self, kept: Kept, key: str, answer: Callable[[Question], Reply | None]) -> None:
        self._kept, self._key, self._answer = kept, key, answer

    def ask(self, question: Question) -> Timed:
        """The reply, and what it took."""

        def told() -> Any:
            began_s = time.process_time()
            found = self._answer(question)
            return [_plain_reply(found), time.process_time() - began_s]

        key = key_of(self._key, type(question).__name__, *map(str, _asked_of(question)))
        found, took_s = self._kept.of(key, told)
        return _reply_of(question, found), took_s


def _asked_of(question: Question) -> tuple[object, ...]:
    match question:
        case DecodeAgain(speed):
            return (speed,)
        case ForcedChoice(sentences) | VerifierScores(sentences):
            return sentences
        case DecodeUnder(phrases):
            return phrases
        case FreeTranscript():
            return ()


def _plain_reply(reply: Reply | None) -> Any:
    match reply:
        case Passes(first, second, in_noise):
            return [plain_n_best(first), plain_n_best(second), in_noise]
        case Transcript(words, log_likelihood):
            return [words, log_likelihood]
    return reply


def _reply_of(question: Question, told: Any) -> Reply | None:
    if told is None:
        return None
    match question:
        case DecodeAgain() | DecodeUnder():
            return passes_of(told)
        case FreeTranscript():
            words, log_likelihood = told
            return Transcript(tuple(words), log_likelihood)
    return tuple(told)
