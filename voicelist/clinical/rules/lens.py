"""The lens by its sources: what box, printout and mark say aloud has to be one lens.

The plan is no source here: what it expects is never said before the answer.
"""

from __future__ import annotations

from collections.abc import Iterator

from voicelist.clinical.evidence import CONFUSIONS_PREVENTABLE
from voicelist.clinical.lens import (
    HIGHEST_POWER_D,
    LOWEST_POWER_D,
    POWER_STEP_D,
    SOURCES,
    differences,
    power_fits,
)
from voicelist.clinical.limits import Limits
from voicelist.clinical.profile import Situation
from voicelist.clinical.rules.base import Seen, rule
from voicelist.clinical.rules.usual import outside
from voicelist.clinical.sources import Source

_REPORTS = Source(
    "published",
    "lenses mixed up by transcription, selection, side and sign (Steeples et al. 2016); "
    f"{CONFUSIONS_PREVENTABLE.per(100):.1f}% of {CONFUSIONS_PREVENTABLE.total} confusions could "
    f"have been prevented by a time-out protocol ({CONFUSIONS_PREVENTABLE.source.text})",
)
_STEPS = Source("from memory", "lens powers from -20 to +60 D in steps of 0.25 D")
_TARGET = Source("project choice", "a target far from the usual is worth a question")
_LOOK = "Look at both again, and match the printout to the patient."
_QUANTITY = {"power_D": "lens_D"}


@rule("lens-sources", "stop", "lens-sources", _REPORTS, _LOOK, switchable=False)
def lens_sources(it: Situation, limits: Limits) -> Iterator[Seen]:
    """Two sources that name another eye, model, power, axis or target."""
    said = {source: lens for source, lens in it.lens.items() if source != "plan"}
    for found in differences(said):
        one, other = found.between
        quantity = _QUANTITY.get(found.field, found.field)
        key = "lens-elsewhere" if other not in SOURCES else ""
        yield Seen(quantity, found.values[other], found.values[one], key, other)


@rule("lens-step", "stop", "lens-step", _STEPS, "Read the power again.", switchable=False)
def lens_step(it: Situation, limits: Limits) -> Iterator[Seen]:
    """A power that no lens has. The nearest that one has is not named: it may be the planned one,
    and the power is to be read from the box again."""
    for lens in it.lens.values():
        heard = lens.power_D
        if heard is None or power_fits(heard):
            continue
        nearest = outside(heard, (LOWEST_POWER_D, HIGHEST_POWER_D))
        if nearest is not None:
            yield Seen("lens_D", heard, nearest, "lens-range")
        else:
            yield Seen("lens_D", heard, f"{POWER_STEP_D:g}")


@rule("lens-target", "ask", "unusual", _TARGET, "Confirm the target, or say it again.")
def lens_target(it: Situation, limits: Limits) -> Iterator[Seen]:
    """A target refraction that is seldom aimed at."""
    for lens in it.lens.values():
        if lens.target_D is not None:
            nearest = outside(lens.target_D, limits.usual_target_D)
            if nearest is not None:
                yield Seen("target_D", lens.target_D, nearest)
