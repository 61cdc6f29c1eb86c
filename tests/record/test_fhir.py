"""The FHIR Bundle of a record, read by the models of the package `fhir.resources` (R4B, whose kinds
used here are those of R4). The reference validator judges it in tests/soak."""

from __future__ import annotations

import json
from typing import Any

import pytest
from cases import keep, opened, stepped_store
from fhir.resources.R4B.bundle import Bundle
from many_facts import rich_case
from pydantic import ValidationError
from test_tree import naive_root

from voicelist.record.exports import export
from voicelist.record.journal import Entry
from voicelist.record.store import Store
from voicelist.record.view import case_view
from voicelist.record.words import STATUS
from voicelist.session.records import Answered

Entries = tuple[Entry, ...]


@pytest.fixture(scope="module")
def rich(tmp_path_factory: pytest.TempPathFactory) -> Entries:
    return rich_case(stepped_store(tmp_path_factory.mktemp("fhir") / "records.sqlite3"))


@pytest.fixture(scope="module")
def raw(rich: Entries) -> dict[str, Any]:
    found = json.loads(export(rich, "fhir"))
    assert isinstance(found, dict)
    return found


def _all(raw: dict[str, Any], kind: str) -> list[dict[str, Any]]:
    every = (one["resource"] for one in raw["entry"])
    return [one for one in every if one["resourceType"] == kind]


def test_every_resource_is_one_of_r4(raw: dict[str, Any], rich: Entries) -> None:
    bundle = Bundle.model_validate(raw)
    kinds = {one.resource.get_resource_type() for one in bundle.entry}
    assert kinds == {
        "Device",
        "Procedure",
        "Questionnaire",
        "QuestionnaireResponse",
        "AuditEvent",
        "Provenance",
    }
    assert len(_all(raw, "QuestionnaireResponse")) == len(case_view(rich).sections)
    raw_broken = json.loads(json.dumps(raw))
    del _all(raw_broken, "Procedure")[0]["status"]
    with pytest.raises(ValidationError):
        Bundle.model_validate(raw_broken)


def test_every_reference_leads_to_a_resource_beside_it(raw: dict[str, Any]) -> None:
    urls = {one["fullUrl"] for one in raw["entry"]}
    assert len(urls) == len(raw["entry"])
    text = json.dumps(raw)
    references = {part.partition('"')[0] for part in text.split('"reference": "')[1:]}
    assert references <= urls
    (provenance,) = _all(raw, "Provenance")
    targets = {one["reference"] for one in provenance["target"]}
    own = next(one["fullUrl"] for one in raw["entry"] if one["resource"] is provenance)
    assert targets == urls - {own}


def test_provenance_carries_both_heads(raw: dict[str, Any], rich: Entries) -> None:
    (provenance,) = _all(raw, "Provenance")
    values = [one["what"]["identifier"]["value"] for one in provenance["entity"]]
    assert values == [rich[-1].hash, naive_root([entry.line() for entry in rich]).hex()]


def test_the_subject_is_a_case_code_alone(raw: dict[str, Any]) -> None:
    for one in (*_all(raw, "Procedure"), *_all(raw, "QuestionnaireResponse")):
        assert set(one["subject"]) == {"type", "identifier", "display"}
        assert one["subject"]["identifier"]["value"] == "case-77"
        assert one["subject"]["display"] == "case case-77"
    assert not {"Patient", "Practitioner"} & {
        one["resource"]["resourceType"] for one in raw["entry"]
    }


def test_code_systems_are_those_of_fhir_itself(raw: dict[str, Any]) -> None:
    systems: set[str] = set()

    def look(value: Any) -> None:
        if isinstance(value, dict):
            if "code" in value and "system" in value:
                systems.add(value["system"])
            for one in value.values():
                look(one)
        elif isinstance(value, list):
            for one in value:
                look(one)

    look(raw)
    assert systems
    assert all(one.startswith("http://terminology.hl7.org/CodeSystem/") for one in systems)


def test_it_never_says_that_something_was_done(raw: dict[str, Any]) -> None:
    (procedure,) = _all(raw, "Procedure")
    assert procedure["status"] == "unknown"
    assert "no proof that a step was done" in procedure["note"][0]["text"]


def test_the_answers_are_those_of_the_record(raw: dict[str, Any], rich: Entries) -> None:
    answers: dict[str, Any] = {}
    for response in _all(raw, "QuestionnaireResponse"):
        for item in response["item"]:
            for part in item["item"]:
                answers[part["linkId"]] = [next(iter(one.values())) for one in part["answer"]]
    for item in case_view(rich).items:
        assert answers[f"{item.id}/status"] == [STATUS[item.status]]
        if item.answered:
            assert answers[f"{item.id}/said"] == [item.words]
    assert answers["quadrant/value/vacuum_mmHg"] == [{"value": 350, "unit": "mmHg"}]
    assert answers["label/entered-late"][0].startswith(
        'label: "lens label kept", from paper, 14:05'
    )
    assert answers["irrigation-line/answered"] == ["2031-03-04T13:30:09.250+05:30"]
    links = [
        part["linkId"]
        for asked in _all(raw, "Questionnaire")
        for item in asked["item"]
        for part in item["item"]
    ]
    assert sorted(links) == sorted(answers), "each answer has its question"


def test_what_it_was_first_to_be_read_is_in_the_notes(raw: dict[str, Any]) -> None:
    (procedure,) = _all(raw, "Procedure")
    notes = [one["text"] for one in procedure["note"]]
    told = json.loads(json.dumps(raw)) and [one for one in notes if one.startswith("first to be")]
    assert any("microphone" in one for one in told)
    assert any("not settled" in one for one in told)


def test_practice_is_labelled_as_test_data(practice_case: Entries, raw: dict[str, Any]) -> None:
    practice = json.loads(export(practice_case, "fhir"))
    for one in (practice, *(entry["resource"] for entry in practice["entry"])):
        assert one["meta"]["security"][0]["code"] == "HTEST"
    assert "HTEST" not in json.dumps(raw)


def test_odd_words_make_no_broken_resource(store: Store) -> None:
    said = ' <b>&amp;\u202e\x00"  '.replace("\x00", "\t")
    entries = keep(store, "case 1", (opened(), Answered("bottle", "said-fault", said, "surgeon")))
    found = json.loads(export(entries, "fhir"))
    Bundle.model_validate(found)
    assert "<b>&amp;" in json.dumps(found)
