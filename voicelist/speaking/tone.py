"""The one short soft tone. It says "taken", and must not be mistaken for a device's alarm.

What is known of alarm sounds (IEC 60601-1-8:2006 with amendments of 2012 and 2020, as reported by
secondary pages read in part, not from the standard itself): a pulse has a fundamental between 150
and 1000 Hz with four or more components up to 4 kHz, the largest four within 15 dB of each other;
three equal notes mean medium priority, five or three and two mean high. That low priority has one
or two pulses and high priority ten is from memory.

Project choices, with no authority behind them: a single note of 330 Hz without any harmonic (so a
pulse of that standard it cannot be), 120 ms long, its level rising and falling smoothly over half
of that (a raised cosine), its peak 26 dB below full scale and so softer than speech; never less
than a second from one to the next, so that several in a row form no burst.
"""

from __future__ import annotations

import math
import struct

from voicelist.speaking.speech import RATE_HZ, Sound

FUNDAMENTAL_HZ = 330.0
LENGTH_S = 0.12
PEAK_DBFS = -26.0
SPACING_S = 1.0

_FULL_SCALE = 32767


def soft_tone() -> Sound:
    """The tone, always the same."""
    count = round(LENGTH_S * RATE_HZ)
    peak = _FULL_SCALE * 10 ** (PEAK_DBFS / 20)
    samples = (
        round(peak * _edge(index, count) * math.sin(2 * math.pi * FUNDAMENTAL_HZ * index / RATE_HZ))
        for index in range(count)
    )
    return Sound(struct.pack(f"<{count}h", *samples))


def _edge(index: int, count: int) -> float:
    """0 at both ends, 1 in the middle half; each edge a quarter of the length."""
    edge = count // 4
    nearest = min(index, count - 1 - index)
    return 1.0 if nearest >= edge else 0.5 - 0.5 * math.cos(math.pi * nearest / edge)
