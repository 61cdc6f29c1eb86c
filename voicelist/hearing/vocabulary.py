"""The words that a speech model knows, read from its files without loading it.

Small models carry their word table inside `graph/Gr.fst` (an OpenFst symbol table, all numbers
little-endian); larger ones have it as text in `graph/words.txt`.
"""

from __future__ import annotations

import mmap
import struct
from collections.abc import Iterator
from pathlib import Path

from voicelist.errors import MissingPart

# OpenFst: fst/fst.h and fst/symbol-table.cc, read there.
_FST_MAGIC = 2125659606
_TABLE_MAGIC = 2125658996
_HAS_INPUT_TABLE = 1
_NOT_SPOKEN = ("<", "#", "!")


def vocabulary(model: Path, among: frozenset[str] | None = None) -> frozenset[str]:
    """Every word (lower case) that the model in this folder can recognise, and `[unk]`; only those
    `among` some words, if they are given: all take 13 MB.

    Takes about a tenth of a second. Raises MissingPart when the table cannot be read.
    """
    graph = model / "graph"
    try:
        listed = graph / "words.txt"
        words = _listed_words(listed) if listed.exists() else _embedded_words(graph / "Gr.fst")
        known = (word for word in words if word and not word.startswith(_NOT_SPOKEN))
        return frozenset(known if among is None else among.intersection(known))
    except (OSError, ValueError, struct.error) as error:
        raise MissingPart(
            f"The words of the speech model in {model} cannot be read ({error}); "
            "run `voicelist model` to fetch it again."
        ) from error


def _listed_words(path: Path) -> Iterator[str]:
    with path.open(encoding="utf-8") as lines:
        yield from (line.split()[0] for line in lines if line.strip())


def _embedded_words(path: Path) -> Iterator[str]:
    # Mapped, not read: the table is a small part of a large file.
    with path.open("rb") as file, mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ) as data:
        yield from _words_in(data, path)


def _words_in(data: mmap.mmap, path: Path) -> Iterator[str]:
    at = _skip_text(data, _skip_text(data, _expect(data, 0, _FST_MAGIC)))
    _version, flags = struct.unpack_from("<ii", data, at)
    if not flags & _HAS_INPUT_TABLE:
        raise ValueError(f"{path.name} holds no word table")
    # version, flags, then properties, start state, number of states, number of arcs
    at = _expect(data, at + 8 + 4 * 8, _TABLE_MAGIC)
    at = _skip_text(data, at) + 8
    (count,) = struct.unpack_from("<q", data, at)
    yield from _entries(data, at + 8, count)


def _entries(data: mmap.mmap, at: int, count: int) -> Iterator[str]:
    """`count` pairs of a text and a 64-bit number."""
    length_at = struct.Struct("<i").unpack_from
    for _ in range(count):
        (length,) = length_at(data, at)
        if not 0 <= length <= len(data) - at:
            raise ValueError("the word table is damaged")
        yield data[at + 4 : at + 4 + length].decode()
        at += 4 + length + 8


def _expect(data: mmap.mmap, at: int, magic: int) -> int:
    (found,) = struct.unpack_from("<i", data, at)
    if found != magic:
        raise ValueError("not the expected kind of file")
    return at + 4


def _skip_text(data: mmap.mmap, at: int) -> int:
    (length,) = struct.unpack_from("<i", data, at)
    return at + 4 + int(length)
