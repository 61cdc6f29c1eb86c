"""The documents of a rehearsal: a plan's own, or a checklist with an invented plan."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from pathlib import Path

from voicelist.authoring.new_plan import Given, new_plan
from voicelist.documents.bundle import load_bundle
from voicelist.documents.checklist import Checklist
from voicelist.documents.embedded import Bundle
from voicelist.documents.finding import Shelves
from voicelist.documents.joining import load_rules, with_roles
from voicelist.documents.loading import load_checklist, sniff_kind
from voicelist.errors import UsageError
from voicelist.grammar.grammar import Grammar
from voicelist.grammar.ruleset import RuleSet
from voicelist.grammar.syntax import PhrasePlace, Reference
from voicelist.session.planned import PLANNED

# Invented; there is no such patient, lens or agent.
_EYE, _GRADE, _CARD = "left", ("clinical", 3.0), "demo-surgeon"
_MODEL, _POWER_D, _AXIS_DEG, _NUMBER = "monofocal alpha", 21.5, 95.0, 307
_PHASE = "quadrant"
_WORDS = "words"


def rehearsal_bundle(document: Path) -> Bundle:
    """What a rehearsal of a checklist or plan runs on. Raises DocumentError, UsageError."""
    kind = sniff_kind(document)
    if kind == "plan":
        return load_bundle(document)
    if kind != "checklist":
        raise UsageError(f"{document} is no checklist and no plan: give one of these.")
    with tempfile.TemporaryDirectory(prefix="voicelist-rehearsal-") as folder:
        return load_bundle(_laid_out(document.absolute(), Path(folder)))


def _laid_out(document: Path, folder: Path) -> Path:
    """The invented plan, in a folder beside the checklist and all that belongs to it."""
    for one in document.parent.parent.iterdir():
        if one.name not in ("plans", "checklists"):
            (folder / one.name).symlink_to(one)
    (folder / "plans").mkdir()
    (folder / "checklists").mkdir()
    checklist = load_checklist(document).document
    (folder / "checklists" / f"{checklist.id}.yaml").symlink_to(document)
    plan = folder / "plans" / "rehearsal.yaml"
    plan.write_text(_plan_text(checklist, document, plan), encoding="utf-8")
    return plan


def _plan_text(checklist: Checklist, document: Path, plan: Path) -> str:
    compared = {str(item.compare) for _, item in checklist.all_items() if item.compare}
    phases = [str(item.phase) for _, item in checklist.all_items() if item.phase]
    lens = bool(compared & {"lens-power", "lens-model", "axis"})
    graded = bool(compared & {"grade", "profile"})
    always_axis = any(
        item.compare == "axis" and item.when != "toric lens" for _, item in checklist.all_items()
    )
    given = Given(
        case=f"rehearsal-{checklist.id}",
        checklist=checklist.id,
        eye=_EYE if compared else None,
        grade=_GRADE if graded else None,
        card=_CARD if graded else None,
        lens_model=_MODEL if lens else None,
        lens_power_D=_POWER_D if lens else None,
        axis_deg=_AXIS_DEG if always_axis else None,
        case_number=_NUMBER if "case-number" in compared else None,
        planned=dict(_planned(checklist, document)),
    )
    text = new_plan(given, plan)
    if len(phases) > 1:
        text += f"phases: [{_PHASE if _PHASE in phases else phases[0]}]\n"
    return text


def _planned(checklist: Checklist, document: Path) -> Iterator[tuple[str, str]]:
    """Of each thing that every such case compares with words of the plan, the first words that may
    be said."""
    shelves, loaded = Shelves.beside(document), load_checklist(document)
    rules = RuleSet.from_texts(with_roles(*load_rules(shelves), loaded)[0].items())
    for _, item in checklist.all_items():
        names = [word[1:] for word in str(item.value).split() if word.startswith("$")]
        if item.planned is None or item.when == PLANNED or not names:
            continue
        grammar = Grammar({_WORDS: Reference(names[-1], PhrasePlace("the plan", 1, 1))}, rules)
        yield str(item.planned), grammar.examples(_WORDS)[0]
