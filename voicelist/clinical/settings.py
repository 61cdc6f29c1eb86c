"""Heard machine settings of one phase against a card: the short way to the rules.

A finding is a question or a caution, never a command: the surgeon and the machine's own
instructions decide.
"""

from __future__ import annotations

from collections.abc import Mapping

from voicelist.clinical.limits import DEFAULT, USUAL_RANGES, Limits
from voicelist.clinical.profile import (
    PHASES_WITHOUT_POWER,
    UNITS,
    CardProfile,
    CardSetting,
    Finding,
    Profile,
    Range,
    Situation,
    SpokenSetting,
)
from voicelist.clinical.rules import findings

__all__ = [
    "PHASES_WITHOUT_POWER",
    "UNITS",
    "USUAL_RANGES",
    "CardSetting",
    "Finding",
    "Range",
    "SpokenSetting",
    "assess",
    "missing",
]


def assess(
    phase: str,
    heard: Mapping[str, SpokenSetting],
    card: Mapping[str, CardSetting],
    limits: Limits = DEFAULT,
) -> tuple[Finding, ...]:
    """All findings for the settings of one phase by themselves."""
    return findings(Situation(Profile(phase, heard), CardProfile(card)), limits)


def missing(heard: Mapping[str, SpokenSetting], card: Mapping[str, CardSetting]) -> tuple[str, ...]:
    """The card's quantities that were not heard yet."""
    return tuple(quantity for quantity in card if quantity not in heard)
