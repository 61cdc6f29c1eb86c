"""Items answered by a value from the world: eye, grade, lens. Neither call nor display gives the
expected value before the answer; a mismatch is read back without it, so that the team looks again.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

from voicelist.clinical.incision import axis_difference_deg
from voicelist.clinical.lens import LensSaid
from voicelist.clinical.profile import Profile, Situation, SpokenGrade
from voicelist.clinical.rules import findings as all_findings
from voicelist.clinical.sound_alikes import twin
from voicelist.grammar.match import Match
from voicelist.session import state as st
from voicelist.session.events import Voice
from voicelist.session.grades import grade_aloud, tell_if_card_lacks
from voicelist.session.planned import words_planned
from voicelist.session.records import Accepted, Corrected, ReadBack
from voicelist.session.rule_sentences import as_mapping
from voicelist.session.turn import Turn
from voicelist.session.wording import listed, shown, shown_whole

# Eye and lens mismatches cannot be accepted (design rule); of the values only the grade can be.
ACCEPTABLE = ("grade",)
_DIOPTRES = {"target": "target_D", "cylinder": "cylinder_D"}
# What does not fit of these is on the display; only a request is spoken.
REQUESTS = {
    "eye": "again-eye",
    "lens-power": "again-lens",
    "lens-model": "again-lens",
    "axis": "again-axis",
    "case-number": "again-case",
}


@dataclass(frozen=True, slots=True)
class SaidValue:
    """A value as said: `quantity` is its key in the record, `shown` its form in a sentence."""

    quantity: str
    value: object
    shown: str
    sound_alike: bool = False


def value_said(compare: str, match: Match) -> SaidValue | None:
    """The value in an answer, or None where a sign is lacking."""
    if compare == "eye":
        side = _required(match, "side")
        return SaidValue("eye", side.tags[0], side.text)
    if compare == "grade":
        return _grade(match)
    if compare == "lens-model":
        model = _required(match, "lens_model").text
        return SaidValue("lens_model", model, model)
    if compare == "planned":
        if not match.inside:
            raise ValueError(f"the phrase of {match.rule} has no rule")
        words = match.inside[0].text
        return SaidValue(compare, words, words)
    if compare == "lens-power":
        signed = match.first("signed") or match.first("signed_part")
        if signed is None or signed.value is None:
            return None
        power_D = float(signed.value)
        return SaidValue("power_D", power_D, shown(power_D, signed=True), twin(power_D) is not None)
    if compare in _DIOPTRES:
        number = match.first("signed") or match.first("no_dioptres")
        amount_D = None if number is None else number.value
        if amount_D is None:
            return None
        return SaidValue(_DIOPTRES[compare], float(amount_D), shown(amount_D, signed=True))
    if compare == "case-number":
        on_list = int(_required(match, "list_number").value or 0)
        return SaidValue("case_number", on_list, shown_whole(on_list), twin(on_list) is not None)
    axis = _required(match, "integer").value or 0
    return SaidValue("axis_deg", axis, shown(axis), twin(axis) is not None)


def _required(match: Match, rule: str) -> Match:
    found = match.first(rule)
    if found is None:
        raise ValueError(f"the phrase of {match.rule} has no ${rule}")
    return found


def _grade(match: Match) -> SaidValue:
    for one in _required(match, "grade").walk():
        numbers = (one.first(rule) for rule in ("grade_number", "locs3_number", "decimal"))
        number = next((found for found in numbers if found is not None), None)
        if one.tags and number is not None:
            scale, value = one.tags[0], number.value
            spoken = grade_aloud(SpokenGrade(scale, float(value or 0)))
            return SaidValue("grade", {"scale": scale, "value": value}, spoken)
    raise ValueError(f"the phrase of {match.rule} has no scale tag with a $grade_number")


def expected_value(turn: Turn, compare: str, planned: str = "") -> object:
    """What the plan says; for `planned`, under that key."""
    plan = turn.case.bundle.plan
    if compare == "planned":
        words = words_planned(planned, plan.also, turn.case.bundle.card.also)
        return None if words is None else words.lower()
    if compare == "case-number":
        return plan.number
    if compare == "eye":
        return plan.side
    if compare == "grade":
        return {"scale": str(plan.grade.scale), "value": plan.grade.value}
    if compare == "lens-model":
        return plan.lens.model.lower()
    return plan.lens.power_D if compare == "lens-power" else plan.lens.axis_deg


def _same(said: SaidValue, expected: object) -> bool:
    """Whether a value is the planned one; 0 and 180 are one axis."""
    if said.quantity == "axis_deg" and isinstance(expected, int | float):
        said_deg = said.value
        return isinstance(said_deg, int | float) and axis_difference_deg(said_deg, expected) == 0
    return said.value == expected


def take_value(turn: Turn, item_id: str, match: Match, voice: Voice) -> None:
    """An answer with a value: compared, read back if it does not fit or has a sound-alike."""
    compare, planned = str(turn.item(item_id).compare), str(turn.item(item_id).planned)
    said = value_said(compare, match)
    if said is None:
        text = turn.case.text("say-the-sign")
        number = match.first("unsigned_power")
        part = {} if number is None else {"words": number.text}
        turn.read_back(ReadBack(item_id, "sign", text, (), part))
        return
    if compare == "planned":
        said = replace(said, quantity=planned)
    _note_correction(turn, item_id, said)
    expected = expected_value(turn, compare, planned)
    values = {said.quantity: said.value}
    found = [*_cannot_be(turn, said), *_plan_differs(turn, compare, said, expected)]
    if found:
        told = found[0]["sentence"]
        text = _request(turn, compare) if found[0]["rule"].startswith("plan-") else ""
        turn.read_back(ReadBack(item_id, "mismatch", text or told, tuple(found), values))
        if text:
            turn.show("read-back", told)
    elif said.sound_alike:
        text = turn.case.text("was-that", value=said.shown)
        turn.read_back(ReadBack(item_id, "digits", text, (), values))
    else:
        _answer(turn, item_id, match.text, voice, values, {said.quantity: expected})


def _answer(
    turn: Turn,
    item_id: str,
    words: str,
    voice: Voice,
    values: dict[str, object],
    expected: dict[str, object],
) -> None:
    turn.answer(item_id, st.VALUE, words, voice, values=values, expected=expected)
    if turn.item(item_id).compare == "grade":
        tell_if_card_lacks(turn)


def _plan_differs(
    turn: Turn, compare: str, said: SaidValue, expected: object
) -> Iterator[dict[str, Any]]:
    """What the plan has is kept in the record and not said; whose plan a case number is, where it
    is another one of the day, is."""
    if not _same(said, expected):
        text = turn.case.text("plan-differs", value=said.shown)
        others = turn.case.bundle.others if compare == "case-number" else {}
        plan = listed(turn.case, [code for code, number in others.items() if number == said.value])
        if plan:
            elsewhere = turn.case.text("case-elsewhere", value=said.shown, plan=plan)
            text = f"{text} {elsewhere}"
        yield {
            "rule": f"plan-{compare}",
            "severity": "ask" if said.quantity in ACCEPTABLE else "stop",
            "quantity": said.quantity,
            "heard": said.value,
            "expected": expected,
            "unit": "D" if said.quantity == "power_D" else "",
            "sentence": text,
            **({"elsewhere": plan} if plan else {}),
        }


def _request(turn: Turn, compare: str) -> str:
    """What is spoken where eye or lens does not fit: a request alone, for the patient is awake. ""
    for other values, and in a record whose catalogue has no such sentence."""
    key = REQUESTS.get(compare, "")
    return turn.case.text(key) if key in turn.case.bundle.sentences.sentences else ""


def _cannot_be(turn: Turn, said: SaidValue) -> Iterator[dict[str, Any]]:
    """What the rules say of a power that no lens has, or an axis beyond half a circle."""
    lens = LensSaid()
    if isinstance(said.value, int | float) and said.quantity == "power_D":
        lens = LensSaid(power_D=said.value)
    elif isinstance(said.value, int | float) and said.quantity == "axis_deg":
        lens = LensSaid(axis_deg=said.value)
    situation = Situation(Profile(""), lens={"box": lens})
    for finding in all_findings(situation, turn.case.bundle.limits.for_rules()):
        yield as_mapping(turn.case.bundle.sentences, finding)


def take_correct(turn: Turn, words: str, voice: Voice) -> None:
    """ "Yes, that is correct" after digits were read back."""
    pending = turn.state.pending
    if pending is None or pending.about != "digits":
        return
    values = dict(pending.values)
    turn.answer(pending.item, st.VALUE, words, voice, values=values, expected=values)


def accept_value(turn: Turn, reason: str, words: str, voice: Voice) -> bool:
    """The surgeon accepts a grade that differs from the plan; False if nothing may be accepted."""
    pending = turn.state.pending
    finding = pending.findings[0] if pending is not None and pending.findings else None
    if pending is None or finding is None or finding["severity"] != "ask":
        return False
    turn.keep(
        Accepted(
            pending.item,
            finding["quantity"],
            finding["heard"],
            finding["expected"],
            finding["unit"],
            reason,
            "surgeon",
            voice.role_known_by,
        )
    )
    quantity = finding["quantity"]
    expected = {quantity: finding["expected"]}
    _answer(turn, pending.item, words, voice, dict(pending.values), expected)
    return True


def _note_correction(turn: Turn, item_id: str, said: SaidValue) -> None:
    pending = turn.state.pending
    if pending is None or pending.item != item_id or said.quantity not in pending.values:
        return
    old = pending.values[said.quantity]
    if old != said.value:
        turn.keep(Corrected(item_id, said.quantity, old, said.value))
