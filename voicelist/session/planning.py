"""A change of plan: said with its source, read back, agreed to by two roles; what depends on it is
open again. The declared plan of the record stays as it was, with the change beside it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pydantic import ValidationError

from voicelist.documents.checklist import Item
from voicelist.errors import VoicelistError
from voicelist.grammar.match import Match
from voicelist.session import manners, statements
from voicelist.session.case import PLAN_SOURCE
from voicelist.session.events import Voice
from voicelist.session.records import ReadBack
from voicelist.session.team_records import Agreed, PlanChanged
from voicelist.session.turn import Turn
from voicelist.session.values import SaidValue, value_said

ROLES_AT_LEAST = 2
# What is read with another eye has to be read again.
_OF_THE_EYE = ("lens-power", "lens-model", "axis")


def ask_change(turn: Turn, match: Match, voice: Voice) -> None:
    """Asks what changes: from now on the recogniser listens for it."""
    turn.read_back(ReadBack("", "plan-part", turn.case.text("plan-which")))


def change_plan(turn: Turn, match: Match, voice: Voice) -> None:
    """Reads the new value back; nothing changes before two roles agree."""
    change, source = match.first("plan_change"), match.first(PLAN_SOURCE)
    if change is None or source is None:
        return
    field = change.tags[0]
    said = value_said(field, change)
    if said is None:
        return
    if _refused(turn, field, said):
        manners.repeat_question(turn)
        return
    text = turn.case.text(
        "plan-change",
        field=turn.case.text(f"field.{field}").lower(),
        value=said.shown,
        document=source.text,
    )
    values = {"field": field, "new": said.value, "document": source.text}
    turn.read_back(ReadBack("", "plan", text, (), values))


def _refused(turn: Turn, field: str, said: SaidValue) -> bool:
    """Whether no plan may hold the value, or no card goes with it; and says so."""
    case = turn.case
    try:
        plan = case.bundle.plan.with_changes({field: said.value})
    except (ValidationError, VoicelistError):
        turn.say("plan-cannot")
        return True
    if field == "grade":
        grade = plan.grade
        for _, item in case.bundle.checklist.all_items():
            phase = str(item.phase)
            if item.compare == "profile" and not case.bundle.card.settings_for(
                grade.scale, grade.value, phase
            ):
                turn.say("card-lacks")
                return True
    return False


def agree(turn: Turn, match: Match, voice: Voice) -> None:
    """One role agrees to the change that was read back; the second one makes it."""
    pending = turn.state.pending
    if pending is None or pending.about != "plan":
        return
    speaker = statements.as_role(turn, match, voice)
    if speaker is None:
        return
    if speaker.role not in {one.role for one in turn.state.agreed}:
        turn.keep(Agreed("", speaker.role, speaker.role_known_by, match.text))
    if len(turn.state.agreed) < ROLES_AT_LEAST:
        turn.say("second-role")
        return
    _make(turn, pending.values)


def _make(turn: Turn, values: Mapping[str, Any]) -> None:
    field, new = str(values["field"]), values["new"]
    reopened = tuple(
        item_id
        for item_id, item in turn.case.items.items()
        if _depends(item, field) and _was_asked(turn, item_id)
    )
    roles = tuple(
        {"role": one.role, "role_known_by": one.role_known_by} for one in turn.state.agreed
    )
    old = planned(turn, field)
    turn.keep(PlanChanged(field, old, new, str(values["document"]), roles, reopened))
    names = ", ".join(turn.item(one).name for one in reopened)
    if names:
        turn.say("plan-changed-open", names=names)
    else:
        turn.say("plan-changed")


def _depends(item: Item, field: str) -> bool:
    if item.compare == field or field in item.depends_on:
        return True
    if field == "grade":
        return item.compare == "profile"
    return field == "eye" and item.compare in _OF_THE_EYE


def _was_asked(turn: Turn, item_id: str) -> bool:
    standing = turn.standing(item_id)
    return bool(standing.answer or standing.values or standing.agreed)


def planned(turn: Turn, field: str) -> Any:
    """What the plan says of a field now; None where it says nothing."""
    plan = turn.case.bundle.plan
    grade, lens = plan.planned_grade, plan.planned_lens
    match field:
        case "eye":
            return plan.side or None
        case "grade":
            return {"scale": str(grade.scale), "value": grade.value} if grade else None
        case "lens-power":
            return lens.power_D if lens else None
        case "lens-model":
            return lens.model if lens else None
        case "axis":
            return lens.axis_deg if lens else None
        case "target":
            return lens.target_D if lens else None
        case _:
            return lens.cylinder_D if lens else None


def keep_plan(turn: Turn) -> None:
    manners.settle(turn)
    turn.say("plan-stays")
    manners.repeat_question(turn)
