"""Typesetting on paper: a template and its data become a PDF/A-2b file, the same bytes for the same
input. The fonts come with the typesetter, and nothing of the computer's is used."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from datetime import UTC, datetime
from importlib.resources import files
from typing import Any

from voicelist.errors import MissingPart

# What the fonts of the typesetter have of what a record may hold; the rest is shown by its number,
# because a PDF/A file may hold no character without its shape.
_SHOWABLE = re.compile(
    "[^\\n\\u0020-\\u007e\\u00a0-\\u00ac\\u00ae-\\u017f\\u0391-\\u03a1\\u03a3-\\u03c9"
    "\\u0410-\\u044f\\u2010-\\u2015\\u2018-\\u201e\\u2022\\u2026\\u2190-\\u2193\\u2212]"
)


def typeset(package: str, template: str, data: Mapping[str, Any], at: str) -> bytes:
    """The `template` of a package with `data` (JSON values) as a PDF/A-2b file. `at` is the time
    (RFC 3339) that the file carries as its own. Raises MissingPart without the typesetter."""
    try:
        import typst
    except ImportError as error:
        raise MissingPart(
            f"The typesetter for PDF files is missing ({error}): pip install typst."
        ) from error
    moment = _moment(at)
    dated = {"year": moment.year, "month": moment.month, "day": moment.day}
    text = json.dumps({**_shown(data), "date": dated}, ensure_ascii=False, allow_nan=False)
    made = typst.compile(
        files(package).joinpath(template).read_bytes(),
        format="pdf",
        pdf_standards="a-2b",
        ignore_system_fonts=True,
        sys_inputs={"data": text},
        timestamp=moment,
    )
    assert isinstance(made, bytes), "one file is asked for"
    return made


def _moment(at: str) -> datetime:
    try:
        return datetime.fromisoformat(at).astimezone(UTC).replace(microsecond=0)
    except (ValueError, OverflowError):
        return datetime(1970, 1, 1, tzinfo=UTC)  # of a damaged record


def _shown(value: Any) -> Any:
    """The data with every character that has no shape in the fonts written by its number."""
    if isinstance(value, str):
        return _SHOWABLE.sub(lambda one: f"[U+{ord(one[0]):04X}]", value)
    if isinstance(value, Mapping):
        return {name: _shown(one) for name, one in value.items()}
    if isinstance(value, list | tuple):
        return [_shown(one) for one in value]
    return value
