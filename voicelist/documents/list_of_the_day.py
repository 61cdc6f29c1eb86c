"""The other cases of the day: the plans that lie in a plan's folder, by their case numbers."""

from __future__ import annotations

from pathlib import Path

from voicelist.documents.loading import load_plan
from voicelist.errors import DocumentError

# A day's list is far shorter; what lies in a folder of more is an archive.
_PLANS_AT_MOST = 200


def numbers_beside(plan: Path, case: str) -> dict[str, int]:
    """The case numbers of the other plans in the folder, by case code. A plan that cannot be read
    is none: it is told where it is opened or checked. Of more plans than a list can have, nothing
    is told."""
    files = [one for one in sorted(plan.absolute().parent.glob("*.yaml")) if one.name != plan.name]
    if len(files) > _PLANS_AT_MOST:
        return {}
    numbers: dict[str, int] = {}
    for file in files:
        try:
            other = load_plan(file).document
        except DocumentError:
            continue
        if other.number is not None and other.case != case:
            numbers[other.case] = other.number
    return numbers
