"""The settings profile: spoken in any order, in one breath or several, checked against the card,
echoed once, passed by the surgeon's word."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from voicelist.clinical.profile import UNITS, CardProfile, Finding, Profile, Situation
from voicelist.clinical.rules import findings as all_findings
from voicelist.clinical.settings import missing
from voicelist.grammar.match import Match
from voicelist.session import state as st
from voicelist.session.case import Case
from voicelist.session.checked import (
    BARE_BOTTLE,
    WORDS,
    always_on_card,
    as_profile,
    as_settings,
    kind_now,
    situation_of,
    words_of_card,
)
from voicelist.session.events import Voice
from voicelist.session.grades import grade_that_stands
from voicelist.session.records import Accepted, Corrected, Noted, ReadBack
from voicelist.session.rule_sentences import as_mapping, sentence_for
from voicelist.session.turn import Turn
from voicelist.session.wording import listed, shown

Values = Mapping[str, Any]
_INFLOW = ("bottle_cm", "infusion_mmHg", BARE_BOTTLE)
_NO_NUMBER: Values = {"value": None, "control": ""}
# How the rules are named that hold a number.
_NUMBER_RULES = ("integer", "decimal", "no_ultrasound")


def settings_said(match: Match) -> dict[str, dict[str, Any]]:
    """Settings by quantity, in the order said; of a quantity said twice the later counts. What is
    said in words (modulation, trigger, pump) has its word as the value."""
    said: dict[str, dict[str, Any]] = {}
    for one in match.walk():
        found = _setting(one)
        if found is not None:
            said.pop(found[0], None)
            said[found[0]] = found[1]
    return said


def _setting(one: Match) -> tuple[str, dict[str, Any]] | None:
    if len(one.tags) == 2 and one.tags[0] in WORDS:
        return one.tags[0], {"value": kind_now(one.tags[1]), "control": ""}
    quantity = next((tag for tag in one.tags if tag in UNITS or tag == BARE_BOTTLE), None)
    minimum = one.first("minimum")
    number = _number(one, () if minimum is None else tuple(minimum.walk()))
    if quantity is None or number is None:
        return None
    control = one.first("control")
    said = {"value": number, "control": control.tags[0] if control else ""}
    if minimum is not None:
        said["minimum"] = _number(minimum)
    return quantity, said


def _number(match: Match, but: Sequence[Match] = ()) -> float | None:
    """The first number of a setting that is none of those inside another part of it."""
    numbers = (one for one in match.walk() if one.rule in _NUMBER_RULES)
    found = next((one for one in numbers if not any(one is other for other in but)), None)
    return None if found is None else found.value


def take_settings(turn: Turn, item_id: str, match: Match, voice: Voice) -> None:
    """Settings for the item's phase: merged with what was said before, then checked."""
    before = turn.standing(item_id).values
    said = settings_said(match)
    for name in _replaced(before, said):
        said[name] = dict(_NO_NUMBER)
    for quantity, one in said.items():
        old = before.get(quantity)
        if old is None:
            continue
        if one["value"] is not None:
            _keep_what_was_not_said_again(old, one)
        if old != one:
            turn.keep(Corrected(item_id, quantity, dict(old), dict(one)))
    turn.keep(Noted(item_id, said, match.text))
    go_on(turn, item_id)


def _replaced(before: Values, said: Values) -> tuple[str, ...]:
    """Of the bottle's height, the infusion pressure and a bare number: what stood before and is
    answered by what was said now. Both in one breath stay both, and are asked about."""
    now = said.keys() & _INFLOW
    if not now or BARE_BOTTLE in now:
        return ()
    stood = {name for name in _INFLOW if before.get(name, _NO_NUMBER)["value"] is not None}
    return tuple(name for name in _INFLOW if name in stood - now)


def _keep_what_was_not_said_again(old: Values, one: dict[str, Any]) -> None:
    one["control"] = one["control"] or old["control"]
    if "minimum" in old and one["control"] == old["control"]:
        one.setdefault("minimum", old["minimum"])


def take_up(turn: Turn, item_id: str) -> None:
    """Settings that were said before another phase was named are read back when they are called."""
    standing = turn.standing(item_id)
    if turn.item(item_id).by_name is not None and standing.values and not standing.answer:
        go_on(turn, item_id)


def go_on(turn: Turn, item_id: str) -> None:
    """Read back the first thing that does not fit, ask for what is missing, or echo the whole."""
    values = turn.standing(item_id).values
    situation = _situation(turn, item_id)
    findings = open_findings(turn, item_id, situation)
    notes = tuple(one for one in findings if one.severity == "note")
    lacking = _lacking(turn, item_id, values, situation)
    sentences = turn.case.bundle.sentences
    if len(findings) > len(notes):
        text = sentence_for(sentences, findings[0])
        found = tuple(as_mapping(sentences, one) for one in findings)
        turn.read_back(ReadBack(item_id, "mismatch", text, found, values))
    elif lacking:
        names = listed(turn.case, [turn.case.quantity_name(one) for one in lacking])
        text = turn.case.text("still-needed", names=names)
        turn.read_back(ReadBack(item_id, "missing", text, (), values))
    else:
        told = tuple(as_mapping(sentences, one) for one in notes)
        text = " ".join([*(one["sentence"] for one in told), _echo(turn.case, values)])
        turn.read_back(ReadBack(item_id, "echo", text, told, values))


def _lacking(turn: Turn, item_id: str, values: Values, situation: Situation) -> list[str]:
    """What the card has and nobody said; where it has nothing for this grade, what it has for every
    other one."""
    settings = as_settings(values)
    if situation.card_silent:
        wanted = always_on_card(turn.case.bundle.card, str(turn.item(item_id).phase))
        return [name for name in wanted if name not in settings]
    words = [name for name in words_of_card(situation.card) if name not in values]
    return [*missing(settings, situation.card.settings), *words]


def _situation(turn: Turn, item_id: str) -> Situation:
    """The item's values beside the card, at the grade that stands, and what was said for the other
    phases; the phase before this one, in the order of the checklist, is the step that it is
    compared with."""
    phase = str(turn.item(item_id).phase)
    heard: dict[str, Values] = {}
    before: Profile | None = None
    ahead = True
    for other, item in turn.case.items.items():
        ahead = ahead and other != item_id
        values = turn.standing(other).values
        if item.compare != "profile" or other == item_id or not values:
            continue
        heard[str(item.phase)] = values
        if ahead:
            before = as_profile(str(item.phase), values)
    values = turn.standing(item_id).values
    grade = grade_that_stands(turn.case, turn.state)
    situation = situation_of(turn.case.bundle.card, grade, phase, values, heard)
    return replace(situation, before=before)


def open_findings(turn: Turn, item_id: str, situation: Situation) -> tuple[Finding, ...]:
    """The findings that nobody has accepted. What was accepted is one question, not a quantity: a
    second question about the same number is asked for itself."""
    accepted = {(one.quantity, one.heard, one.expected) for one in turn.standing(item_id).accepted}
    found = all_findings(situation, turn.case.bundle.limits.for_rules())
    return tuple(one for one in found if (one.quantity, one.heard, one.expected) not in accepted)


def _echo(case: Case, values: Values) -> str:
    parts = ", ".join(
        case.bundle.sentences.text(
            "echo-part", quantity=case.quantity_name(quantity), heard=_setting_shown(one)
        )
        for quantity, one in values.items()
        if one["value"] is not None
    )
    return case.text("echo", parts=parts[:1].upper() + parts[1:])


def _setting_shown(one: Values) -> str:
    """A setting as the echo has it: 350 fixed, 0 to 20 linear, pulse."""
    value = shown(one["value"])
    if one.get("minimum") is not None:
        value = f"{shown(one['minimum'])} to {value}"
    return " ".join(filter(None, (value, one.get("control", ""))))


def confirm_profile(turn: Turn, words: str, voice: Voice) -> None:
    """The surgeon's word after the echo passes the profile."""
    pending = turn.state.pending
    if pending is None or pending.about != "echo":
        return
    values = {name: one for name, one in pending.values.items() if one["value"] is not None}
    expected = _expected(_situation(turn, pending.item).card)
    turn.answer(pending.item, st.VALUE, words, voice, values=values, expected=expected)


def _expected(card: CardProfile) -> dict[str, object]:
    """What the card holds, as the record keeps it."""
    settings: dict[str, object] = {}
    for name, one in card.settings.items():
        whole = {"value": one.value, "control": one.control, "tolerance": one.tolerance}
        settings[name] = whole if one.minimum is None else {**whole, "minimum": one.minimum}
    words = {name: {"value": word, "control": ""} for name, word in words_of_card(card).items()}
    return {**settings, **words}


def accept_finding(turn: Turn, quantity: str, reason: str, voice: Voice) -> bool:
    """The surgeon accepts one mismatch; False if none of that quantity may be accepted."""
    pending = turn.state.pending
    if pending is None:
        return False
    for finding in pending.findings:
        if finding["quantity"] != quantity or finding["severity"] != "ask":
            continue
        turn.keep(
            Accepted(
                pending.item,
                quantity,
                finding["heard"],
                finding["expected"],
                finding["unit"],
                reason,
                "surgeon",
                voice.role_known_by,
            )
        )
        turn.say(
            "accepted",
            quantity=turn.case.quantity_name(quantity),
            heard=shown(finding["heard"]),
        )
        return True
    return False
