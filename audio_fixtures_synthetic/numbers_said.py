"""How people say numbers: written down here a second time, apart from the rules that read them, so
that each checks the other.
"""

from __future__ import annotations

_ONES = "zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen"
_TEENS = "fifteen sixteen seventeen eighteen nineteen"
_BELOW_TWENTY = f"{_ONES} {_TEENS}".split()
_TENS = ["twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"]
_QUARTERS = {
    0.0: ("", "point zero"),
    0.25: ("point two five", "point twenty five"),
    0.5: ("point five", "point five zero"),
    0.75: ("point seven five", "point seventy five"),
}


def whole_readings(number: int) -> tuple[str, ...]:
    """The ways to say a whole number from 0 to 999, the fullest first."""
    if number < 100:
        return (_below_hundred(number),)
    hundreds, rest = _BELOW_TWENTY[number // 100], number % 100
    if rest == 0:
        return (f"{hundreds} hundred", f"{hundreds} double zero", f"{hundreds} oh oh")
    said = _below_hundred(rest)
    full = (f"{hundreds} hundred {said}", f"{hundreds} hundred and {said}")
    if rest < 10:
        return (*full, f"{hundreds} oh {said}", f"{hundreds} zero {said}")
    digits = " ".join(_BELOW_TWENTY[int(digit)] for digit in str(number))
    return (*full, f"{hundreds} {said}", digits)


def power_readings(power_D: float) -> tuple[str, ...]:
    """The ways to say the amount of a lens power (sign left out), in quarters of a dioptre."""
    whole = int(abs(power_D))
    quarters = _QUARTERS[abs(power_D) - whole]
    spoken = [_below_hundred(whole)]
    if whole > 20 and whole % 10:
        spoken.append(" ".join(_BELOW_TWENTY[int(digit)] for digit in str(whole)))
    return tuple(f"{said} {part}".strip() for said in spoken for part in quarters)


def _below_hundred(number: int) -> str:
    if number < 20:
        return _BELOW_TWENTY[number]
    tens, ones = _TENS[number // 10 - 2], number % 10
    return f"{tens} {_BELOW_TWENTY[ones]}" if ones else tens
