"""The grade that stands: what every setting is compared with.

The plan has a grade; the surgeon declares one, which may be another that was accepted. Declared
counts, until a change of plan or a correction opens it again.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from voicelist.clinical.profile import SpokenGrade
from voicelist.documents.checklist import Item
from voicelist.session import state as st
from voicelist.session.case import Case
from voicelist.session.planned import PLANNED, band_of
from voicelist.session.records import Undone
from voicelist.session.state import State
from voicelist.session.wording import shown

if TYPE_CHECKING:  # a turn asks for the grade itself
    from voicelist.session.turn import Turn

SCALE_ALOUD: Mapping[str, str] = {"locs3-no": "opalescence", "locs3-nc": "color"}


def grade_that_stands(case: Case, state: State) -> SpokenGrade | None:
    """The grade declared last, else the plan's as it is now; None where there is neither."""
    for item_id in reversed(state.answered):
        item, standing = case.items.get(item_id), state.item(item_id)
        if item is not None and item.compare == "grade" and standing.answer == st.VALUE:
            declared = _grade(standing.values.get("grade"))
            if declared is not None:
                return declared
    return planned_grade(case)


def planned_grade(case: Case) -> SpokenGrade | None:
    """The plan's grade, with what was changed in it."""
    planned = case.bundle.plan.planned_grade
    return None if planned is None else SpokenGrade(str(planned.scale), planned.value)


def grade_aloud(grade: SpokenGrade) -> str:
    """A grade for a sentence, in another order than it is said: "3 clinical"."""
    return f"{shown(grade.value)} {SCALE_ALOUD.get(grade.scale, grade.scale)}"


def grade_of_answer(case: Case, state: State, item_id: str) -> dict[str, Any] | None:
    """The grade under which an item is answered, for its record; None for what needs none."""
    grade = grade_that_stands(case, state)
    if grade is None or not _depends_on_grade(case.items[item_id]):
        return None
    return {"scale": grade.scale, "value": grade.value}


def tell_if_card_lacks(turn: Turn) -> None:
    """Says so where the card has nothing for the declared grade: no other grade stands in."""
    grade = grade_that_stands(turn.case, turn.state)
    card = turn.case.bundle.card
    if grade is None:
        return
    profiles = [one for one in turn.case.items.values() if one.compare == "profile"]
    phases = [str(one.phase) for one in profiles if one.when != PLANNED]
    lacking = any(card.settings_for(grade.scale, grade.value, one) is None for one in phases)
    if lacking or (
        profiles and band_of(turn.case.card_bands(), (grade.scale, grade.value)) is None
    ):
        turn.say("card-lacks")


def open_what_depends(turn: Turn) -> None:
    """What was answered under another grade than the one that stands now is open again. While a
    grade is being asked for anew, nothing is known yet."""
    grade = grade_that_stands(turn.case, turn.state)
    if grade is None or _is_asked(turn):
        return
    before = {
        item_id: _grade(turn.standing(item_id).grade) or planned_grade(turn.case)
        for item_id, item in turn.case.items.items()
        if _depends_on_grade(item) and turn.standing(item_id).answer in st.SETTLED
    }
    changed = [item_id for item_id, then in before.items() if then != grade]
    for item_id in changed:
        then = before[item_id]
        why = f"the grade is {grade_aloud(grade)}, it was {grade_aloud(then) if then else 'none'}"
        turn.keep(Undone(item_id, turn.standing(item_id).answer, why))
    names = ", ".join(turn.item(one).name for one in changed)
    if names and "grade-changed" in turn.case.bundle.sentences.sentences:
        turn.say("grade-changed", grade=grade_aloud(grade), names=names)
    elif names:  # the sentences of an older record
        turn.say("taken-back", name=names)


def _is_asked(turn: Turn) -> bool:
    return any(
        item.compare == "grade" and not turn.standing(item_id).answer
        for item_id, item in turn.case.items.items()
    )


def _depends_on_grade(item: Item) -> bool:
    return item.compare == "profile" or "grade" in item.depends_on


def _grade(said: object) -> SpokenGrade | None:
    """A grade as a record has it."""
    if not isinstance(said, Mapping) or not {"scale", "value"} <= said.keys():
        return None
    return SpokenGrade(str(said["scale"]), float(said["value"]))
