"""The JSON Schema of a record, held against real exports by the library `jsonschema`: what is
exported fits it, and what was changed anywhere does not."""

from __future__ import annotations

import copy
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from cases import DOCUMENTS, keep, keep_on, opened, resumed, stepped_store, whole_case
from jsonschema import Draft202012Validator
from many_facts import rich_case

from tools.record_schema import FILE, text
from voicelist.record import schema
from voicelist.record.exports import export
from voicelist.record.journal import Entry
from voicelist.record.store import Store
from voicelist.record.verify import read_journal_file

Entries = tuple[Entry, ...]
JOURNALS = sorted((Path(__file__).parent / "journals").glob("*.jsonl"))
# Whatever a document or a value may be: here the schema asks for an object or for nothing.
OPEN = {"plan", "values", "expected", "heard", "old", "new", "value", "replaced", "model"}
OPEN |= {"set_up", "grade", "counts"}


@pytest.fixture(scope="module")
def fits() -> Draft202012Validator:
    """By the file that ships."""
    shipped = json.loads(schema.shipped_schema())
    Draft202012Validator.check_schema(shipped)
    return Draft202012Validator(shipped)


@pytest.fixture(scope="module")
def rich(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    store = stepped_store(tmp_path_factory.mktemp("schema") / "records.sqlite3")
    found = json.loads(export(rich_case(store), "json"))
    assert isinstance(found, dict)
    return found


def errors(fits: Draft202012Validator, document: Any) -> list[str]:
    return [f"{one.json_path}: {one.message[:200]}" for one in fits.iter_errors(document)]


def test_the_file_that_ships_is_made_of_the_types_of_today() -> None:
    assert FILE.read_text(encoding="utf-8") == text(), "python tools/record_schema.py"


@pytest.mark.parametrize("path", JOURNALS, ids=lambda path: path.stem)
def test_older_journals_fit(fits: Draft202012Validator, path: Path) -> None:
    exported = json.loads(export(read_journal_file(path), "json"))
    assert errors(fits, exported) == []
    assert exported["sections"], "there is something to look at"


def test_cases_of_every_kind_fit(
    fits: Draft202012Validator, rich: dict[str, Any], store: Store
) -> None:
    assert errors(fits, rich) == []
    stopped = keep(store, "case-12", whole_case())
    empty = {**DOCUMENTS, "checklist": {"id": "none", "title": "None", "sections": []}}
    cases = {
        "open": stopped[:30],
        "stopped": stopped,
        "resumed": keep_on(store, "case-12", resumed()),
        "practice": keep(store, "practice-007", whole_case("practice")),
        "nothing asked": keep(store, "case-14", (opened("typed", empty),)),
        "an event lost": (*stopped[:5], *stopped[6:]),
    }
    for name, entries in cases.items():
        assert errors(fits, json.loads(export(entries, "json"))) == [], name


def test_whether_it_verifies_has_to_agree_with_its_problems(
    fits: Draft202012Validator, rich: dict[str, Any]
) -> None:
    assert not fits.is_valid({**rich, "verifies": False})
    assert not fits.is_valid({**rich, "problems": ["Event 4: it was changed."]})
    assert fits.is_valid({**rich, "verifies": False, "problems": ["Event 4: it was changed."]})


@pytest.mark.parametrize(
    ("path", "value"),
    [
        ("state", "finished"),
        ("head", "0123"),
        ("caution", ""),
        ("format", 2),
        ("started_at", "2031-03-04 08:00"),
        ("sections.0.items.0.status", "done"),
        ("mismatches.0.outcome", "ignored"),
        ("runs.0.sound_kept", "yes"),
        ("clock_changes.0.what", "slow"),
        ("items", -1),
    ],
)
def test_what_a_field_may_not_say_does_not_fit(
    fits: Draft202012Validator, rich: dict[str, Any], path: str, value: object
) -> None:
    changed = copy.deepcopy(rich)
    *above, last = path.split(".")
    part: Any = changed
    for step in above:
        part = part[int(step)] if step.isdigit() else part[step]
    assert part[last] != value
    part[last] = value
    assert not fits.is_valid(changed)


def test_an_export_changed_anywhere_does_not_fit(
    fits: Draft202012Validator, rich: dict[str, Any]
) -> None:
    """Every field of every kind of part taken away, of another type, and one more beside them."""
    small = _first_of_each(rich)
    assert fits.is_valid(small)
    tried: set[tuple[frozenset[str], str]] = set()
    fitting: list[str] = []
    for place, part, name in list(_fields(small, "")):
        if (frozenset(part), name) in tried:
            continue
        tried.add((frozenset(part), name))
        kept = part[name]
        part[name] = [[kept]]
        fitting += [f"{place}.{name} of another type"] * fits.is_valid(small)
        del part[name]
        fitting += [f"{place}.{name} taken away"] * fits.is_valid(small)
        part[name] = kept
        part["beside"] = 1
        fitting += [f"one more beside {place}.{name}"] * fits.is_valid(small)
        del part["beside"]
    kinds = {kind for kind, _ in tried}
    told = {*schema.record_schema()["$defs"], "the whole"}
    assert len(kinds) == len(told), "a part of every type is in the case"
    assert fitting == []
    assert fits.is_valid(small), "it is as it was"


def _first_of_each(value: Any) -> Any:
    """Lists with one of each kind: their richest entry."""
    if isinstance(value, dict):
        return {name: _first_of_each(one) for name, one in value.items()}
    if isinstance(value, list) and value and all(isinstance(one, dict) for one in value):
        return [_first_of_each(max(value, key=lambda one: len(json.dumps(one))))]
    return value


def _fields(value: Any, place: str) -> Iterator[tuple[str, dict[str, Any], str]]:
    if isinstance(value, dict):
        for name, one in value.items():
            if name not in OPEN:
                yield place, value, name
                yield from _fields(one, f"{place}.{name}")
    elif isinstance(value, list):
        for one in value:
            yield from _fields(one, place)


def test_what_the_schema_says_beside_the_types_is_about_types_that_there_are() -> None:
    made = schema.record_schema()
    parts = {"Above", "CaseView", *made["$defs"]}
    assert set(schema._SAID_BESIDE) <= parts
