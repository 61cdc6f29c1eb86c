"""Files: what cannot be read, what kind a file is, and the schemas for editors."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from example_documents import CARD, CHECKLIST, LEXICON, PLAN, SENTENCES, write_grammars

from voicelist.documents.loading import (
    json_schema,
    load_card,
    load_checklist,
    load_document,
    load_lexicon,
    load_plan,
    load_sentences,
    sniff_kind,
)
from voicelist.documents.models import MODELS
from voicelist.documents.names import KINDS, Kind
from voicelist.errors import DocumentError, Problem
from voicelist.reading import FILE_LIMITS


def problem_of(path: Path) -> Problem:
    with pytest.raises(DocumentError) as caught:
        load_plan(path)
    (problem,) = caught.value.problems
    assert problem.file == str(path)
    return problem


def test_each_kind_is_loaded_with_its_places(tmp_path: Path) -> None:
    plan = write_grammars(tmp_path)
    assert load_plan(str(plan)).document.case == "practice-007"
    assert load_card(tmp_path / "cards/demo-surgeon.yaml").document.id == "demo-surgeon"
    assert load_lexicon(tmp_path / "lexicon.yaml").document.words[0].written == "phaco"
    assert load_sentences(tmp_path / "sentences.en.yaml").document.sentences
    path = tmp_path / "checklists/phaco.yaml"
    checklist = load_checklist(path)
    assert checklist.document == load_document(path, "checklist").document
    done = ("sections", 0, "items", 0, "done")
    assert str(checklist.place_of(done)) == f"{path}:14:15"
    assert str(checklist.place_of((*done[:-1], "fault"))) == f"{path}:15:17"


def test_a_missing_file_is_a_problem(tmp_path: Path) -> None:
    problem = problem_of(tmp_path / "none.yaml")
    assert (problem.line, problem.column, problem.found) == (1, 1, "no such file")
    assert "check the path" in problem.expected


def test_a_folder_is_a_problem(tmp_path: Path) -> None:
    assert problem_of(tmp_path).found == "a folder"


def test_a_path_that_cannot_exist_is_a_problem() -> None:
    assert problem_of(Path("a\0b")).found.startswith("an unreadable file (")


def test_a_byte_that_is_not_utf_8_is_told_with_its_place(tmp_path: Path) -> None:
    path = tmp_path / "plan.yaml"
    path.write_bytes(PLAN.replace("monofocal alpha", "é ß").encode() + b"# caf\xe9\n")
    problem = problem_of(path)
    assert (problem.line, problem.column) == (9, 6)
    assert problem.found == "the byte 0xE9, which is not UTF-8"


def test_a_binary_file_is_a_problem(tmp_path: Path) -> None:
    path = tmp_path / "sound.wav"
    path.write_bytes(b"RIFF\x24\x00\x00\x00WAVEfmt \x10\x00\x00\x00")
    assert "U+0000" in problem_of(path).found
    path.write_bytes(bytes(range(256)))
    assert problem_of(path).found == "the byte 0x80, which is not UTF-8"


def test_utf_16_is_named(tmp_path: Path) -> None:
    path = tmp_path / "plan.yaml"
    path.write_text(PLAN, encoding="utf-16")
    assert problem_of(path).found == "UTF-16 text"


def test_a_file_too_large_for_a_document_is_not_read(tmp_path: Path) -> None:
    path = tmp_path / "plan.yaml"
    path.write_bytes(b"#" * (FILE_LIMITS.document + 1))
    assert problem_of(path).found == "a file too large for a document"
    path.write_bytes(b"#" * FILE_LIMITS.document)
    assert problem_of(path).found == "an empty file"


@pytest.mark.parametrize("newline", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig"])
def test_a_byte_order_mark_and_any_line_ends_change_nothing(
    tmp_path: Path, newline: str, encoding: str
) -> None:
    path = tmp_path / "plan.yaml"
    path.write_bytes(PLAN.replace("\n", newline).encode(encoding))
    loaded = load_plan(path)
    assert loaded.document.case == "practice-007"
    assert (loaded.place_of(()).column, loaded.place_of(("lens", "power_D")).line) == (1, 7)


@pytest.mark.parametrize(
    ("name", "kind"),
    [
        ("checklists/phaco.yaml", "checklist"),
        ("cards/demo-surgeon.yaml", "card"),
        ("plans/practice-007.yaml", "plan"),
        ("rules/numbers.abnf", "rules"),
        ("lexicon.yaml", "lexicon"),
        ("sentences.en.yaml", "sentences"),
    ],
)
def test_a_kind_is_known_by_folder_or_name(tmp_path: Path, name: str, kind: str) -> None:
    write_grammars(tmp_path)
    assert sniff_kind(tmp_path / name) == kind
    assert sniff_kind(str(tmp_path / name)) == kind


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        (CHECKLIST, "checklist"),
        (CARD, "card"),
        (PLAN, "plan"),
        (LEXICON, "lexicon"),
        (SENTENCES, "sentences"),
    ],
)
def test_elsewhere_a_kind_is_known_by_its_keys(tmp_path: Path, text: str, kind: str) -> None:
    path = tmp_path / "something.yaml"
    path.write_text(text, encoding="utf-8")
    assert sniff_kind(path) == kind


@pytest.mark.parametrize("text", ["a: 1\n", "- sections\n", "sections: []\ngrades: []\n", "x\n"])
def test_a_file_of_no_known_kind_is_a_problem(tmp_path: Path, text: str) -> None:
    path = tmp_path / "something.yaml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(DocumentError, match=r'no known kind of document; .* "sections", "grades"'):
        sniff_kind(path)


@pytest.mark.parametrize("kind", KINDS)
def test_a_schema_is_plain_json_and_names_the_keys_of_the_file(kind: Kind) -> None:
    schema = json.loads(json.dumps(json_schema(kind)))
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert schema["title"] == f"voicelist {kind}"
    assert schema["additionalProperties"] is False
    assert schema["properties"]["format"]["const"] == 1
    required = {
        field.alias or name
        for name, field in MODELS[kind].model_fields.items()
        if field.is_required()
    }
    assert set(schema["required"]) == required


def test_the_checklist_schema_holds_the_rules_an_editor_can_check() -> None:
    item = json_schema("checklist")["$defs"]["Item"]
    assert {"answered by", "not applicable", "read from"} <= item["properties"].keys()
    assert "answered_by" not in item["properties"]
    assert item["required"] == ["id", "answered by", "call", "why"]
    assert "default" not in item["properties"]["name"]
    answered = item["oneOf"][0]["anyOf"]
    assert answered == [{"required": ["done"]}, {"required": ["thing", "good"]}]
    assert item["oneOf"][1]["required"] == ["value", "compare"]
    assert item["properties"]["call"]["pattern"] == r"^\s*(\S+\s+){0,6}\S+\s*$"
