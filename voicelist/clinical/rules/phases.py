"""Across phases, steps and grades: better tests than absolute numbers."""

from __future__ import annotations

from collections.abc import Iterator

from voicelist.clinical.evidence import TIME_EXPLAINED_BY_COLOUR
from voicelist.clinical.grade import SCALES, harder, near_edge, sayable
from voicelist.clinical.limits import Limits
from voicelist.clinical.profile import CardProfile, Profile, Situation
from voicelist.clinical.rules.base import Seen, rule
from voicelist.clinical.sources import Source

_ORDER = Source("published", "sculpt below epinucleus below chop (EyeWorld, August 2014, p. 69)")
_LOW = Source("published", "polish low, low (a surgeon's teaching site, 2019); comparison ours")
_SURGE = Source("published", "drivers of surge (Clin Ophthalmol 2025;19:1357-64); rule ours")
_HARDER = Source(
    "project choice",
    "a harder lens asks for something else than a soft one; but nuclear colour leaves "
    f"{100 - TIME_EXPLAINED_BY_COLOUR.per(100):.0f}% of the ultrasound time open "
    f"({TIME_EXPLAINED_BY_COLOUR.source.text})",
)
_EDGE = Source("published", "0.7 is the 95% tolerance (Chylack et al. 1993); rule ours")
_STEP = Source("project choice", "LOCS III is said to one decimal; others to half or whole grades")
_COMPARE = "Compare the vacuum of both phases."
_RANK = {"sculpt": 0, "epinucleus": 1, "chop": 2, "quadrant": 2}


@rule("vacuum-order", "ask", "order-above", _ORDER, _COMPARE)
def vacuum_order(it: Situation, limits: Limits) -> Iterator[Seen]:
    """Vacuum that does not rise from sculpting over the epinucleus to chopping."""
    vacuum, rank = it.heard.value("vacuum_mmHg"), _RANK.get(it.heard.phase)
    if vacuum is None or rank is None:
        return
    for phase, other in it.others.items():
        theirs, other_rank = other.value("vacuum_mmHg"), _RANK.get(phase)
        if theirs is None or other_rank is None or other_rank == rank:
            continue
        if other_rank < rank and vacuum <= theirs:
            yield Seen("vacuum_mmHg", vacuum, theirs, "order-above", phase)
            return
        if other_rank > rank and vacuum >= theirs:
            yield Seen("vacuum_mmHg", vacuum, theirs, "order-below", phase)
            return


@rule("polish-above-sculpt", "ask", "order-at-most", _LOW, _COMPARE)
def polish_above_sculpt(it: Situation, limits: Limits) -> Iterator[Seen]:
    """Polishing with more vacuum than sculpting."""
    vacuum = it.heard.value("vacuum_mmHg")
    pair = {"polish": "sculpt", "sculpt": "polish"}.get(it.heard.phase, "")
    theirs = it.others[pair].value("vacuum_mmHg") if pair in it.others else None
    if vacuum is None or theirs is None:
        return
    if it.heard.phase == "polish" and vacuum > theirs:
        yield Seen("vacuum_mmHg", vacuum, theirs, "order-at-most", pair)
    if it.heard.phase == "sculpt" and vacuum < theirs:
        yield Seen("vacuum_mmHg", vacuum, theirs, "order-at-least", pair)


@rule("vacuum-up-bottle-down", "ask", "vacuum-up-bottle-down", _SURGE, "Confirm both changes.")
def vacuum_up_bottle_down(it: Situation, limits: Limits) -> Iterator[Seen]:
    """More vacuum and less inflow in one step: both make surge larger."""
    if it.before is None:
        return
    vacuum, earlier = it.heard.value("vacuum_mmHg"), it.before.value("vacuum_mmHg")
    if vacuum is not None and earlier is not None and vacuum > earlier and _lower(it):
        yield Seen("vacuum_mmHg", vacuum, earlier)


def _lower(it: Situation) -> bool:
    """Whether bottle or infusion pressure went down; one is not compared with the other."""
    for quantity in ("bottle_cm", "infusion_mmHg"):
        now = it.heard.value(quantity)
        then = it.before.value(quantity) if it.before is not None else None
        if now is not None and then is not None and now < then:
            return True
    return False


@rule("soft-profile", "ask", "soft-profile", _HARDER, "Check grade and settings again.")
def soft_profile(it: Situation, limits: Limits) -> Iterator[Seen]:
    """A harder grade declared, and the card's settings for a softer one said unchanged. Where the
    card itself has the same for both, that is the surgeon's choice."""
    if it.grade is None:
        return
    of_card = it.card.as_said(it.heard.phase)
    for soft in it.softer:
        if not harder(it.grade.scale, it.grade.value, soft.grade.scale, soft.grade.value):
            continue
        if _same(it.heard, soft.profile) and not _same(of_card, soft.profile):
            yield Seen("grade", it.grade.value, soft.grade.value)
            return


def _same(said: Profile, card: CardProfile) -> bool:
    """Whether power and all else that the card has was said, and just so; the kind of modulation
    counts if it was said."""
    if "power_percent" not in said.settings or not set(card.settings) <= set(said.settings):
        return False
    if said.kind and card.kind and said.kind != card.kind:
        return False
    return all(said.settings[name].value == one.value for name, one in card.settings.items())


@rule("grade-step", "ask", "grade-step", _STEP, "Say the grade as the scale has it.")
def grade_step(it: Situation, limits: Limits) -> Iterator[Seen]:
    """A grade finer than its scale, or off it: asked about, never rounded or converted."""
    if it.grade is None or it.grade.scale not in SCALES:
        return
    if not sayable(it.grade.scale, it.grade.value):
        yield Seen("grade", it.grade.value, f"{SCALES[it.grade.scale].step:g}")


@rule("grade-near-edge", "note", "grade-near-edge", _EDGE, "Consider the card's next band too.")
def grade_near_edge(it: Situation, limits: Limits) -> Iterator[Seen]:
    """A grade that another careful grader may have put into the next band of the card."""
    if it.grade is None or not it.edges:
        return
    edge = near_edge(it.grade.scale, it.grade.value, it.edges)
    if edge is not None:
        yield Seen("grade", it.grade.value, edge)
