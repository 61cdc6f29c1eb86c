"""Pressure, flow and the chamber: bottle height, balance, turnover, rise time.

Nothing here knows what a machine delivers: published measurements differ from the display
(Clin Ophthalmol 2022;16:1731-7). The figures serve to ask "does that fit together?".

Every function raises ValueError for a number that cannot be measured (below zero, not finite, or a
divisor of zero); nothing else is refused.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from voicelist.clinical.sources import Source, require

# Derived: 1 cm of water at 1 g/cm3 against mercury at 13.5951 g/cm3. A textbook page divides by
# 13.6 (The Basics of Fluidics, Nov/Dec 2012: 75 cm is about 55 mmHg).
DENSITY_OF_MERCURY_G_PER_CM3 = 13.5951
MMHG_PER_CM_OF_WATER = 10.0 / DENSITY_OF_MERCURY_G_PER_CM3

# Taught 0.25; about 0.17 by newer imaging (Bread-and-butter cataract surgery, January 2023).
CHAMBER_CC = 0.25
CHAMBER_IMAGED_CC = 0.17
# Laboratory range of the leakage at the incision (J Cataract Refract Surg 2023;49:976-81).
INCISION_LEAKAGE_CC_PER_MIN = (0.0, 15.0)

BALANCE_SOURCE = Source(
    "published",
    "inflow must exceed outflow at all times (The Basics of Fluidics, Nov/Dec 2012); "
    "resistance, leakage and least pressure are ours and not measured on this machine",
)
FLOWING_PRESSURE_SOURCE = Source(
    "from memory", "eye pressure is that of the bottle less flow times the resistance of the line"
)
RISE_TIME_SOURCE = Source("from memory", "with a flow pump the rise time goes as one over the flow")


def pressure_mmHg(bottle_cm: float) -> float:
    """The pressure of a water column in mmHg; `bottle_cm` is its height above the eye in cm.

    Source: derived from the density of mercury; 75 cm is about 55 mmHg (The Basics of Fluidics,
    Nov/Dec 2012).
    """
    return require("bottle_cm", bottle_cm) * MMHG_PER_CM_OF_WATER


def bottle_cm(pressure_mmHg: float) -> float:
    """The height of a water column in cm with this pressure in mmHg. Source: as `pressure_mmHg`."""
    return require("pressure_mmHg", pressure_mmHg) / MMHG_PER_CM_OF_WATER


def chamber_pressure_mmHg(
    infusion_mmHg: float, outflow_cc_per_min: float, resistance_mmHg_min_per_cc: float
) -> float:
    """The pressure in the eye while fluid flows, in mmHg; below zero where inflow cannot keep up.

    `outflow_cc_per_min` is all that leaves the eye, `resistance_mmHg_min_per_cc` that of line and
    sleeve. Source: from memory; the idea of a resistance in The Basics of Fluidics, Nov/Dec 2012.
    """
    lost = require("outflow_cc_per_min", outflow_cc_per_min) * require(
        "resistance_mmHg_min_per_cc", resistance_mmHg_min_per_cc
    )
    return require("infusion_mmHg", infusion_mmHg) - lost


@dataclass(frozen=True, slots=True)
class Balance:
    """Inflow against outflow. `inflow_cc_per_min` is the most that the line can bring while the
    chamber keeps its least pressure; a margin below zero means that the chamber goes soft.
    `chamber_mmHg` is the pressure in the eye at this outflow."""

    inflow_cc_per_min: float
    outflow_cc_per_min: float
    chamber_mmHg: float

    @property
    def margin_cc_per_min(self) -> float:
        return self.inflow_cc_per_min - self.outflow_cc_per_min

    @property
    def stable(self) -> bool:
        return self.margin_cc_per_min >= 0


def balance(
    infusion_mmHg: float,
    aspiration_cc_per_min: float,
    leakage_cc_per_min: float,
    resistance_mmHg_min_per_cc: float,
    least_chamber_mmHg: float = 0.0,
) -> Balance:
    """Inflow against outflow (aspiration and leakage at the incision), without surge.

    Source: the balance rule is published (The Basics of Fluidics, Nov/Dec 2012; an academy's primer
    on the platform), the formula from memory; what the line resists has to be measured on site.
    """
    require("resistance_mmHg_min_per_cc", resistance_mmHg_min_per_cc, above=True)
    outflow = require("aspiration_cc_per_min", aspiration_cc_per_min) + require(
        "leakage_cc_per_min", leakage_cc_per_min
    )
    head_mmHg = require("infusion_mmHg", infusion_mmHg) - require(
        "least_chamber_mmHg", least_chamber_mmHg
    )
    inflow = max(head_mmHg, 0.0) / resistance_mmHg_min_per_cc
    chamber = chamber_pressure_mmHg(infusion_mmHg, outflow, resistance_mmHg_min_per_cc)
    return Balance(inflow, outflow, chamber)


def chamber_pressure_after_mmHg(
    elapsed_s: float,
    infusion_mmHg: float,
    outflow_cc_per_min: float,
    resistance_mmHg_min_per_cc: float,
    compliance_cc_per_mmHg: float,
) -> float:
    """The pressure in the eye `elapsed_s` after an outflow begins in an eye at rest, in mmHg.

    The eye gives way by `compliance_cc_per_mmHg`: C dP/dt = (P_infusion - P) / R - Q, an approach
    to `chamber_pressure_mmHg` with the time constant R C. Source: derived from that balance.
    """
    settled = chamber_pressure_mmHg(infusion_mmHg, outflow_cc_per_min, resistance_mmHg_min_per_cc)
    constant_s = (
        resistance_mmHg_min_per_cc
        * 60.0
        * require("compliance_cc_per_mmHg", compliance_cc_per_mmHg, above=True)
    )
    if constant_s == 0:
        return settled
    share_left = math.exp(-require("elapsed_s", elapsed_s) / constant_s)
    return settled + (infusion_mmHg - settled) * share_left


def turnover_per_min(flow_cc_per_min: float, chamber_cc: float = CHAMBER_CC) -> float:
    """How often a minute the chamber's fluid is replaced.

    Source: flow over volume; 40 cc/min over 0.25 cc is 160 a minute (Setting your phaco speed
    limit, 30 August 2020).
    """
    flow = require("flow_cc_per_min", flow_cc_per_min)
    return flow / require("chamber_cc", chamber_cc, above=True)


def turnover_per_s(flow_cc_per_min: float, chamber_cc: float = CHAMBER_CC) -> float:
    """How often a second the chamber's fluid is replaced. Source: as `turnover_per_min`."""
    return turnover_per_min(flow_cc_per_min, chamber_cc) / 60.0


def poiseuille_flow_cc_per_min(
    bore_mm: float, length_mm: float, pressure_mmHg: float, viscosity_mPa_s: float = 1.0
) -> float:
    """Laminar flow through a tube of this inner diameter in cc/min; water is about 1 mPa s.

    Source: the law of Hagen and Poiseuille, Q = pi r^4 dP / (8 eta L) (the fourth power: Phaco
    fundamentals part 4, 24 April 2019).
    """
    radius_m = require("bore_mm", bore_mm) / 2000.0
    length_m = require("length_mm", length_mm, above=True) / 1000.0
    pressure_Pa = require("pressure_mmHg", pressure_mmHg) * 133.322387415
    viscosity_Pa_s = require("viscosity_mPa_s", viscosity_mPa_s, above=True) / 1000.0
    flow_m3_per_s = (math.pi * radius_m * radius_m * radius_m * radius_m * pressure_Pa) / (
        8.0 * viscosity_Pa_s * length_m
    )
    return flow_m3_per_s * 6.0e7


def flow_ratio(
    bore_mm: float, other_bore_mm: float, length_mm: float = 1.0, other_length_mm: float = 1.0
) -> float:
    """Flow through one tube over flow through the other, at the same pressure and fluid.

    Source: the law of Hagen and Poiseuille; 1.1 over 0.9 mm gives more than twice the flow (Size of
    phaco needle affects flow rate exponentially, 15 February 2006).
    """
    ratio = require("bore_mm", bore_mm) / require("other_bore_mm", other_bore_mm, above=True)
    lengths = require("other_length_mm", other_length_mm) / require(
        "length_mm", length_mm, above=True
    )
    return ratio * ratio * ratio * ratio * lengths


def rise_time_s(known_time_s: float, known_flow_cc_per_min: float, flow_cc_per_min: float) -> float:
    """The time to the same vacuum at another flow, once it is known at one flow (flow pump, tip
    occluded).

    Source: from memory, the inverse model; absolute seconds depend on the tubing.
    """
    swept_cc = require("known_time_s", known_time_s) * require(
        "known_flow_cc_per_min", known_flow_cc_per_min
    )
    return swept_cc / require("flow_cc_per_min", flow_cc_per_min, above=True)


def rise_time_to_s(
    vacuum_mmHg: float, flow_cc_per_min: float, line_compliance_cc_per_mmHg: float
) -> float:
    """The time to a vacuum behind an occluded tip, where the line gives way by
    `line_compliance_cc_per_mmHg`: C dP/dt = Q. Source: derived; agrees with the inverse model."""
    swept_cc = require("vacuum_mmHg", vacuum_mmHg) * require(
        "line_compliance_cc_per_mmHg", line_compliance_cc_per_mmHg
    )
    return swept_cc / require("flow_cc_per_min", flow_cc_per_min, above=True) * 60.0


def true_vacuum_mmHg(display_mmHg: float, over_display_percent: float) -> float:
    """The vacuum behind a display that reads low by a known share of itself.

    Source: 13.02% over the display at 300 mmHg (Clin Ophthalmol 2022;16:1731-7).
    """
    return require("display_mmHg", display_mmHg) * (1.0 + over_display_percent / 100.0)
