"""What is checked: the settings of one phase as heard, as a card has them, and what lies around.

Plain values, units in every name. A pressure is in mmHg and a bottle's height in cm; neither is
turned into the other but to compare them, and a number without its unit stays one.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from voicelist.clinical.energy import EndOfCase, Timing, timing_from
from voicelist.clinical.incision import FULL_CIRCLE_DEG, separation_deg
from voicelist.clinical.lens import LensSaid

UNITS: Mapping[str, str] = MappingProxyType(
    {
        "power_percent": "%",
        "vacuum_mmHg": "mmHg",
        "flow_cc_per_min": "cc/min",
        "bottle_cm": "cm",
        "infusion_mmHg": "mmHg",
        "pulses_per_s": "/s",
        "on_time_ms": "ms",
        "off_time_ms": "ms",
        "duty_percent": "%",
    }
)
# What findings may be about besides: words, places, grades, the numbers at the end of a case.
OTHER_UNITS: Mapping[str, str] = MappingProxyType(
    {
        "pump": "",
        "modulation": "",
        "trigger": "",
        "bottle": "",
        "grade": "",
        "separation_deg": "deg",
        "main_deg": "deg",
        "side_port_deg": "deg",
        "seat": "",
        "ultrasound_s": "s",
        "mean_power_percent": "%",
        "effective_s": "s",
        "total_s": "s",
        "knee_deg": "deg",
        "pedal": "",
        "eye": "",
        "model": "",
        "lens_D": "D",
        "axis_deg": "deg",
        "target_D": "D",
        "cylinder_D": "D",
        "printout_power_D": "D",
        "box_power_D": "D",
    }
)
_WHOLE_PERCENT = 100.0
TIMING = ("pulses_per_s", "on_time_ms", "off_time_ms", "duty_percent")
PUMPS = ("peristaltic", "venturi")
KINDS = ("continuous", "pulse", "burst")
# Power belongs to pedal position 3, which these phases do not use (derived).
PHASES_WITHOUT_POWER = ("cortex", "polish", "viscoelastic")

Range = tuple[float, float]


@dataclass(frozen=True, slots=True)
class SpokenSetting:
    """A value in its quantity's unit; `control` is linear, fixed or "" (not said). With linear
    control the pedal goes from `minimum` (None: not said) to `value`."""

    value: float
    control: str = ""
    minimum: float | None = None


@dataclass(frozen=True, slots=True)
class CardSetting:
    """What a card holds for one quantity; `tolerance` in the quantity's unit."""

    value: float
    control: str
    tolerance: float
    minimum: float | None = None


@dataclass(frozen=True, slots=True)
class Profile:
    """The settings of one phase. "" and None are what nobody said: the `pump` (peristaltic or
    venturi), the `kind` of power modulation, whether pulses wait for an occlusion. `bare_bottle` is
    a number said for the bottle without a unit."""

    phase: str
    settings: Mapping[str, SpokenSetting] = field(default_factory=dict)
    pump: str = ""
    kind: str = ""
    on_occlusion: bool | None = None
    bare_bottle: float | None = None

    def value(self, quantity: str) -> float | None:
        setting = self.settings.get(quantity)
        return None if setting is None else setting.value

    def timing(self) -> Timing | None:
        """The train of pulses that the first two of its figures settle; None without two."""
        return timing_of({name: one.value for name, one in self.settings.items()})


@dataclass(frozen=True, slots=True)
class CardProfile:
    """What a card holds for one phase; empty where there is none."""

    settings: Mapping[str, CardSetting] = field(default_factory=dict)
    pump: str = ""
    kind: str = ""
    on_occlusion: bool | None = None

    def timing(self) -> Timing | None:
        return timing_of({name: one.value for name, one in self.settings.items()})

    def as_said(self, phase: str) -> Profile:
        """The card's own figures, as if somebody had said them."""
        settings = {
            name: SpokenSetting(one.value, one.control, one.minimum)
            for name, one in self.settings.items()
        }
        return Profile(phase, settings, self.pump, self.kind, self.on_occlusion)


def timing_of(values: Mapping[str, float]) -> Timing | None:
    """The timing that the first two figures of pulses settle, in the order of `TIMING`."""
    known = [name for name in TIMING if name in values][:2]
    return timing_from(**{name: values[name] for name in known})


def without_pause(said: Profile) -> bool:
    """Whether what was said of the pulses leaves no pause between them: a duty of 100%, no off
    time, or an on time as long as the period. More than that cannot be and is no train."""
    if said.value("duty_percent") == _WHOLE_PERCENT or said.value("off_time_ms") == 0:
        return True
    timing = said.timing()
    return timing is not None and timing.duty_percent >= _WHOLE_PERCENT


@dataclass(frozen=True, slots=True)
class SpokenGrade:
    """A declared grade: never without its scale."""

    scale: str
    value: float


@dataclass(frozen=True, slots=True)
class Softer:
    """What the card has for a softer grade of the same scale in the same phase."""

    grade: SpokenGrade
    profile: CardProfile


@dataclass(frozen=True, slots=True)
class Incision:
    """Incisions as said, ISO 8429 positions in degrees, None for what nobody said. `separation_deg`
    and `tolerance_deg` are the card's, None without one; `seat` is where the surgeon sits, "" if
    nobody said; the planned places are the plan's, None without one."""

    main_deg: float | None
    side_port_deg: float | None
    eye: str
    separation_deg: float | None = None
    tolerance_deg: float = 0.0
    seat: str = ""
    planned_main_deg: float | None = None
    planned_side_port_deg: float | None = None

    def apart_deg(self) -> float | None:
        """The angle between the two as said; None until both are, and for what is no place."""
        if self.main_deg is None or self.side_port_deg is None:
            return None
        if not all(0 <= one <= FULL_CIRCLE_DEG for one in (self.main_deg, self.side_port_deg)):
            return None
        return separation_deg(self.main_deg, self.side_port_deg)


@dataclass(frozen=True, slots=True)
class Situation:
    """One profile and what it is checked against. `others` are the other phases of this case,
    `before` the profile that stood before this one, `softer` the card's for every softer grade;
    `edges` are where the card's bands of this scale meet; `lens` is by source, `walk` the pedal
    positions in the order that they were shown. `card_silent`: the card has this phase at other
    grades and nothing at this one."""

    heard: Profile
    card: CardProfile = CardProfile()
    others: Mapping[str, Profile] = field(default_factory=dict)
    before: Profile | None = None
    softer: tuple[Softer, ...] = ()
    grade: SpokenGrade | None = None
    edges: tuple[float, ...] = ()
    incision: Incision | None = None
    end: EndOfCase | None = None
    lens: Mapping[str, LensSaid] = field(default_factory=dict)
    walk: tuple[int, ...] | None = None
    knee_deg: float | None = None
    card_silent: bool = False


@dataclass(frozen=True, slots=True)
class Finding:
    """Something heard that does not fit. `severity` is note, ask or stop; `heard` and `expected`
    are in `unit`. `sentence` is the catalogue's key where it is not the rule's own; `other` names
    the phase, quantity or figure that the sentence speaks of besides."""

    rule: str
    severity: str
    quantity: str
    heard: float | str
    expected: float | str
    unit: str
    sentence: str = ""
    other: str = ""
