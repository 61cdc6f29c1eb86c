"""From documents to pictures: what `voicelist draw` draws of a card or a plan."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from voicelist.clinical.fluidics import INCISION_LEAKAGE_CC_PER_MIN, pressure_mmHg
from voicelist.clinical.limits import DEFAULT, Limits
from voicelist.documents.card import Settings
from voicelist.documents.finding import Shelves
from voicelist.documents.loading import load_card, load_limits, load_plan
from voicelist.documents.names import PHASES
from voicelist.documents.plan import IncisionPlan
from voicelist.documents.wording import number
from voicelist.errors import DocumentError, UsageError
from voicelist.figures.canvas import Picture
from voicelist.figures.geometry import SEEN_FROM, eye_picture
from voicelist.figures.incision import incision_picture
from voicelist.figures.pedal import pedal_picture
from voicelist.figures.pressure import Pressures, pressure_picture
from voicelist.figures.pulses import pulses_picture
from voicelist.figures.series import Fall, chamber_falls, pedal_travel, pulse_train, vacuum_rises


def of_pedal(settings: Settings, phase: str, under: str, origin: str, banner: str = "") -> Picture:
    irrigation = ""
    if settings.bottle_cm is not None:
        irrigation = f"bottle {number(settings.bottle_cm.value)} cm"
    elif settings.infusion_mmHg is not None:
        irrigation = f"{number(settings.infusion_mmHg.value)} mmHg"
    return pedal_picture(pedal_travel(phase, settings), under, origin, irrigation, banner)


def of_pulses(settings: Settings, under: str, origin: str, banner: str = "") -> Picture:
    """Raises UsageError for a phase without power, or whose pulses cannot be."""
    if settings.power_percent is None:
        raise UsageError(f"There is no power to draw: {under} has none.")
    train = pulse_train(settings.power_percent.value, settings.modulation)
    return pulses_picture(train, under, origin, banner)


@dataclass(frozen=True, slots=True)
class Measured:
    """What somebody measured on their own machine; None is what they did not. `rise_s` is the time
    to the card's vacuum at `rise_cc_per_min`."""

    resistance_mmHg_min_per_cc: float | None = None
    rise_s: float | None = None
    rise_cc_per_min: float | None = None


def of_pressure(
    settings: Settings, under: str, origin: str, measured: Measured, limits: Limits = DEFAULT
) -> Picture:
    """Raises UsageError where the card lacks vacuum or flow, or a number cannot be measured."""
    vacuum, flow = settings.vacuum_mmHg, settings.flow_cc_per_min
    if settings.pump == "venturi":
        raise UsageError(
            f"This vacuum rises by the flow that is set, and {under} has a venturi pump."
        )
    if vacuum is None or flow is None or min(vacuum.value, flow.value) <= 0:
        raise UsageError(f"Vacuum over time needs a vacuum and a flow above 0: {under} lacks one.")
    rise_s, rise_flow, told = _rise(vacuum.value, measured, limits)
    notes = [told]
    infusion, told = _infusion(settings)
    notes += [told] if told else []
    try:
        rises = vacuum_rises(
            vacuum.value, (flow.value * 2, flow.value, flow.value / 2), rise_s, rise_flow
        )
        falls: tuple[Fall, ...] = ()
        if infusion is not None:
            resistance, told = _resistance(measured, limits)
            notes.append(told)
            until = max(60.0, flow.value * 1.25)
            falls = chamber_falls(infusion, resistance, until, INCISION_LEAKAGE_CC_PER_MIN)
    except ValueError as error:
        raise UsageError(f"That cannot be drawn: {error}.") from error
    pressures = Pressures(vacuum.value, flow.value, rises, infusion, falls)
    return pressure_picture(pressures, under, origin, notes, "")


def _rise(vacuum_mmHg: float, measured: Measured, limits: Limits) -> tuple[float, float, str]:
    """The time to a vacuum at one flow, that flow, and what is to be said of them."""
    rise_s, flow = measured.rise_s, measured.rise_cc_per_min
    if (rise_s is None) != (flow is None):
        raise UsageError("--rise-s and --rise-flow belong together: give both or neither.")
    if rise_s is not None and flow is not None:
        if min(rise_s, flow) <= 0:
            raise UsageError("--rise-s and --rise-flow have to be above 0.")
        return rise_s, flow, f"Rise: {number(rise_s)} s at {number(flow)} cc/min, as measured."
    known_s, known_flow = limits.known_rise_s, limits.known_rise_flow_cc_per_min
    told = (
        f"Rise: {number(known_s)} s to {number(limits.known_rise_vacuum_mmHg)} mmHg at "
        f"{number(known_flow)} cc/min, from the limits, which are not measured on your machine "
        "unless your site did so."
    )
    return known_s * vacuum_mmHg / limits.known_rise_vacuum_mmHg, known_flow, told


def _resistance(measured: Measured, limits: Limits) -> tuple[float, str]:
    """Of the irrigation line, in mmHg per cc/min, and what is to be said of it."""
    given = measured.resistance_mmHg_min_per_cc
    if given is not None:
        return given, f"Resistance of the line: {number(given)} mmHg per cc/min, as measured."
    taken = limits.line_resistance_mmHg_min_per_cc
    told = (
        f"Resistance of the line: {number(taken)} mmHg per cc/min, from the limits; measure yours."
    )
    return taken, told


def _infusion(settings: Settings) -> tuple[float | None, str]:
    """The pressure of the infusion and what is to be said of it."""
    if settings.infusion_mmHg is not None:
        return settings.infusion_mmHg.value, ""
    if settings.bottle_cm is None:
        return None, "Pressure in the eye is not drawn: the card has no bottle or infusion."
    height = settings.bottle_cm.value
    pressure = pressure_mmHg(height)
    return pressure, (
        f"A column of {number(height)} cm is taken as {pressure:.1f} mmHg (derived: water, from "
        "the eye upwards)."
    )


def of_incision(
    eye: str,
    incision: IncisionPlan,
    under: str,
    origin: str,
    banner: str = "",
    seen_from: str = SEEN_FROM[0],
) -> Picture:
    geometry = eye_picture(eye, incision.main_deg, incision.side_port_deg, seen_from)
    return incision_picture(geometry, seen_from, under, origin, banner)


def settings_of(card_file: Path, scale: str, value: float, phase: str) -> tuple[Settings, str, str]:
    """The settings of a phase, with the words that say which they are and where they are from.

    Raises DocumentError where the card has none, UsageError for a phase that there is not.
    """
    if phase not in PHASES:
        raise UsageError(f"There is no phase {phase}: choose one of {', '.join(PHASES)}.")
    card = load_card(card_file)
    settings = card.document.settings_for(scale, value, phase)
    if settings is None:
        expected = f"expected settings for {scale} {number(value)} in the phase {phase}"
        raise DocumentError((card.place_of(("grades",)).problem("none", expected),))
    under, origin = card_words(card.document.id, scale, value, phase)
    return settings, under, origin


def card_words(card_id: str, scale: str, value: float, phase: str) -> tuple[str, str]:
    """What stands under the title, and in the small print."""
    under = f"card {card_id}, grade {scale} {number(value)}, {phase}"
    return under, f"Figures: the preference card {card_id}."


def site_limits(document: Path) -> Limits:
    """The limits of the site that a document is of, or our own. Raises DocumentError."""
    path = Shelves.beside(document).find("limits.yaml")
    return DEFAULT if path is None else load_limits(path).document.for_rules()


def plan_incision(plan_file: Path, seen_from: str) -> Picture:
    """The incisions of a plan. Raises DocumentError where it has none, UsageError for a place."""
    if seen_from not in SEEN_FROM:
        raise UsageError(f"--seen-from is {' or '.join(SEEN_FROM)}, not {seen_from}.")
    plan = load_plan(plan_file)
    incision = plan.document.incision
    if incision is None:
        expected = "expected incision: {main_deg: ..., side_port_deg: ...}"
        raise DocumentError((plan.place_of(()).problem("a plan without incisions", expected),))
    under, origin = plan_words(plan.document.case)
    return of_incision(plan.document.side, incision, under, origin, seen_from=seen_from)


def plan_words(case: str) -> tuple[str, str]:
    return f"plan of case {case}", f"Figures: the plan of case {case}."


def phases_of_checklist(checklist: dict[str, object]) -> Iterator[str]:
    """The phases whose settings a checklist asks for, in order."""
    sections = checklist.get("sections", ())
    for section in sections if isinstance(sections, list | tuple) else ():
        for item in section["items"]:
            if item.get("phase"):
                yield str(item["phase"])
