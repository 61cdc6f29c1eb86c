"""New documents from templates, with comments: where they go, and under which id."""

from __future__ import annotations

import json
import re
import textwrap
from pathlib import Path
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined

from voicelist import CAUTION
from voicelist.authoring.files import write_new
from voicelist.documents.base import Headed
from voicelist.documents.loading import parse_document
from voicelist.errors import UsageError

_ID = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")
_PLAIN = re.compile(r"[A-Za-z][A-Za-z0-9' |,.-]*")
_NO_TEXT = frozenset(("true", "false", "null"))


def rendered(template: str, **values: Any) -> str:
    """A template of this folder, filled in."""
    environment = Environment(
        loader=PackageLoader("voicelist.authoring", package_path="."),
        autoescape=False,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    environment.filters["text"] = as_text
    caution = textwrap.wrap(CAUTION, 96)
    return environment.get_template(template).render(caution=caution, **values)


def as_text(value: str) -> str:
    """A text as YAML writes it: in quotes where it might be read as something else."""
    if _PLAIN.fullmatch(value) and value.lower() not in _NO_TEXT:
        return value
    return json.dumps(value, ensure_ascii=False)


def id_of(target: Path, what: str) -> str:
    """The id that a document gets from its file's name. Raises UsageError where it cannot."""
    if target.suffix not in (".yaml", ".yml"):
        raise UsageError(f"{target} has to end in .yaml: a {what} is a YAML document.")
    if not _ID.fullmatch(target.stem):
        raise UsageError(
            f"{target.stem} cannot be a {what}'s id: name the file with lower-case letters, digits "
            f"and dashes, such as my-{what}.yaml."
        )
    return target.stem


def write_document(target: Path, model: type[Headed], text: str) -> None:
    """A document in a new file, if it is one. Raises UsageError, DocumentError."""
    parse_document(model, text, str(target))
    write_new(target, text)
