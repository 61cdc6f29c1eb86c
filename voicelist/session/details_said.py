"""Details as they were said: places of incisions, knees, pedal, lens, the figures at the end.

Pure: from a match to values by quantity, and from values to what the clinical rules look at.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from voicelist.clinical.energy import EndOfCase
from voicelist.clinical.incision import position_of, position_of_hour
from voicelist.clinical.lens import LensSaid
from voicelist.clinical.profile import Incision, Situation
from voicelist.documents.card import Card
from voicelist.documents.plan import IncisionPlan
from voicelist.grammar.match import Match

PLACES = ("main_deg", "side_port_deg")
END = ("ultrasound_s", "mean_power_percent", "effective_s", "total_s", "duty_percent")
LENS = ("target_D", "axis_deg", "cylinder_D", "printout_power_D", "box_power_D")
WALK = "walk"
NUMBERS = ("knee_deg", *END, *LENS)
QUANTITIES = (*PLACES, "seat", WALK, *NUMBERS)
_NUMBER_RULES = ("integer", "decimal", "signed", "no_power")
# Who looks at the lens and says what they see, where no document is named.
_ALOUD = "aloud"

Details = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Planned:
    """What details are held against besides each other: the eye ("" if nobody said), what the card
    says of incisions, where they are planned, and what was said of the lens by source."""

    eye: str = ""
    card: Card | None = None
    incision: IncisionPlan | None = None
    lens: Mapping[str, LensSaid] | None = None


def eye_said(match: Match) -> str:
    """The eye that a phrase names, or ""."""
    found = match.first("which_eye")
    return next((tag for tag in found.tags if tag in ("left", "right")), "") if found else ""


def details_said(match: Match, eye: str) -> dict[str, Any]:
    """Details by quantity, in the order said; of one said twice the later counts. A place is its
    position in degrees, or its name where the eye is not known."""
    said: dict[str, Any] = {}
    for one in match.walk():
        quantity = next((tag for tag in one.tags if tag in QUANTITIES), None)
        value = None if quantity is None else _value(quantity, one, eye)
        if quantity is not None and value is not None:
            said.pop(quantity, None)
            said[quantity] = value
    return said


def _value(quantity: str, match: Match, eye: str) -> Any:
    if quantity == "seat":
        return _tag(match, "side_of_eye")
    if quantity == WALK:
        return [int(tag) for one in match.all("pedal_position") for tag in one.tags]
    if quantity in PLACES:
        return _position(match, eye)
    return next((one.value for rule in _NUMBER_RULES for one in match.all(rule)), None)


def _tag(match: Match, rule: str) -> str | None:
    found = match.first(rule)
    return found.tags[0] if found is not None and found.tags else None


def _position(match: Match, eye: str) -> float | str | None:
    hour, name = match.first("clock_hour"), _tag(match, "side_of_eye")
    if hour is not None and hour.value is not None:
        return position_of_hour(hour.value)
    if name is not None:
        return position_of(name, eye) if eye else name
    number = match.first("integer")
    return None if number is None else number.value


def with_details(situation: Situation, said: Details, planned: Planned) -> Situation:
    """The situation with these details in it; a part of which nothing was said stays out."""
    return replace(
        situation,
        incision=_incision(said, planned),
        end=_end(said),
        lens={**(planned.lens or {}), **_lens(said)} if _lens(said) else {},
        walk=tuple(said[WALK]) if WALK in said else None,
        knee_deg=said.get("knee_deg"),
    )


def _incision(said: Details, planned: Planned) -> Incision | None:
    main, side_port = (_degrees(said.get(name)) for name in PLACES)
    seat = str(said.get("seat") or "")
    if main is None and side_port is None and not seat:
        return None
    card = planned.card.incision if planned.card is not None else None
    plan = planned.incision
    return Incision(
        main,
        side_port,
        planned.eye,
        card.separation_deg if card is not None else None,
        card.tolerance_deg if card is not None else 0.0,
        seat,
        plan.main_deg if plan is not None else None,
        plan.side_port_deg if plan is not None else None,
    )


def _degrees(value: object) -> float | None:
    return float(value) if isinstance(value, int | float) else None


def _end(said: Details) -> EndOfCase | None:
    if not any(name in said for name in END):
        return None
    time, mean, effective, total, duty = (said.get(name) for name in END)
    return EndOfCase(time, mean, effective, total, duty)


def _lens(said: Details) -> dict[str, LensSaid]:
    lens: dict[str, LensSaid] = {}
    aloud = {name: said[name] for name in ("target_D", "axis_deg", "cylinder_D") if name in said}
    if aloud:
        lens[_ALOUD] = LensSaid(**aloud)
    for source in ("printout", "box"):
        power_D = said.get(f"{source}_power_D")
        if power_D is not None:
            lens[source] = LensSaid(power_D=power_D)
    return lens
