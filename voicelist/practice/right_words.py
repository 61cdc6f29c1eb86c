"""What a team that makes no slip would say now: derived from the plan and the phrases."""

from __future__ import annotations

import re
from collections.abc import Sequence

from voicelist.clinical.profile import SpokenGrade
from voicelist.documents.checklist import Item
from voicelist.session.case import Case
from voicelist.session.consequences import made_due
from voicelist.session.grades import grade_that_stands
from voicelist.session.planned import words_planned
from voicelist.session.records import ReadBack
from voicelist.session.sections import next_waiting
from voicelist.session.state import SAID_DONE, State
from voicelist.session.statements import role_said
from voicelist.session.values import value_said
from voicelist.understanding.typed_words import typed_words

_NAMES = {
    "power_percent": "power",
    "vacuum_mmHg": "vacuum",
    "flow_cc_per_min": "flow",
    "pulses_per_s": "pulses",
    "duty_percent": "duty cycle",
    "bottle_cm": "bottle",
}
_UNITS = {"bottle_cm": "centimeters"}


def right_line(case: Case, state: State) -> str:
    """The line that answers what waits now; "" if nothing does."""
    planned = case.with_plan(state.plan)
    if state.held:
        return "carry on please"
    if state.pending is not None:
        told = _to_read_back(planned, state)
        if told:
            return told
    if state.under_way:
        return under_way_line(planned, state)
    item_id = (state.pending.item if state.pending is not None else "") or state.current
    return answer_to(planned, state, item_id) if item_id else ""


def _to_read_back(case: Case, state: State) -> str:
    assert state.pending is not None
    match state.pending.about:
        case "mismatch" if case.items[state.pending.item].details is not None:
            return _to_details(case, state.pending)
        case "echo":
            return "surgeon confirms the profile"
        case "digits" | "choice":
            return "yes that is correct" if _holds(case, state) else ""
        case "negation":
            return "no leave it open"
        case "abandon":
            return "no carry on please"
        case "begin":
            return "yes start it please"
        case "plan":
            agreed = {one.role for one in state.agreed}
            role = next(one for one in ("surgeon", "nurse") if _SPOKEN[one] not in agreed)
            return f"{role} agrees to the change"
    return ""


def under_way_line(case: Case, state: State) -> str:
    """The next milestone that was not told, or the request for the section that waits."""
    for milestone in case.bundle.checklist.milestones:
        if milestone.id not in state.milestones:
            return case.grammar.examples(f"command.milestone:{milestone.id}")[0]
    waiting = next_waiting(case, state)
    assert waiting is not None
    return case.grammar.examples(f"command.begin:{waiting.id}")[0]


def _to_details(case: Case, pending: ReadBack) -> str:
    """A detail that does not fit is accepted where it may be, said as it is planned, or the item is
    reported."""
    finding = pending.findings[0]
    if finding["severity"] == "ask":
        name = _typed(case.quantity_name(finding["quantity"]))
        return f"surgeon accepts the {name} because of my preference"
    if finding["quantity"] in ("lens_D", "printout_power_D"):
        return _typed(f"printout lens power {case.bundle.plan.lens.power_D:+g}")
    places = {"main_deg": "main incision", "side_port_deg": "side port"}
    if finding["quantity"] in places:
        return f"{places[finding['quantity']]} at ninety"
    if finding["quantity"] in ("mean_power_percent", "duty_percent"):
        return "mean power ten percent mean duty fifty"
    return case.grammar.examples(f"{pending.item}.fault")[0]


_SPOKEN = {"surgeon": "surgeon", "nurse": "circulating-nurse"}


def _holds(case: Case, state: State) -> bool:
    """Whether what was read back is what the plan has (a chosen entry always is)."""
    assert state.pending is not None
    if state.pending.about == "choice":
        return True
    item = case.items[state.pending.item]
    return all(value == _planned(case, item) for value in state.pending.values.values())


def answer_to(case: Case, state: State, item_id: str) -> str:
    """The answer of a team for which everything is as planned."""
    item = case.items[item_id]
    if item.each_role:
        agreed = {one.role for one in state.item(item_id).agreed}
        return next(
            text
            for text in case.grammar.examples(f"{item_id}.done")
            if role_in(case, item_id, text) not in agreed
            and role_in(case, item_id, text) in item.answered_by
        )
    if item.done is not None:
        texts = case.grammar.examples(f"{item_id}.done")
        plain = (one for one in texts if not made_due(item, SAID_DONE, one, case.grammar))
        return next(plain, texts[0])
    return _value_line(case, item, state)


def role_in(case: Case, item_id: str, text: str) -> str:
    (match,) = case.grammar.only(f"{item_id}.done").parses(text.split())[:1]
    return role_said(match)


def _value_line(case: Case, item: Item, state: State) -> str:
    plan = case.bundle.plan
    match str(item.compare):
        case "profile":
            return profile_line(case, item, grade=grade_that_stands(case, state))
        case "grade":
            return _typed(f"{plan.grade.scale} grade {plan.grade.value:g}")
        case "lens-power":
            return _typed(f"{_words_before_value(item) or 'lens power'} {plan.lens.power_D:+g}")
        case "case-number":
            return _typed(f"case number {plan.number}")
        case "axis":
            return _typed(f"marked axis {plan.lens.axis_deg:g}")
    wanted = _planned(case, item)
    return next(
        text
        for text in case.grammar.examples(f"{item.id}.value")
        if _value_in(case, item, text) == wanted
    )


def _words_before_value(item: Item) -> str:
    """What is said before the value itself, where the phrase of the item has it."""
    found = re.match(r"[a-z ]*", str(item.value))
    return found[0].strip() if found else ""


def _value_in(case: Case, item: Item, text: str) -> object:
    (match,) = case.grammar.only(f"{item.id}.value").parses(text.split())[:1]
    said = value_said(str(item.compare), match)
    return said.value if said is not None else None


def _planned(case: Case, item: Item) -> object:
    plan = case.bundle.plan
    match str(item.compare):
        case "case-number":
            return plan.number
        case "eye":
            return str(plan.eye)
        case "grade":
            return {"scale": str(plan.grade.scale), "value": plan.grade.value}
        case "lens-power":
            return plan.lens.power_D
        case "lens-model":
            return plan.lens.model.lower()
        case "planned":
            return str(words_planned(str(item.planned), plan.also, case.bundle.card.also)).lower()
    return plan.lens.axis_deg


def profile_line(
    case: Case, item: Item, only: Sequence[str] | None = None, grade: SpokenGrade | None = None
) -> str:
    """The card's settings of the item's phase, or some of them, in one breath."""
    card = case.card_settings(str(item.phase), grade)
    parts = (
        f"{_NAMES[name]} {one.value:g} {_UNITS.get(name, '')}"
        for name, one in card.items()
        if only is None or name in only
    )
    return _typed(" ".join(parts))


def _typed(line: str) -> str:
    return " ".join(typed_words(line, "en"))


def says_what_is_planned(case: Case, item: Item, line: str) -> bool:
    """Whether a line gives an item the value that the plan has; a profile never passes by that."""
    if item.compare in (None, "profile"):
        return False
    (match,) = case.grammar.only(f"{item.id}.value").parses(line.split())[:1]
    said = value_said(str(item.compare), match)
    return said is not None and said.value == _planned(case, item)
