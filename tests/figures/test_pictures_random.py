"""Whatever a valid card holds and whatever things are called, a picture is drawn or refused."""

from __future__ import annotations

import re
import warnings
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given
from hypothesis import settings as effort
from hypothesis import strategies as st

from tests.figures.drawn import Drawn
from voicelist.documents.card import Settings
from voicelist.documents.names import PHASES
from voicelist.documents.plan import IncisionPlan
from voicelist.errors import UsageError
from voicelist.figures.canvas import Picture, as_inline_svg, as_svg
from voicelist.figures.choosing import Measured, of_incision, of_pedal, of_pressure, of_pulses

amounts = st.one_of(st.just(0.0), st.floats(1e-6, 1e6), st.integers(0, 700).map(float))


@st.composite
def settings_of_a_quantity(draw: st.DrawFn, most: float = 1e6) -> dict[str, Any]:
    value = min(draw(amounts), most)
    found: dict[str, Any] = {"value": value, "tolerance": draw(amounts)}
    found["control"] = draw(st.sampled_from(["linear", "fixed"]))
    if found["control"] == "linear" and draw(st.booleans()):
        found["minimum"] = value * draw(st.floats(0, 1))
    return found


@st.composite
def profiles(draw: st.DrawFn) -> Settings:
    found: dict[str, Any] = {"power_percent": draw(settings_of_a_quantity(100.0))}
    for quantity in ("vacuum_mmHg", "flow_cc_per_min", "bottle_cm", "infusion_mmHg"):
        if draw(st.booleans()):
            found[quantity] = draw(settings_of_a_quantity())
    if draw(st.booleans()):
        kind = draw(st.sampled_from(["pulse", "burst"]))
        found["modulation"] = {"kind": kind, "pulses_per_s": draw(st.floats(0.1, 5000))}
        if draw(st.booleans()):
            found["modulation"]["duty_percent"] = draw(st.floats(0.1, 100))
        if draw(st.booleans()):
            found["modulation"]["on_time_ms"] = draw(st.floats(0.1, 5000))
    return Settings.model_validate(found)


@given(profiles(), st.sampled_from(PHASES))
@effort(max_examples=40, deadline=None)
def test_any_profile_is_drawn_or_refused_in_a_sentence(card: Settings, phase: str) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        for draw in (
            lambda: of_pedal(card, phase, "under", "origin"),
            lambda: of_pulses(card, "under", "origin"),
            lambda: of_pressure(card, "under", "origin", Measured()),
        ):
            picture = drawn_or_refused(draw)
            if picture is not None:
                found = Drawn.of(as_svg(picture))
                assert "nan" not in found.root.attrib["viewBox"]
                assert not re.search(r"\b(nan|inf)\b", found.whole_text)


def drawn_or_refused(draw: Callable[[], Picture]) -> Picture | None:
    """None where the refusal is a sentence that a person can read."""
    try:
        return draw()
    except UsageError as refused:
        told = str(refused)
    return pytest.fail(told) if not told.endswith(".") else None


@given(st.floats(0, 359.99), st.floats(0, 359.99), st.sampled_from(["left", "right"]))
@effort(max_examples=25, deadline=None)
def test_any_two_incisions_are_drawn(main: float, port: float, eye: str) -> None:
    plan = IncisionPlan(main_deg=main, side_port_deg=port)
    for seen in ("seat", "front"):
        picture = of_incision(eye, plan, "under", "origin", seen_from=seen)
        assert "nan" not in as_svg(picture).decode()


@pytest.mark.parametrize(
    "name", ["a $x$ and $\\frac{", "眼の手術", "a<b & 'c'", "\x07bell", "%s {x}"]
)
def test_a_name_is_written_as_it_is(name: str) -> None:
    card = Settings.model_validate(
        {"power_percent": {"value": 40.0, "control": "linear", "tolerance": 5.0}}
    )
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        svg = as_svg(of_pedal(card, "chop", name, "origin"))
        inline = as_inline_svg(of_pedal(card, "chop", name, "origin"), "one")
    shown = name.replace("\x07", "")
    assert shown in Drawn.of(svg).texts
    assert "a<b" not in inline
