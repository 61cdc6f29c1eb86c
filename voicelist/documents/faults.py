"""What is wrong in a model, said as found and expected, wherever pydantic or a rule noticed it."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from pydantic_core import ErrorDetails, InitErrorDetails, PydanticCustomError, ValidationError

from voicelist.documents.marks import Places, YamlPath, spelled
from voicelist.documents.wording import described, did_you_mean, number, one_of, quoted
from voicelist.errors import Problem

if TYPE_CHECKING:
    from pydantic.fields import FieldInfo

_FAULT = "voicelist_fault"
_KEY = "[key]"  # pydantic's sign that a key, not its value, is meant


@dataclass(frozen=True, slots=True)
class Fault:
    """A broken rule at `path` inside a model. `at_key` points at the key instead of the value;
    `first` is the path of an earlier part that this one repeats."""

    path: YamlPath
    found: str
    expected: str
    at_key: bool = False
    first: YamlPath | None = None


def refusal(found: str, expected: str) -> PydanticCustomError:
    """For field validators to raise."""
    return _custom(Fault((), found, expected))


def line_of(fault: Fault) -> InitErrorDetails:
    return InitErrorDetails(type=_custom(fault), loc=fault.path, input=None)


def line_again(error: ErrorDetails, fields: Mapping[str, FieldInfo]) -> InitErrorDetails:
    """One of pydantic's lines in our words; a line that is in our words already stays."""
    location = error["loc"]
    of_key = location[-1:] == (_KEY,)
    path = location[:-1] if of_key else location
    at_key = of_key or error["type"] == "extra_forbidden"
    if error["type"] == _FAULT:
        context = error["ctx"] | {"at_key": at_key or error["ctx"]["at_key"]}
        kind = PydanticCustomError(_FAULT, "{found}; {expected}", context)
        return InitErrorDetails(type=kind, loc=path, input=None)
    found, expected = _explained(error, path, fields)
    return line_of(Fault(path, found, expected, at_key))


def problems_of(
    error: ValidationError, places: Places, unusable: Collection[YamlPath] = ()
) -> list[Problem]:
    """The Problems behind a ValidationError, but for those at or below an unusable path."""
    problems = []
    for line in error.errors(include_url=False):
        said = line if line["type"] == _FAULT else _as_details(line)
        path = said["loc"]
        if any(path[: len(bad)] == bad for bad in unusable):
            continue
        context = said["ctx"]
        place = places.of_key(path) if context["at_key"] else places.of(path)
        expected = str(context["expected"])
        if context["first"] is not None:
            outer = path[: len(path) - context["depth"]]
            expected += f" (the first is in line {places.of((*outer, *context['first'])).line})"
        found = str(context["found"])
        if not places.values:  # nothing was read from a file: say where in the document
            found = f"in {spelled(path) or 'the whole'}: {found}"
        problems.append(place.problem(found, expected))
    return problems


def _custom(fault: Fault) -> PydanticCustomError:
    context: dict[str, Any] = {
        "found": fault.found,
        "expected": fault.expected,
        "at_key": fault.at_key,
        "first": fault.first,
        "depth": len(fault.path),
    }
    return PydanticCustomError(_FAULT, "{found}; {expected}", context)


def _as_details(error: ErrorDetails) -> ErrorDetails:
    """A line about the document as a whole, which no model has put into our words."""
    error["ctx"] = {
        "found": described(error["input"]),
        "expected": "expected keys with values, such as format: 1",
        "at_key": False,
        "first": None,
        "depth": 0,
    }
    return error


def _explained(
    error: ErrorDetails, path: YamlPath, fields: Mapping[str, FieldInfo]
) -> tuple[str, str]:
    kind, value = error["type"], error["input"]
    key = str(path[-1])
    field = fields.get(str(path[0])) if len(path) == 1 else None
    meaning = (field.description if field else None) or ""
    if kind == "missing":
        return f"no key {quoted(key)}", f"expected {key}: {meaning}".rstrip(": ")
    if kind == "extra_forbidden":
        allowed = tuple(fields)
        return (
            f"the unknown key {quoted(key)}",
            f"{did_you_mean(key, allowed)}expected {_list(allowed)}",
        )
    if kind == "literal_error":
        allowed = tuple(re.findall(r"'([^']*)'", error["ctx"]["expected"]))
        hint = did_you_mean(value, allowed) if isinstance(value, str) else ""
        return described(value), f"{hint}expected {one_of(allowed)}"
    return described(value), f"expected {_expected(error, meaning)}"


def _list(allowed: Collection[str]) -> str:
    return one_of(allowed) if allowed else "no keys here"


def _expected(error: ErrorDetails, meaning: str) -> str:
    kind, value, context = error["type"], error["input"], error.get("ctx", {})
    if kind == "string_type":
        what = meaning or "text"
        if isinstance(value, list):
            return f"{what} (in quotes, if it starts with [)"
        return what if isinstance(value, dict) else f"{what} (in quotes, to make it text)"
    if kind == "bool_type":
        return "true or false (no, off, yes and on are plain text here)"
    if kind in _LIMITS:
        name, words = _LIMITS[kind]
        return meaning or f"{words} {number(context[name])}"
    if kind in {"too_short", "string_too_short"}:
        return meaning or "at least one"
    return meaning or _BY_TYPE.get(kind, "something else here")


_LIMITS = {
    "greater_than_equal": ("ge", "a number of at least"),
    "greater_than": ("gt", "a number above"),
    "less_than_equal": ("le", "a number of at most"),
    "less_than": ("lt", "a number below"),
    "multiple_of": ("multiple_of", "a multiple of"),
}
_BY_TYPE = {
    "int_type": "a whole number",
    "float_type": "a number, such as 0.5 or +21.5",
    "tuple_type": "a list",
    "dict_type": "keys with values",
    "model_type": "keys with values",
}
