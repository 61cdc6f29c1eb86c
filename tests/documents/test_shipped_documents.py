"""The documents that ship are valid, and every plan among them finds all that it needs."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from voicelist.documents.bundle import load_bundle
from voicelist.documents.embedded import Bundle
from voicelist.documents.loading import load_document, sniff_kind
from voicelist.places import shipped

GRAMMARS = shipped("grammars")
DOCUMENTS = sorted(GRAMMARS.rglob("*.yaml"))
PLANS = sorted(GRAMMARS.glob("plans/*.yaml"))


def name_of(path: Path) -> str:
    return path.relative_to(GRAMMARS).as_posix()


@pytest.mark.parametrize("path", DOCUMENTS, ids=name_of)
def test_a_shipped_document_is_valid(path: Path) -> None:
    kind = sniff_kind(path)
    assert kind != "rules"
    assert load_document(path, kind).document.format == 1


@pytest.mark.parametrize("path", PLANS, ids=name_of)
def test_a_shipped_plan_is_complete_and_survives_a_record(path: Path) -> None:
    bundle = load_bundle(path)
    assert bundle.plan.case == path.stem
    assert "numbers" in bundle.rules
    assert Bundle.from_json(bundle.to_json()) == bundle


@pytest.mark.parametrize("path", PLANS, ids=name_of)
def test_every_phrase_of_a_shipped_checklist_has_a_place_where_it_is_written(path: Path) -> None:
    bundle = load_bundle(path)
    for number, section in enumerate(bundle.checklist.sections):
        for index, item in enumerate(section.items):
            for key in ("done", "fault", "value"):
                phrase = getattr(item, key)
                if phrase is None:
                    continue
                place = bundle.place_of("checklist", ("sections", number, "items", index, key))
                line = Path(place.file).read_text(encoding="utf-8").splitlines()[place.line - 1]
                assert line[place.column - 1 :].startswith(phrase.split()[0])


def test_there_are_shipped_documents_of_each_kind() -> None:
    assert {sniff_kind(path) for path in DOCUMENTS} == {
        "checklist",
        "card",
        "plan",
        "lexicon",
        "sentences",
        "limits",
    }
    assert PLANS


def test_names_and_marks_do_without_pydantic_and_yaml() -> None:
    code = (
        "import sys, voicelist.documents.names, voicelist.documents.marks;"
        "sys.exit(bool({'pydantic', 'yaml', 'rapidfuzz'} & set(sys.modules)))"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
