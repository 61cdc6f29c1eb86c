"""Several answers in one breath: all or none, by both looks."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence

import pytest

from tests.understanding.small_room import context, ranked
from voicelist.understanding.context import Context
from voicelist.understanding.interpretation import (
    NotUnderstood,
    Understanding,
    Understood,
    understand,
)
from voicelist.understanding.policy import POLICY

BOTH = "bottle full and no known allergies"
OTHER = "bottle full and identity and consent confirmed"


def ours() -> Context:
    together = frozenset({"bottle.done", "allergies.done", "consent.done"})
    return dataclasses.replace(context(), together=together)


def heard(first: Sequence[str], second: Sequence[str] = (), apart: float = 1.0) -> Understanding:
    return understand(ranked(first, apart), ranked(second, apart), ours())


@pytest.mark.parametrize("second", [(), (BOTH,), (BOTH.replace(" and ", " "),)])
def test_two_are_taken_where_both_looks_say_so(second: tuple[str, ...]) -> None:
    result = heard((BOTH,), second)
    assert isinstance(result, Understood)
    assert [one.rule for one in result.matches] == ["bottle.done", "allergies.done"]


def test_the_second_look_may_find_them_a_little_behind() -> None:
    strange = "bottle full and no own allergies"
    for apart, taken in ((POLICY.slack_small - 0.1, True), (POLICY.slack_small + 0.1, False)):
        assert isinstance(heard((BOTH,), (strange, BOTH), apart), Understood) is taken


def test_a_denial_of_one_keeps_both() -> None:
    turned = "bottle not full and no known allergies"
    result = heard((BOTH,), (turned, BOTH), POLICY.clear + 0.1)
    assert isinstance(result, NotUnderstood)
    assert turned in result.why


def test_two_that_are_about_as_near_as_two_others_are_asked_again() -> None:
    assert isinstance(heard((BOTH, OTHER), apart=0.1), NotUnderstood)
    assert isinstance(heard((BOTH, OTHER), apart=1.0), Understood)


def test_one_of_them_in_the_second_look_is_not_both() -> None:
    assert isinstance(heard((BOTH,), ("bottle full", BOTH), apart=1.5), NotUnderstood)


def test_a_single_answer_nearer_than_two_is_taken_alone_or_asked_again() -> None:
    result = heard(("bottle full", BOTH), apart=3.0)
    assert isinstance(result, Understood)
    assert not result.more
