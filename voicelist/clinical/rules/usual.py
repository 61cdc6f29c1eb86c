"""Usual ranges: a question, never a refusal, and only where the card says nothing."""

from __future__ import annotations

from collections.abc import Iterator

from voicelist.clinical.limits import Limits
from voicelist.clinical.profile import Range, Situation
from voicelist.clinical.rules.base import Seen, rule
from voicelist.clinical.sources import Source

_RANGES = Source("project choice", "typical ranges from memory; a site puts its own in their place")
_SHORT = Source("published", "on times of 2 to 10 ms tested (J Cataract Refract Surg 2014;40)")
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


@rule("short-pulse-time", "ask", "unusual", _SHORT, _CONFIRM)
def short_pulse_time(it: Situation, limits: Limits) -> Iterator[Seen]:
    """Short pulses with an on time that is not short."""
    heard = it.heard.value("on_time_ms")
    if it.heard.kind != "short-pulses" or heard is None or "on_time_ms" in it.card.settings:
        return
    nearest = outside(heard, limits.short_pulse_on_time_ms)
    if nearest is not None:
        yield Seen("on_time_ms", heard, nearest)


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
