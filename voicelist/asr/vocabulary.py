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

# OpenFst: fst/fst.h, fst/vector-fst.h and fst/symbol-table.cc, read there.
_FST_MAGIC = 2125659606
_TABLE_MAGIC = 2125658996
_HAS_INPUT_TABLE, _HAS_OUTPUT_TABLE = 1, 2
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
    with _mapped(path) as data:
        yield from _words_in(data, path)


def _mapped(path: Path) -> mmap.mmap:
    """Not read: the table is a small part of a large file."""
    with path.open("rb") as file:
        return mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ)


def words_alone(path: Path) -> bytes | None:
    """The contents of a `Gr.fst` that holds the words of this one and no sentence; None where it
    holds no words. A recogniser that is given phrases needs no more."""
    try:
        with _mapped(path) as data:
            at = _table_at(data, path)
            *_, (_, end) = _entries(data, *_count_of(data, at))
            table = data[at:end]
    except (ValueError, struct.error):
        return None
    kind = b"".join(struct.pack("<i", len(text)) + text for text in (b"vector", b"standard"))
    # version, flags, then no known properties, start state, one state, no arcs
    head = struct.pack("<iiQqqq", 2, _HAS_OUTPUT_TABLE, 0, 0, 1, 0)
    # The state ends a sentence, and nothing leads on.
    state = struct.pack("<fq", 0.0, 0)
    return struct.pack("<i", _FST_MAGIC) + kind + head + table + state


def _words_in(data: mmap.mmap, path: Path) -> Iterator[str]:
    for word, _ in _entries(data, *_count_of(data, _table_at(data, path))):
        yield word


def _table_at(data: mmap.mmap, path: Path) -> int:
    """Where the word table begins: the first, if there are two."""
    at = _skip_text(data, _skip_text(data, _expect(data, 0, _FST_MAGIC)))
    _version, flags = struct.unpack_from("<ii", data, at)
    if not flags & (_HAS_INPUT_TABLE | _HAS_OUTPUT_TABLE):
        raise ValueError(f"{path.name} holds no word table")
    # version, flags, then properties, start state, number of states, number of arcs
    return at + 8 + 4 * 8


def _count_of(data: mmap.mmap, at: int) -> tuple[int, int]:
    """Where the table's entries begin, and how many there are."""
    at = _skip_text(data, _expect(data, at, _TABLE_MAGIC)) + 8
    (count,) = struct.unpack_from("<q", data, at)
    return at + 8, count


def _entries(data: mmap.mmap, at: int, count: int) -> Iterator[tuple[str, int]]:
    """`count` pairs of a text and a 64-bit number: the text, and where the pair ends."""
    length_at = struct.Struct("<i").unpack_from
    for _ in range(count):
        (length,) = length_at(data, at)
        if not 0 <= length <= len(data) - at:
            raise ValueError("the word table is damaged")
        end = at + 4 + length + 8
        yield data[at + 4 : at + 4 + length].decode(), end
        at = end


def _expect(data: mmap.mmap, at: int, magic: int) -> int:
    (found,) = struct.unpack_from("<i", data, at)
    if found != magic:
        raise ValueError("not the expected kind of file")
    return at + 4


def _skip_text(data: mmap.mmap, at: int) -> int:
    (length,) = struct.unpack_from("<i", data, at)
    return at + 4 + int(length)
