"""The JSON Schema (2020-12) of a record in JSON, made of the types that the export is made of.

What a type says of itself is taken from it, by pydantic. Beside it stands what the types do not
say: the words that are possible in a field, and how times and hashes are written.
"""

from __future__ import annotations

from collections.abc import Mapping
from importlib.resources import files
from typing import Any, Final

from pydantic import TypeAdapter
from pydantic.json_schema import GenerateJsonSchema, JsonSchemaValue
from pydantic_core import core_schema

from voicelist.record.as_json import FORMAT, Above, reads_in_one_line
from voicelist.record.course import OPEN_CASE
from voicelist.record.equipment import CLOCK_CHANGES
from voicelist.record.history import ENDED
from voicelist.record.times import CLOCK, SOUND
from voicelist.record.verify import END_STATES
from voicelist.record.view import STATUSES, CaseView
from voicelist.record.words import CAUTION, KNOWN_BY, OUTCOME
from voicelist.session import state as st

NAME: Final = "record"
_FILE = "record.schema.json"
_ABOUT = (
    "The JSON export of the record of one case: voicelist record export CASE --format json. A "
    "record that does not verify may hold whatever its journal holds, and need not fit."
)
_SOURCES = ("live", "recording", "typed", "practice")
_HASH = "[0-9a-f]{64}"
_TIME = r"[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}\.[0-9]{3}"
_UTC = {"pattern": f"^{_TIME}Z$"}
_LOCAL = {"pattern": rf"^({_TIME}[+-][0-9]{{2}}:[0-9]{{2}})?$"}
_KNOWN_BY = {"enum": list(KNOWN_BY)}


def _one_of(*words: str) -> dict[str, Any]:
    return {"enum": list(words)}


_COUNT: Final[Mapping[str, Any]] = {"minimum": 0}
# By type and field, what its annotation does not say.
_SAID_BESIDE: Final[Mapping[str, Mapping[str, Mapping[str, Any]]]] = {
    "Above": {
        "format": {"const": FORMAT},
        "caution": {"const": CAUTION},
        "items": _COUNT,
        "items_due": _COUNT,
    },
    "CaseView": {
        "source": _one_of(*_SOURCES),
        "state": _one_of(OPEN_CASE, *END_STATES),
        "started_at": _UTC,
        "last_at": _UTC,
        "started_local": _LOCAL,
        "ended_local": _LOCAL,
        "last_local": _LOCAL,
        "events": {"minimum": 1},
        "head": {"pattern": f"^{_HASH}$"},
        "tree_head": {"pattern": f"^({_HASH})?$"},
        "counts": {"propertyNames": _one_of(*STATUSES)},
    },
    "Moment": {
        "seq": {"minimum": 1},
        "at": _UTC,
        "local": _LOCAL,
        "base": _one_of(CLOCK, SOUND),
    },
    "ItemView": {"status": _one_of(*STATUSES), "role_known_by": _KNOWN_BY},
    "Answer": {
        "answer": _one_of(*st.ANSWERS),
        "ended": _one_of("", *ENDED),
        "role_known_by": _KNOWN_BY,
    },
    "Mismatch": {
        "severity": _one_of("ask", "stop"),
        "outcome": _one_of(*OUTCOME),
        "times": {"minimum": 1},
        "role_known_by": _KNOWN_BY,
    },
    "ClockChange": {"what": _one_of(*CLOCK_CHANGES)},
    "LateEntry": {"at": _UTC, "local": _LOCAL},
    "RunView": {
        "source": _one_of(*_SOURCES),
        "started_at": _UTC,
        "ended_at": _UTC,
        "started_local": _LOCAL,
        "ended_local": _LOCAL,
        "time_base": _one_of(CLOCK, SOUND),
    },
}


class _Parts(GenerateJsonSchema):
    """Every field of a part is there, and nothing else is."""

    def field_is_required(self, field: Any, total: bool) -> bool:
        del field, total
        return True

    def field_title_should_be_set(self, schema: Any) -> bool:
        del schema
        return False

    def dataclass_schema(self, schema: core_schema.DataclassSchema) -> JsonSchemaValue:
        kind = schema["cls"]
        made = super().dataclass_schema(schema)
        parts = made["properties"]
        for name, beside in _SAID_BESIDE.get(kind.__name__, {}).items():
            parts[name] = {**parts[name], **beside}
        for one in parts.values():
            one.pop("default", None)
        if reads_in_one_line(kind):
            parts["words"] = {"type": "string", "description": "the same in one line"}
        about = {"description": " ".join(made.get("description", "").split())}
        return {**made, **about, "required": list(parts), "additionalProperties": False}


def record_schema() -> dict[str, Any]:
    """The schema, made anew of the types."""
    above, view = (
        TypeAdapter(kind).json_schema(schema_generator=_Parts, mode="serialization")
        for kind in (Above, CaseView)
    )
    parts = {**above["properties"], **view["properties"]}
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": f"voicelist {NAME}",
        "description": _ABOUT,
        "type": "object",
        "properties": parts,
        "required": list(parts),
        "additionalProperties": False,
        "if": {"properties": {"verifies": {"const": True}}},
        "then": {"properties": {"problems": {"maxItems": 0}}},
        "else": {"properties": {"problems": {"minItems": 1}}},
        "$defs": dict(sorted({**above["$defs"], **view["$defs"]}.items())),
    }


def shipped_schema() -> str:
    """The schema as it ships, the text of a file."""
    return files("voicelist.record").joinpath(_FILE).read_text(encoding="utf-8")
