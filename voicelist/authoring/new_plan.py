"""A new case plan: what its checklist compares is asked for, and nothing is made up."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from voicelist.authoring.templates import as_text, rendered
from voicelist.documents.checklist import Checklist
from voicelist.documents.finding import Shelves
from voicelist.documents.loading import load_checklist, parse_document
from voicelist.documents.plan import Plan
from voicelist.documents.wording import number
from voicelist.errors import UsageError

_OF_LENS = ("lens-power", "lens-model", "axis")


@dataclass(frozen=True, slots=True)
class Given:
    """What somebody knows of a case; None where nothing was said."""

    case: str
    checklist: str
    eye: str | None = None
    grade: tuple[str, float] | None = None
    card: str | None = None
    lens_model: str | None = None
    lens_power_D: float | None = None
    axis_deg: float | None = None
    case_number: int | None = None
    planned: Mapping[str, str] = field(default_factory=dict)


def planned_of(texts: Sequence[str]) -> dict[str, str]:
    """`KEY=WORDS`, one by one. Raises UsageError."""
    pairs = [text.partition("=") for text in texts]
    for key, equals, words in pairs:
        if not (key.strip() and equals and words.strip()):
            raise UsageError('--planned is a key and its words, such as "agent=agent bravo".')
    return {key.strip(): words.strip() for key, _, words in pairs}


def new_plan(given: Given, beside: Path) -> str:
    """The text of a plan that is to lie at `beside`. Raises UsageError for a checklist that is not
    there, and names the options that its checklist needs and that were not given."""
    shelves = Shelves.beside(beside)
    path = shelves.find(f"checklists/{given.checklist}.yaml")
    if path is None:
        known = ", ".join(shelves.ids("checklists"))
        raise UsageError(f"There is no checklist {given.checklist}: choose one of {known}.")
    checklist = load_checklist(path).document
    lacking = list(dict.fromkeys(_lacking(checklist, given)))
    if lacking:
        raise UsageError(
            f"The checklist {given.checklist} compares what the plan says: give also "
            f"{', '.join(lacking)}."
        )
    asked = {str(item.planned) for _, item in checklist.all_items() if item.planned is not None}
    for key in given.planned:
        if key not in asked:
            known = ", ".join(sorted(asked)) or "nothing of the kind"
            raise UsageError(f"The checklist {given.checklist} compares no {key}: it has {known}.")
    text = rendered(
        "plan.yaml.j2",
        language=checklist.language,
        case=as_text(given.case),
        checklist=given.checklist,
        values=list(_values(given)),
        roles=checklist.role_names,
    )
    parse_document(Plan, text, str(beside))
    return text


def _lacking(checklist: Checklist, given: Given) -> Iterator[str]:
    """The options without which the checklist could not compare."""
    for _, item in checklist.all_items():
        compare = str(item.compare)
        if compare == "eye" and given.eye is None:
            yield "--eye"
        if compare in ("grade", "profile") and given.grade is None:
            yield "--grade"
        if compare == "profile" and given.card is None:
            yield "--card"
        if compare in _OF_LENS and given.lens_model is None:
            yield "--lens-model"
        if compare in _OF_LENS and given.lens_power_D is None:
            yield "--lens-power"
        always = item.when != "toric lens" and not item.not_applicable
        if compare == "axis" and always and given.axis_deg is None:
            yield "--axis"
        if compare == "case-number" and not _has_number(given):
            yield "--number"
        wanted = compare == "planned" and item.when != "planned"
        if wanted and given.card is None and item.planned not in given.planned:
            yield f'--planned "{item.planned}=WORDS"'


def _has_number(given: Given) -> bool:
    return given.case_number is not None or given.case[-1:].isdigit()


def _values(given: Given) -> Iterator[str]:
    """The plan's lines."""
    if given.case_number is not None:
        yield f"case number: {given.case_number}"
    if given.eye is not None:
        yield f"eye: {given.eye}"
    if given.grade is not None:
        scale, value = given.grade
        yield f"grade: {{scale: {scale}, value: {number(value)}}}"
    if given.card is not None:
        yield f"card: {given.card}"
    if given.lens_model is not None and given.lens_power_D is not None:
        lens = f"model: {as_text(given.lens_model)}, power_D: {given.lens_power_D:+g}"
        axis = "" if given.axis_deg is None else f", axis_deg: {number(given.axis_deg)}"
        yield f"lens: {{{lens}{axis}}}"
    if given.planned:
        words = ", ".join(f"{key}: {as_text(one)}" for key, one in given.planned.items())
        yield f"also: {{{words}}}"
