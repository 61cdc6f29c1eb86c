"""What is asked only where the plan, or its card, has something to compare it with."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from typing import Any

# "when" of an item: due where there is something to compare it with.
PLANNED = "planned"
# "when" of an item: due where the plan names the case of the other eye.
SECOND_EYE = "second eye"

# A band of grades of a card: its scale, its lowest and highest grade, the phases that it names.
Band = tuple[str, float, float, Collection[str]]
# A grade: its scale and its value.
Scaled = tuple[str, float]


def band_of(bands: Iterable[Band], grade: Scaled | None) -> Band | None:
    """The band that holds a grade."""
    if grade is None:
        return None
    held = (one for one in bands if one[0] == grade[0] and one[1] <= grade[1] <= one[2])
    return next(held, None)


def phase_is_planned(
    phase: str, bands: Collection[Band], grade: Scaled | None, wanted: Collection[str] | None
) -> bool:
    """Whether a phase's settings are to be voiced: the plan names the phase, or names none, and the
    card has it at this grade. Where the card has nothing at all for the grade, or the grade is not
    known, whatever it has at some grade is asked."""
    if wanted is not None and phase not in wanted:
        return False
    own = band_of(bands, grade)
    return phase in own[3] if own is not None else any(phase in one[3] for one in bands)


def words_planned(key: str, plan: Mapping[str, str], card: Mapping[str, str]) -> str | None:
    """The words under a key of `also`: the plan's, or else the card's."""
    return plan.get(key, card.get(key))


def bands_of(card: Mapping[str, Any]) -> tuple[Band, ...]:
    """The bands of a card as a record has it."""
    return tuple(
        (str(one["scale"]), float(one["from"]), float(one["to"]), tuple(one["phases"]))
        for one in card.get("grades") or ()
    )
