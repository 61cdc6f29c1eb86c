"""The settings profile: spoken in any order, in one breath or several, checked against the card,
echoed once, passed by the surgeon's word."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from voicelist.clinical.settings import (
    UNITS,
    CardSetting,
    Finding,
    Setting,
    assess,
    missing,
)
from voicelist.documents.sentences import Sentences
from voicelist.phrases.match import Match
from voicelist.session import state as st
from voicelist.session.case import Case, quantity_name, sentence
from voicelist.session.events import Voice
from voicelist.session.records import Accepted, Corrected, Noted, ReadBack
from voicelist.session.turn import Turn
from voicelist.session.wording import listed, shown

Values = Mapping[str, Any]


def settings_said(match: Match) -> dict[str, dict[str, Any]]:
    """Settings by quantity, in the order said; of a quantity said twice the later counts."""
    said: dict[str, dict[str, Any]] = {}
    for one in match.walk():
        quantity = next((tag for tag in one.tags if tag in UNITS), None)
        number = one.first("integer")
        if quantity is None or number is None:
            continue
        control = one.first("control")
        said.pop(quantity, None)
        said[quantity] = {"value": number.value, "control": control.tags[0] if control else ""}
    return said


def as_settings(values: Values) -> dict[str, Setting]:
    """The record's plain mapping as settings."""
    return {name: Setting(one["value"], one.get("control", "")) for name, one in values.items()}


def take_settings(turn: Turn, item_id: str, match: Match, voice: Voice) -> None:
    """Settings for the item's phase: merged with what was said before, then checked."""
    before = turn.standing(item_id).values
    said = settings_said(match)
    for quantity, one in said.items():
        old = before.get(quantity)
        if old is None:
            continue
        one["control"] = one["control"] or old["control"]
        if old != one:
            turn.keep(Corrected(item_id, quantity, dict(old), dict(one)))
    turn.keep(Noted(item_id, said, match.text))
    _go_on(turn, item_id)


def _go_on(turn: Turn, item_id: str) -> None:
    """Read back the first thing that does not fit, ask for what is missing, or echo the whole."""
    values = turn.standing(item_id).values
    card = turn.case.card_settings(str(turn.item(item_id).phase))
    findings = _open_findings(turn, item_id, card)
    lacking = missing(as_settings(values), card)
    if findings:
        text = sentence_for(turn.case.bundle.sentences, findings[0])
        found = tuple(as_mapping(turn.case.bundle.sentences, one) for one in findings)
        turn.read_back(ReadBack(item_id, "mismatch", text, found, values))
    elif lacking:
        names = listed(turn.case, [turn.case.quantity_name(one) for one in lacking])
        text = turn.case.text("still-needed", names=names)
        turn.read_back(ReadBack(item_id, "missing", text, (), values))
    else:
        turn.read_back(ReadBack(item_id, "echo", _echo(turn.case, values), (), values))


def _open_findings(
    turn: Turn, item_id: str, card: Mapping[str, CardSetting]
) -> tuple[Finding, ...]:
    standing = turn.standing(item_id)
    accepted = {(one.quantity, one.heard) for one in standing.accepted}
    found = assess(str(turn.item(item_id).phase), as_settings(standing.values), card)
    return tuple(one for one in found if (one.quantity, one.heard) not in accepted)


def sentence_for(sentences: Sentences, finding: Finding) -> str:
    """The read-back of one finding."""
    key = {"usual-range": "unusual"}.get(finding.rule, "card-differs")
    if finding.severity == "stop":
        key = "cannot-be"
    return sentence(
        sentences,
        key,
        quantity=quantity_name(sentences, finding.quantity),
        heard=shown(finding.heard),
        expected=shown(finding.expected),
    )


def as_mapping(sentences: Sentences, finding: Finding) -> dict[str, Any]:
    """A finding as the journal and `--json` show it."""
    return {
        "rule": finding.rule,
        "severity": finding.severity,
        "quantity": finding.quantity,
        "heard": finding.heard,
        "expected": finding.expected,
        "unit": finding.unit,
        "sentence": sentence_for(sentences, finding),
    }


def _echo(case: Case, values: Values) -> str:
    parts = ", ".join(
        case.bundle.sentences.text(
            "echo-part",
            quantity=case.quantity_name(quantity),
            heard=" ".join(filter(None, (shown(one["value"]), one.get("control", "")))),
        )
        for quantity, one in values.items()
    )
    return case.text("echo", parts=parts[:1].upper() + parts[1:])


def confirm_profile(turn: Turn, words: str, voice: Voice) -> None:
    """The surgeon's word after the echo passes the profile."""
    pending = turn.state.pending
    if pending is None or pending.about != "echo":
        return
    card = turn.case.card_settings(str(turn.item(pending.item).phase))
    expected: dict[str, object] = {
        name: {"value": one.value, "control": one.control, "tolerance": one.tolerance}
        for name, one in card.items()
    }
    turn.answer(
        pending.item, st.VALUE, words, voice, values=dict(pending.values), expected=expected
    )


def accept_setting(turn: Turn, quantity: str, reason: str, voice: Voice) -> bool:
    """The surgeon accepts one mismatch; False if none of that quantity may be accepted."""
    pending = turn.state.pending
    if pending is None:
        return False
    for finding in pending.findings:
        if finding["quantity"] != quantity or finding["severity"] == "stop":
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
        _go_on(turn, pending.item)
        return True
    return False
