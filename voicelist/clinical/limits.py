"""The limits of the rules, and which rules are off: what a site may set in a document of its own.

Here are the values that hold where a site says nothing. Most are a project choice or from memory:
each says so, none decides anything, and a site must put its own in their place.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from voicelist.clinical.fluidics import CHAMBER_CC
from voicelist.clinical.incision import USUAL_SEPARATION_DEG
from voicelist.clinical.lens import TARGET_LIMITS_D
from voicelist.clinical.profile import Range

_CHOP: Mapping[str, Range] = {
    "power_percent": (10, 70),
    "vacuum_mmHg": (200, 500),
    "flow_cc_per_min": (25, 45),
    "bottle_cm": (75, 120),
    "infusion_mmHg": (25, 60),
}
# Typical ranges by phase, from memory; a project choice, no authority behind them. They only ask
# "did I hear that right?" and a site must put its own in their place. Of the infusion pressure the
# upper end has a source: at a mean of 58.8 mmHg (60 was set) flow in the arteries of retina and
# optic nerve fell in all of 29 eyes and was lost in 11 (Takhtaev et al., ESCRS 2020, abstract).
USUAL_RANGES: Mapping[str, Mapping[str, Range]] = MappingProxyType(
    {
        "sculpt": {
            "power_percent": (30, 90),
            "vacuum_mmHg": (20, 100),
            "flow_cc_per_min": (18, 30),
            "bottle_cm": (60, 100),
            "infusion_mmHg": (25, 60),
        },
        "chop": _CHOP,
        "quadrant": _CHOP,
        "epinucleus": {
            "power_percent": (0, 40),
            "vacuum_mmHg": (100, 300),
            "flow_cc_per_min": (20, 35),
            "bottle_cm": (65, 110),
            "infusion_mmHg": (25, 60),
        },
        "cortex": {
            "power_percent": (0, 0),
            "vacuum_mmHg": (300, 600),
            "flow_cc_per_min": (20, 45),
            "bottle_cm": (60, 110),
            "infusion_mmHg": (20, 60),
        },
        "polish": {
            "power_percent": (0, 0),
            "vacuum_mmHg": (5, 50),
            "flow_cc_per_min": (5, 15),
            "bottle_cm": (40, 80),
            "infusion_mmHg": (15, 60),
        },
        "viscoelastic": {
            "power_percent": (0, 0),
            "vacuum_mmHg": (250, 650),
            "flow_cc_per_min": (20, 50),
            "bottle_cm": (60, 110),
            "infusion_mmHg": (20, 60),
        },
    }
)
# The rise of a vacuum depends on the tubing: off until a site has measured its own.
OFF: frozenset[str] = frozenset({"rise-time"})


@dataclass(frozen=True, slots=True)
class Limits:
    """`off` names the rules that are switched off."""

    usual: Mapping[str, Mapping[str, Range]] = field(default_factory=lambda: USUAL_RANGES)
    off: frozenset[str] = OFF
    # Resistance of line and sleeve: project choice, to be measured on site. With it the rule adds
    # little: it asks only where the figures of pressure and flow are far apart.
    line_resistance_mmHg_min_per_cc: float = 0.5
    # Within the laboratory range of 0 to 15 (J Cataract Refract Surg 2023); 5 is a project choice.
    incision_leakage_cc_per_min: float = 5.0
    least_chamber_mmHg: float = 10.0  # project choice
    # Bottle and infusion pressure that were both said may differ by so much: project choice.
    infusion_agreement_mmHg: float = 3.0
    # 0.25 is taught, 0.17 by newer imaging (Bread-and-butter cataract surgery, January 2023).
    chamber_cc: float = CHAMBER_CC
    # 50 cc/min is more than 3 a second (Setting your phaco speed limit, 2020); 3.5: project choice.
    most_turnover_per_s: float = 3.5
    # 4 s at 20 cc/min, to a high limit: from memory; 400 mmHg and 1 s: project choice.
    known_rise_s: float = 4.0
    known_rise_flow_cc_per_min: float = 20.0
    known_rise_vacuum_mmHg: float = 400.0
    shortest_rise_s: float = 1.0
    # Power needs flow (Jacob, 2018); how much is a project choice.
    least_flow_with_power_cc_per_min: float = 10.0
    # Project choice. (Grooving on the bench gained nothing significant past 70%, Clin Ophthalmol
    # 2019;13:611-5: that is efficiency and says nothing of heat.)
    most_continuous_power_percent: float = 70.0
    usual_separation_deg: Range = USUAL_SEPARATION_DEG
    # An incision this far from the planned place is asked about; half a clock hour: project choice.
    planned_place_tolerance_deg: float = 15.0
    least_knee_deg: float = 90.0  # knees above 90 degrees: common practice, no source
    most_knee_deg: float = 120.0  # project choice
    # Project choice; whole operations took 13.9 min on average (BMJ Open, PMC3651974).
    longest_ultrasound_s: float = 300.0
    usual_target_D: Range = TARGET_LIMITS_D  # project choice


DEFAULT = Limits()
