"""Reading a document's text: small, UTF-8, and every refusal with a place and a remedy."""

from __future__ import annotations

import codecs
from pathlib import Path

from voicelist.documents.marks import Place
from voicelist.errors import DocumentError

LARGEST_BYTES = 2_000_000


def read_text(path: Path) -> str:
    """The text of a UTF-8 file, without a byte order mark. Raises DocumentError."""
    start = Place(str(path), 1, 1)
    try:
        with path.open("rb") as file:
            raw = file.read(LARGEST_BYTES + 1)
    except FileNotFoundError:
        problem = start.problem("no such file", "expected a document: check the path")
        raise DocumentError((problem,)) from None
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) else str(error)
        expected = "expected a file that can be read: check the path and its permissions"
        raise DocumentError((start.problem(f"an unreadable file ({reason})", expected),)) from None
    if len(raw) > LARGEST_BYTES:
        expected = f"expected a document of at most {LARGEST_BYTES // 1_000_000} MB"
        raise DocumentError((start.problem("a file too large for a document", expected),))
    return _decoded(raw, str(path))


def _decoded(raw: bytes, file: str) -> str:
    if raw.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        problem = Place(file, 1, 1).problem("UTF-16 text", "expected UTF-8: save the file as UTF-8")
        raise DocumentError((problem,))
    raw = raw.removeprefix(codecs.BOM_UTF8)
    try:
        return raw.decode("utf-8")
    except UnicodeDecodeError as error:
        before = raw[: error.start]
        line = before.count(b"\n") + 1
        column = len(before[before.rfind(b"\n") + 1 :].decode("utf-8")) + 1
        found = f"the byte 0x{raw[error.start]:02X}, which is not UTF-8"
        problem = Place(file, line, column).problem(found, "expected UTF-8: save the file as UTF-8")
        raise DocumentError((problem,)) from None
