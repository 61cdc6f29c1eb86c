"""How long something lasted, in words."""

from __future__ import annotations

# Seconds in a unit, its name, and the same of the unit that follows it.
_SPANS = ((86400, "d", 3600, "h"), (3600, "h", 60, "min"), (60, "min", 1, "s"))


def span_words(seconds: float) -> str:
    """How long, in at most two units: "20 s", "1 h 5 min", "3652 d"."""
    rounded = round(seconds)
    for length, name, part, below in _SPANS:
        if rounded >= length:
            rest = rounded % length // part
            return f"{rounded // length} {name}" + (f" {rest} {below}" if rest else "")
    return f"{rounded} s"
