"""The limits of the decision: each is written down with what is known of it, and nowhere else."""

from __future__ import annotations

import ast
from dataclasses import fields
from datetime import date
from pathlib import Path

import pytest

from voicelist.understanding import policy

UNDERSTANDING = Path(policy.__file__).parent
# The stages that weigh what was heard.
STAGES = ("parsing", "rejection", "interpretation", "voting", "verification", "out_of_grammar")


@pytest.mark.parametrize("limit", fields(policy.Policy), ids=lambda limit: limit.name)
def test_a_limit_has_a_unit_a_date_and_evidence(limit: object) -> None:
    known = dict(getattr(limit, "metadata", {}))
    assert known.keys() == {"unit", "since", "evidence"}
    assert date.fromisoformat(known["since"]) <= date.today()
    assert known["unit"]
    assert known["evidence"]


@pytest.mark.parametrize("stage", STAGES)
def test_no_stage_has_a_limit_of_its_own(stage: str) -> None:
    """A fraction in the code would be one; counts of what is compared or put are not."""
    tree = ast.parse((UNDERSTANDING / f"{stage}.py").read_text(encoding="utf-8"))
    constants = (node.value for node in ast.walk(tree) if isinstance(node, ast.Constant))
    assert {one for one in constants if isinstance(one, float)} <= {0.0}


def test_there_are_few_limits() -> None:
    numbers = [one for one in fields(policy.Policy) if one.name != "speeds"]
    assert len(numbers) <= 20
