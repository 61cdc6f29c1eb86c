"""Intervals for proportions: how much, or how little, a small number tells."""

from __future__ import annotations

from math import sqrt
from typing import Final

# 0.975 quantile of the normal distribution, for 95 % on both sides.
Z_95: Final = 1.959963984540054


def wilson(count: int, of: int, z: float = Z_95) -> tuple[float, float]:
    """The score interval of a proportion (Wilson 1927, J. Am. Stat. Assoc. 22:209), from 0 to 1.

    Raises ValueError unless 0 <= count <= of and of > 0.
    """
    if not 0 <= count <= of or of == 0:
        raise ValueError(f"{count} of {of} is no proportion")
    share = count / of
    middle = share + z * z / (2 * of)
    reach = z * sqrt(share * (1 - share) / of + z * z / (4 * of * of))
    over = 1 + z * z / of
    low = 0.0 if count == 0 else (middle - reach) / over
    high = 1.0 if count == of else (middle + reach) / over
    return max(low, 0.0), min(high, 1.0)
