"""How the manifest writes what a sentence means: the phrase's name, then the values said.

`irrigation-line.done` · `eye.value eye=left` · `grade.value clinical=3` · `lens-power.value
power_D=+21.50` · `lens-power.value unsigned_power_D=21.50` · `lens-model.value
lens_model=toric-alpha` · `case-number.value case_number=7` ·
`quadrant-profile.value power_percent=40:linear vacuum_mmHg=350` ·
`command.undo` · `command.accept quantity=vacuum_mmHg reason=a-dense-lens`
"""

from __future__ import annotations

from collections.abc import Iterator

from voicelist.grammar.match import Match


def meaning_of(match: Match) -> str:
    """What a reading of a sentence means, in the manifest's form."""
    return " ".join([match.rule, *_values(match)])


def eye_meaning(item: str, side: str) -> str:
    return f"{item}.value eye={side}"


def grade_meaning(item: str, scale: str, number: float) -> str:
    return f"{item}.value {scale}={number:g}"


def power_meaning(item: str, power_D: float, *, signed: bool = True) -> str:
    return f"{item}.value " + (
        f"power_D={power_D:+.2f}" if signed else f"unsigned_power_D={power_D:.2f}"
    )


def model_meaning(item: str, model: str) -> str:
    return f"{item}.value lens_model={joined(model)}"


def number_meaning(item: str, number: int) -> str:
    return f"{item}.value case_number={number}"


def setting_meaning(quantity: str, value: int, control: str = "") -> str:
    return f"{quantity}={value}" + (f":{control}" if control else "")


def joined(words: str) -> str:
    return words.replace(" ", "-")


def _values(match: Match) -> Iterator[str]:
    for one in match.walk():
        match one.rule:
            case "side":
                yield f"eye={one.tags[0]}"
            case "clinical_grade" | "hardness_grade":
                yield f"{one.tags[0]}={_number(one):g}"
            case "signed":
                yield f"power_D={_number(one):+.2f}"
            case "unsigned_power":
                yield f"unsigned_power_D={_number(one):.2f}"
            case "list_number":
                yield f"case_number={_number(one):g}"
            case "lens_model":
                yield f"lens_model={joined(one.text)}"
            case "setting":
                yield from (_setting(said) for said in one.inside)
            case "quantity_name":
                yield f"quantity={one.tags[0]}"
            case "accept_reason" | "abandon_reason":
                yield f"reason={joined(one.text)}"


def _setting(said: Match) -> str:
    control = said.first("control")
    return setting_meaning(said.tags[0], int(_number(said)), control.tags[0] if control else "")


def _number(match: Match) -> float:
    """The one value in a match."""
    (value,) = [one.value for one in match.walk() if one.value is not None]
    return float(value)
