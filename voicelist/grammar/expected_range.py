"""What a number is likely to be, written down beside its phrase: `{likely 20 to 150}`, `{likely -30
to 60 by 0.25}`.

An unlikely number is no error and may be said; but between "eight" and "eighty" that sound alike
the likely one is taken to have been said (`voicelist.understanding.interpretation`).
"""

from __future__ import annotations

import re
from dataclasses import dataclass

_LIKELY = "likely"
_NUMBER = r"[-+]?\d+(?:\.\d+)?"
_FORM = re.compile(rf"{_LIKELY} ({_NUMBER}) to ({_NUMBER})(?: by ({_NUMBER}))?")
_NEARLY = 1e-6


@dataclass(frozen=True, slots=True)
class Likely:
    """Numbers from `least` to `most`; where `step` is not 0, its multiples alone."""

    least: float
    most: float
    step: float = 0.0

    def holds(self, value: float) -> bool:
        if not self.least <= value <= self.most:
            return False
        steps = value / self.step if self.step else 0.0
        return abs(steps - round(steps)) < _NEARLY


def likely_of(tag: str) -> Likely | None:
    """What a tag says of numbers; None if it says nothing of them. Raises ValueError where it is
    malformed."""
    if tag.partition(" ")[0] != _LIKELY:
        return None
    found = _FORM.fullmatch(tag)
    if found is None:
        raise ValueError(f"expected {{{_LIKELY} A to B}} or {{{_LIKELY} A to B by STEP}}")
    least, most, step = (float(part or 0) for part in found.groups())
    if least > most or step < 0:
        raise ValueError("expected the lower number first and a step above 0")
    return Likely(least, most, step)
