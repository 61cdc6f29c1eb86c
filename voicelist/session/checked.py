"""What a profile is checked against: values of the record and documents, as the rules take them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from voicelist.clinical.profile import (
    KINDS,
    PUMPS,
    TIMING,
    UNITS,
    CardProfile,
    CardSetting,
    Profile,
    Situation,
    Softer,
    SpokenGrade,
    SpokenSetting,
)
from voicelist.clinical.rules.card import trigger_words
from voicelist.documents import earlier
from voicelist.documents.card import Card, GradeBand, Settings

Values = Mapping[str, Any]
BARE_BOTTLE = "bottle"  # a number for the bottle without a unit
WORDS = ("modulation", "trigger", "pump")  # what is said in words, not in numbers
_BY_QUANTITY = ("power_percent", "vacuum_mmHg", "flow_cc_per_min", "bottle_cm", "infusion_mmHg")


def as_settings(values: Values) -> dict[str, SpokenSetting]:
    """The settings with numbers in the record's plain mapping."""
    return {
        name: SpokenSetting(one["value"], one.get("control", ""), one.get("minimum"))
        for name, one in values.items()
        if name in UNITS and one["value"] is not None
    }


def as_profile(phase: str, values: Values) -> Profile:
    """The record's plain mapping as a profile."""
    said = {name: values[name]["value"] for name in WORDS if name in values}
    trigger = said.get("trigger")
    kind, pump = kind_now(said.get("modulation", "")), said.get("pump", "")
    return Profile(
        phase,
        as_settings(values),
        pump if pump in PUMPS else "",
        kind if kind in KINDS else "",
        None if trigger is None else trigger == trigger_words(True),
        values.get(BARE_BOTTLE, {}).get("value"),
    )


def kind_now(kind: Any) -> str:
    """A kind of modulation under the name of today; older records have others."""
    return earlier.KINDS.get(str(kind), str(kind))


def card_profile(settings: Settings | None) -> CardProfile:
    """What a card holds for one phase; empty where it holds nothing."""
    if settings is None:
        return CardProfile()
    every: dict[str, CardSetting] = {}
    for name in _BY_QUANTITY:
        one = getattr(settings, name)
        if one is not None:
            every[name] = CardSetting(one.value, one.control, one.tolerance, one.minimum)
    modulation = settings.modulation
    for name in TIMING:
        value = getattr(modulation, name, None)
        if value is not None:
            every[name] = CardSetting(value, "", 0.0)
    return CardProfile(
        every,
        settings.pump or "",
        "" if modulation is None else modulation.kind,
        None if modulation is None else modulation.on_occlusion,
    )


def words_of_card(card: CardProfile) -> dict[str, str]:
    """What the card holds in words and what has to be said, because no number implies it: bursts,
    whether an occlusion triggers them, and the pump."""
    words: dict[str, str] = {}
    if card.kind == "burst" or (card.kind and not _has_timing(card)):
        words["modulation"] = card.kind
    if card.on_occlusion is not None:
        words["trigger"] = trigger_words(card.on_occlusion)
    if card.pump:
        words["pump"] = card.pump
    return words


def _has_timing(card: CardProfile) -> bool:
    return any(name in card.settings for name in TIMING)


def situation_of(
    card: Card,
    grade: SpokenGrade | None,
    phase: str,
    values: Values,
    heard: Mapping[str, Values] | None = None,
) -> Situation:
    """The situation of one phase's values at the grade that stands. `heard` has what was said for
    other phases of this case; the card speaks for the rest."""
    others = other_phases(card, grade)
    others |= {name: as_profile(name, said) for name, said in (heard or {}).items()}
    others.pop(phase, None)
    if grade is None:
        return Situation(as_profile(phase, values), others=others)
    of_scale = sorted(
        (one for one in card.grades if one.scale == grade.scale), key=lambda one: one.from_value
    )
    softer = tuple(
        Softer(SpokenGrade(grade.scale, one.to_value), card_profile(settings))
        for one in of_scale
        if one.to_value < grade.value and (settings := _phases(one).get(phase)) is not None
    )
    edges = tuple(one.from_value for one in of_scale[1:])
    band = _band(card, grade)
    own = _phases(band).get(phase)
    return Situation(
        as_profile(phase, values),
        card_profile(own),
        others,
        None,
        softer,
        grade,
        edges,
        card_silent=own is None and any(phase in _phases(one) for one in card.grades),
    )


def always_on_card(card: Card, phase: str) -> tuple[str, ...]:
    """The quantities that a card has for a phase at every grade for which it has the phase."""
    found = [card_profile(_phases(one)[phase]) for one in card.grades if phase in _phases(one)]
    first = tuple(found[0].settings) if found else ()
    return tuple(name for name in first if all(name in one.settings for one in found))


def other_phases(card: Card, grade: SpokenGrade | None) -> dict[str, Profile]:
    """What the card has for this grade in each phase, as if it had been said."""
    phases = _phases(_band(card, grade))
    return {name: card_profile(settings).as_said(name) for name, settings in phases.items()}


def _band(card: Card, grade: SpokenGrade | None) -> GradeBand | None:
    if grade is None:
        return None
    return next((one for one in card.grades if one.holds(grade.scale, grade.value)), None)


def _phases(band: GradeBand | None) -> dict[str, Settings]:
    return {} if band is None else {str(name): one for name, one in band.phases.items()}
