"""Usual ranges: a question, never a refusal, and only where the card says nothing."""

from __future__ import annotations

from collections.abc import Iterator

from voicelist.clinical.limits import Limits
from voicelist.clinical.profile import Range, Situation
from voicelist.clinical.rules.base import Seen, rule
from voicelist.clinical.sources import Source

_RANGES = Source("project choice", "typical ranges from memory; a site puts its own in their place")
_INFUSION = Source(
    "published",
    "at a mean of 58.8 mmHg flow in the arteries of retina and optic nerve fell in all of 29 eyes, "
    "and was lost in 11 (Takhtaev et al., ESCRS 2020, abstract); the range is ours",
)
_CONFIRM = "Confirm the value, or say it again."


@rule("usual-range", "ask", "unusual", _RANGES, _CONFIRM)
def usual_range(it: Situation, limits: Limits) -> Iterator[Seen]:
    """A value outside the usual range of its phase."""
    usual = limits.usual.get(it.heard.phase, {})
    for quantity, setting in it.heard.settings.items():
        if quantity == "infusion_mmHg":
            continue  # by a rule of its own, for its source
        if quantity in usual and quantity not in it.card.settings:
            nearest = outside(setting.value, usual[quantity])
            if nearest is not None:
                yield Seen(quantity, setting.value, nearest)


@rule("infusion-range", "ask", "unusual", _INFUSION, _CONFIRM)
def infusion_range(it: Situation, limits: Limits) -> Iterator[Seen]:
    """An infusion pressure outside the usual range of its phase, in either direction."""
    heard, usual = it.heard.value("infusion_mmHg"), limits.usual.get(it.heard.phase, {})
    if heard is None or "infusion_mmHg" in it.card.settings or "infusion_mmHg" not in usual:
        return
    nearest = outside(heard, usual["infusion_mmHg"])
    if nearest is not None:
        yield Seen("infusion_mmHg", heard, nearest)


def outside(value: float, limits: Range) -> float | None:
    """The nearest limit if the value is outside, else None; the limits are inside."""
    low, high = limits
    if low <= value <= high:
        return None
    return low if value < low else high
