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
import zlib
from collections.abc import Callable, Iterable
from dataclasses import fields
from pathlib import Path
from typing import Any

import platformdirs

from voicelist.asr.utterance import Alternative, Utterance, Word

_PATIENCE_S = 60.0


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


def plain(utterance: Utterance) -> dict[str, Any]:
    """An utterance as plain values."""
    looks = ("alternatives", "second_look")
    rest = {one.name: getattr(utterance, one.name) for one in fields(utterance)}
    return {**rest, **{look: plain_look(rest[look]) for look in looks}}


def utterance_of(told: dict[str, Any]) -> Utterance:
    """The utterance of plain values."""
    looks = {look: look_of(told[look]) for look in ("alternatives", "second_look")}
    return Utterance(**{**told, **looks})


def plain_look(alternatives: Iterable[Alternative]) -> list[dict[str, Any]]:
    """Alternatives as plain values."""
    return [
        {
            **{part.name: getattr(one, part.name) for part in fields(one)},
            "words": [[word.text, word.start_s, word.end_s] for word in one.words],
        }
        for one in alternatives
    ]


def look_of(told: Iterable[dict[str, Any]]) -> tuple[Alternative, ...]:
    """The alternatives of plain values."""
    return tuple(
        Alternative(**{**one, "words": tuple(Word(*word) for word in one["words"])}) for one in told
    )
