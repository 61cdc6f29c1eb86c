"""Reading a document's text: small, UTF-8, and every refusal with a place and a remedy."""

from __future__ import annotations

import codecs
from pathlib import Path

from voicelist.documents.marks import Place
from voicelist.errors import DocumentError
from voicelist.reading import FILE_LIMITS, NotReadable, read_file


def read_text(path: Path) -> str:
    """The text of a UTF-8 file, without a byte order mark. Raises DocumentError."""
    try:
        raw = read_file(path, FILE_LIMITS.document, "a document")
    except NotReadable as error:
        problem = Place(str(path), 1, 1).problem(error.found, error.expected)
        raise DocumentError((problem,)) from None
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
