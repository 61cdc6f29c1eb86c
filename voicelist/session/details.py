"""Details that are said while an item asks whether something is so.

They pass nothing. What does not fit is read back and holds the item until it is said anew or the
surgeon accepts it; what fits is echoed, and the item's own words pass it.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from voicelist.clinical.incision import axis_difference_deg
from voicelist.clinical.lens import LensSaid
from voicelist.clinical.profile import OTHER_UNITS, Profile, Situation
from voicelist.clinical.sources import Source
from voicelist.documents.checklist import Item
from voicelist.documents.sentences import Sentences
from voicelist.grammar.match import Match
from voicelist.session.case import Case, quantity_name
from voicelist.session.checked import as_profile, other_phases
from voicelist.session.details_said import QUANTITIES, WALK, Planned, details_said, with_details
from voicelist.session.events import Voice
from voicelist.session.grades import grade_that_stands
from voicelist.session.profile import open_findings
from voicelist.session.records import Corrected, Noted, ReadBack
from voicelist.session.rule_sentences import as_mapping
from voicelist.session.turn import Turn
from voicelist.session.wording import shown

Values = Mapping[str, Any]
Found = dict[str, Any]
# What is aimed at is the surgeon's to decide; which lens it is, is not.
_ACCEPTABLE = ("target_D",)
_REMEDY = "Say it again, take it back with undo, or change the plan."
_SOURCE = str(Source("project choice", "what is said of the lens is held against the plan"))
_OF_LENS = {"lens-power": "power_D", "lens-model": "lens_model", "axis": "axis_deg", "eye": "eye"}


def take_details(turn: Turn, item_id: str, match: Match, voice: Voice) -> None:
    """Details for an item: kept beside what was said before, then checked."""
    before = turn.standing(item_id).values
    said = details_said(match, turn.case.bundle.plan.side)
    for quantity, value in said.items():
        if quantity in before and before[quantity] != value:
            turn.keep(Corrected(item_id, quantity, before[quantity], value))
    turn.keep(Noted(item_id, said, match.text))
    go_on(turn, item_id, tuple(said))


def go_on(turn: Turn, item_id: str, said: tuple[str, ...] = ()) -> None:
    """Read back the first thing that does not fit, else echo what was said last."""
    found = _found(turn, item_id)
    asked = [one for one in found if one["severity"] != "note"]
    values = noted(turn, item_id)
    if asked:
        turn.read_back(ReadBack(item_id, "mismatch", asked[0]["sentence"], tuple(found), values))
        return
    parts = parts_of(turn.case.bundle.sentences, {name: values[name] for name in said or values})
    echo = turn.case.text("details", parts=parts)
    turn.read_back(ReadBack(item_id, "details", echo, tuple(found), values))


def holds(turn: Turn, item_id: str) -> bool:
    """Whether a detail that does not fit keeps the item from passing; then it is read back."""
    if not noted(turn, item_id) or all(one["severity"] == "note" for one in _found(turn, item_id)):
        return False
    turn.say("has-to-be-answered")
    go_on(turn, item_id)
    return True


def noted(turn: Turn, item_id: str) -> dict[str, Any]:
    """The details of an item that were said; none where it asks for none."""
    if turn.item(item_id).details is None:
        return {}
    values = turn.standing(item_id).values
    return {name: value for name, value in values.items() if name in QUANTITIES}


def _found(turn: Turn, item_id: str) -> list[Found]:
    """What does not fit and nobody has accepted: what cannot be, then the plan, then questions."""
    values = noted(turn, item_id)
    findings = open_findings(turn, item_id, _situation(turn, values))
    found = [as_mapping(turn.case.bundle.sentences, one) for one in findings]
    stops = [one for one in found if one["severity"] == "stop"]
    others = [one for one in found if one["severity"] != "stop"]
    accepted = {(one.quantity, one.heard) for one in turn.standing(item_id).accepted}
    planned = [
        one
        for one in _against_the_plan(turn.case, values)
        if (one["quantity"], one["heard"]) not in accepted or one["severity"] == "stop"
    ]
    return [*stops, *planned, *others]


def _situation(turn: Turn, values: Values) -> Situation:
    bundle, plan = turn.case.bundle, turn.case.bundle.plan
    lens = _lens_by_source(turn)
    planned = Planned(plan.side, bundle.card, plan.incision, lens)
    others = other_phases(bundle.card, grade_that_stands(turn.case, turn.state))
    for item_id, item in turn.case.items.items():
        said = turn.standing(item_id).values
        if item.compare == "profile" and said:
            others[str(item.phase)] = as_profile(str(item.phase), said)
    return with_details(Situation(Profile(""), others=others), values, planned)


def _lens_by_source(turn: Turn) -> dict[str, LensSaid]:
    """What was said of the lens by the items that name the source they are read from."""
    every: dict[str, dict[str, Any]] = {}
    for item_id, item in turn.case.items.items():
        source, field = _source(turn.case, item), _OF_LENS.get(str(item.compare))
        value = turn.standing(item_id).values.get(field or "")
        if source and field and value is not None:
            every.setdefault(source, {})["model" if field == "lens_model" else field] = value
    return {source: LensSaid(**fields) for source, fields in every.items()}


def _source(case: Case, item: Item) -> str:
    """Printout, box or mark, where the item's words name it as the catalogue does; or ""."""
    words = (item.read_from or "").lower().split()
    texts = case.bundle.sentences.sentences
    known = ("printout", "box", "mark")
    return next((one for one in known if texts.get(f"source.{one}", "").lower() in words), "")


def _against_the_plan(case: Case, values: Values) -> list[Found]:
    """A printout, axis, cylinder or target that is not the planned one, an axis or cylinder where
    none is planned; what the plan has is not said."""
    lens = case.bundle.plan.planned_lens
    if lens is None:
        return []
    found: list[Found] = []
    power_D, axis_deg = values.get("printout_power_D"), values.get("axis_deg")
    target_D, cylinder_D = values.get("target_D"), values.get("cylinder_D")
    if power_D is not None and power_D != lens.power_D:
        found.append(_plan_differs(case, "lens-power", "printout_power_D", power_D, lens.power_D))
    if axis_deg is not None and (
        lens.axis_deg is None or axis_difference_deg(axis_deg, lens.axis_deg) > 0
    ):
        found.append(_plan_differs(case, "axis", "axis_deg", axis_deg, lens.axis_deg))
    # A toric lens whose cylinder nobody planned is compared by its axis alone.
    compared = lens.cylinder_D is not None or lens.axis_deg is None
    if cylinder_D is not None and cylinder_D != lens.cylinder_D and compared:
        found.append(_plan_differs(case, "cylinder", "cylinder_D", cylinder_D, lens.cylinder_D))
    if target_D is not None and lens.target_D not in (None, target_D):
        found.append(_plan_differs(case, "target", "target_D", target_D, lens.target_D))
    return found


def _plan_differs(
    case: Case, part: str, quantity: str, heard: float, expected: float | None
) -> Found:
    unit = OTHER_UNITS[quantity]
    value = shown(heard, signed=unit == "D")
    return {
        "rule": f"plan-{part}",
        "severity": "ask" if quantity in _ACCEPTABLE else "stop",
        "quantity": quantity,
        "heard": heard,
        "expected": "none" if expected is None else expected,
        "unit": unit,
        "sentence": case.text("plan-differs", value=value),
        "remedy": _REMEDY,
        "source": _SOURCE,
    }


def parts_of(sentences: Sentences, values: Values) -> str:
    """The details as the echo has them: main incision is 180, side port is 90."""
    return ", ".join(
        sentences.text(
            "echo-part",
            quantity=quantity_name(sentences, "pedal" if quantity == WALK else quantity),
            heard=_shown(quantity, value),
        )
        for quantity, value in values.items()
    )


def _shown(quantity: str, value: Any) -> str:
    if isinstance(value, list | tuple):
        return " ".join(map(shown, value))
    return shown(value, signed=OTHER_UNITS.get(quantity) == "D")
