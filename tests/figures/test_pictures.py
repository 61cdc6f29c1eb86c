"""What is drawn is what was given: places and numbers in the SVG against the input."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given
from hypothesis import settings as effort
from hypothesis import strategies as st

from tests.figures.drawn import Drawn
from tests.figures.test_series import QUADRANT, modulation, setting, settings
from voicelist import CAUTION
from voicelist.clinical.limits import Limits
from voicelist.documents.plan import IncisionPlan
from voicelist.errors import UsageError
from voicelist.figures.canvas import Picture, as_inline_svg, as_png, as_svg
from voicelist.figures.choosing import Measured, of_incision, of_pedal, of_pressure, of_pulses

UNDER, ORIGIN = "card x, grade clinical 2, quadrant", "Figures: the preference card x."
FULL = settings(
    power_percent=setting(20, "linear"),
    vacuum_mmHg=setting(300, "fixed"),
    flow_cc_per_min=setting(30, "fixed"),
    bottle_cm=setting(75, "fixed"),
    modulation={"kind": "pulse", "pulses_per_s": 40.0, "on_time_ms": 6.0},
)


def pedal(card: Any = FULL, phase: str = "quadrant") -> Picture:
    return of_pedal(card, phase, UNDER, ORIGIN)


def pulses(card: Any = FULL) -> Picture:
    return of_pulses(card, UNDER, ORIGIN)


def pressure(card: Any = FULL, resistance: float | None = 0.5) -> Picture:
    return of_pressure(card, UNDER, ORIGIN, Measured(resistance, 2.0, 40.0))


def incision(
    main: float = 180, port: float = 90, eye: str = "right", seen: str = "seat"
) -> Picture:
    plan = IncisionPlan(main_deg=float(main), side_port_deg=float(port))
    return of_incision(eye, plan, "plan of case x", "Figures: the plan of case x.", seen_from=seen)


def drawn(picture: Picture) -> Drawn:
    return Drawn.of(as_svg(picture))


EVERY: list[Callable[[], Picture]] = [pedal, pulses, pressure, incision]
every_picture = pytest.mark.parametrize("make", EVERY, ids=lambda make: make.__name__)


@every_picture
def test_the_same_picture_is_the_same_bytes(make: Callable[[], Picture]) -> None:
    assert as_svg(make()) == as_svg(make())
    assert as_png(make()) == as_png(make())


@every_picture
def test_every_picture_carries_caution_origin_and_a_text_in_its_place(
    make: Callable[[], Picture],
) -> None:
    found = drawn(make())
    assert CAUTION in found.whole_text
    assert "Figures: the " in found.whole_text
    assert found.root.attrib["role"] == "img"
    assert found.told("title") in found.whole_text
    assert len(found.told("desc").split()) > 15
    assert found.root.attrib["aria-labelledby"].split() == [
        one for one in found.ids() if one.endswith(("-title", "-desc"))
    ]


@every_picture
def test_a_picture_names_no_date_no_address_and_no_id_twice(make: Callable[[], Picture]) -> None:
    svg = as_svg(make()).decode()
    assert re.findall(r"https?://[^\"]*", svg) == ["http://www.w3.org/2000/svg"]
    assert not re.search(r"url\([^#]", svg)
    assert not re.search(r"20\d\d-\d\d|[Mm]atplotlib v", svg)
    ids = Drawn.of(svg.encode()).ids()
    assert len(ids) == len(set(ids))


@pytest.mark.parametrize("make", [*EVERY, lambda: pressure(resistance=2.0)])
def test_every_sign_and_hatch_that_a_picture_uses_is_in_it(make: Callable[[], Picture]) -> None:
    svg = as_svg(make()).decode()
    used = re.findall(r'href="#([^"]+)"|url\(#([^)]+)\)', svg)
    assert {one or other for one, other in used} <= set(Drawn.of(svg.encode()).ids())


@every_picture
def test_a_picture_within_a_page_has_its_own_ids_and_no_size(make: Callable[[], Picture]) -> None:
    inline = as_inline_svg(make(), "one")
    assert "http" not in inline
    assert not re.search(r"<svg[^>]* (width|height)=", inline)
    assert set(re.findall(r' id="([^"]*?)-', inline)) == {"one"}


@every_picture
def test_a_png_has_four_digits_of_pixels_across(make: Callable[[], Picture]) -> None:
    png = as_png(make())
    assert png.startswith(b"\x89PNG\r\n")
    assert int.from_bytes(png[16:20], "big") == 1440


def test_the_pedals_lines_reach_the_cards_values() -> None:
    found = drawn(pedal())
    assert found.heights("vacuum_mmHg") == pytest.approx([0, 0, 300, 300, 300], abs=0.5)
    assert found.heights("flow_cc_per_min") == pytest.approx([0, 0, 30, 30, 30], abs=0.05)
    assert found.heights("power_percent") == pytest.approx([0, 0, 20], abs=0.05)
    for text in ("mmHg", "cc/min", "%", "300 mmHg fixed", "0 to 20 % linear", "bottle 75 cm"):
        assert text in found.whole_text
    for position in range(4):
        assert f"position {position}" in found.whole_text


def test_a_phase_without_ultrasound_is_drawn_to_position_2() -> None:
    found = drawn(pedal(settings(vacuum_mmHg=setting(400, "linear", 100.0)), "cortex"))
    assert "position 3" not in found.whole_text
    assert "position 3 is not used" in found.told("desc")
    assert found.heights("vacuum_mmHg") == pytest.approx([0, 0, 100, 400], abs=0.5)
    assert "100 to 400 mmHg linear" in found.whole_text


@given(st.integers(1, 600), st.integers(1, 100))
@effort(max_examples=15, deadline=None)
def test_any_value_is_drawn_at_its_own_height(vacuum: int, power: int) -> None:
    card = settings(vacuum_mmHg=setting(vacuum, "fixed"), power_percent=setting(power, "linear"))
    found = drawn(pedal(card))
    assert found.heights("vacuum_mmHg")[-1] == pytest.approx(vacuum, rel=0.01)
    assert found.heights("power_percent")[-1] == pytest.approx(power, rel=0.01)
    assert f"{vacuum} mmHg" in found.whole_text


def test_linear_and_fixed_are_drawn_differently() -> None:
    linear = drawn(pedal(settings(vacuum_mmHg=setting(300, "linear"))))
    fixed = drawn(pedal(settings(vacuum_mmHg=setting(300, "fixed"))))
    assert linear.points("vacuum_mmHg") != fixed.points("vacuum_mmHg")
    assert "linear" in linear.whole_text
    assert "fixed" not in linear.whole_text


def test_pulses_are_drawn_at_their_times_and_power() -> None:
    found = drawn(pulses())
    corners = found.data("power")
    assert corners[:5] == [
        pytest.approx(one, abs=0.1) for one in ((0, 0), (0, 20), (6, 20), (6, 0), (25, 0))
    ]
    assert found.data("mean")[0][1] == pytest.approx(4.8, abs=0.05)
    for text in ("time, ms", "power, %", "period 25 ms", "on 6 ms", "off 19 ms", "mean 4.8 %"):
        assert text in found.whole_text
    assert "duty 24%" in found.told("desc")
    assert "a count on a machine's screen may be something else" in found.whole_text


def test_a_longer_pulse_moves_the_drawing() -> None:
    longer = FULL.model_copy(
        update={"modulation": modulation(kind="pulse", pulses_per_s=40.0, on_time_ms=10.0)}
    )
    assert drawn(pulses(longer)).data("power")[2][0] == pytest.approx(10, abs=0.1)
    assert "off 15 ms" in drawn(pulses(longer)).whole_text


def test_what_a_card_leaves_open_is_told_below_the_pulses() -> None:
    rate_only = FULL.model_copy(update={"modulation": modulation(kind="pulse", pulses_per_s=30.0)})
    assert "gives no duty" in drawn(pulses(rate_only)).whole_text
    assert "nothing of pulses" in drawn(pulses(QUADRANT)).whole_text


@pytest.mark.parametrize("waits", [True, False])
def test_pulses_that_wait_for_an_occlusion_say_so(waits: bool) -> None:
    short = modulation(kind="burst", pulses_per_s=25.0, on_time_ms=10.0, on_occlusion=waits)
    found = drawn(pulses(FULL.model_copy(update={"modulation": short})))
    assert ("wait until the tip is occluded" in found.whole_text) == waits


def test_a_pump_without_a_set_flow_has_no_such_rise() -> None:
    with pytest.raises(UsageError, match="venturi"):
        pressure(FULL.model_copy(update={"pump": "venturi"}))


def test_vacuum_and_pressure_are_drawn_where_the_models_have_them() -> None:
    found = drawn(pressure())
    # From memory, 2 s at 40 cc/min: at 30 cc/min 2.667 s to 300 mmHg.
    assert found.data("vacuum-30")[1] == pytest.approx((8 / 3, 300), rel=0.01)
    assert found.data("vacuum-60")[1] == pytest.approx((4 / 3, 300), rel=0.01)
    # 75 cm are about 55 mmHg (The Basics of Fluidics, Nov/Dec 2012).
    assert found.data("eye-0")[0] == pytest.approx((0, 55.2), abs=0.4)
    assert found.data("eye-15")[-1] == pytest.approx((60, 55.2 - 0.5 * 75), abs=0.4)
    assert found.data("flow")[0][0] == pytest.approx(30, abs=0.2)
    for text in ("vacuum, mmHg", "pressure in the eye, mmHg", "aspiration flow, cc/min", ", s"):
        assert text in found.whole_text
    assert "75 cm is taken as 55.2 mmHg" in found.whole_text


def test_lines_are_told_apart_without_colour() -> None:
    found = drawn(pressure())
    lines = ("vacuum-60", "vacuum-30", "vacuum-15")
    dashes = [re.findall(r"stroke-dasharray: ([^;]*)", found.style(one)) for one in lines]
    assert len({str(one) for one in dashes}) == 3
    assert found.style("eye-0") != found.style("eye-15")
    for flow in ("60 cc/min", "30 cc/min", "15 cc/min"):
        assert flow in found.whole_text


def test_no_colour_means_anything() -> None:
    for make in EVERY:
        colours = set(re.findall(r"#([0-9a-f]{6})\b", as_svg(make()).decode()))
        for colour in colours:
            red, green, blue = (int(colour[at : at + 2], 16) for at in (0, 2, 4))
            assert max(red, green, blue) - min(red, green, blue) <= 16, "as good as grey"


def test_pressure_that_falls_below_nothing_is_hatched_and_named() -> None:
    assert "inflow cannot keep up" in drawn(pressure(resistance=2.0)).whole_text
    assert "inflow cannot keep up" not in drawn(pressure(resistance=0.2)).whole_text


def test_what_nobody_measured_is_from_the_limits_and_said() -> None:
    found = drawn(of_pressure(FULL, UNDER, ORIGIN, Measured()))
    assert "4 s to 400 mmHg at 20 cc/min, from the limits" in found.whole_text
    # From memory, 4 s at 20 cc/min to 400 mmHg: at 30 cc/min 2 s to 300 mmHg.
    assert found.data("vacuum-30")[1] == pytest.approx((2, 300), rel=0.01)
    assert "0.5 mmHg per cc/min, from the limits; measure yours" in found.whole_text
    own = Limits(line_resistance_mmHg_min_per_cc=1.0)
    falls = drawn(of_pressure(FULL, UNDER, ORIGIN, Measured(), own)).data("eye-0")
    assert falls[-1] == pytest.approx((60, 55.2 - 60), abs=0.5)


def test_without_bottle_or_infusion_the_pressure_in_the_eye_is_not_drawn() -> None:
    no_bottle = drawn(pressure(QUADRANT))
    assert "the card has no bottle or infusion" in no_bottle.whole_text
    assert not [one for one in no_bottle.ids() if "line-eye" in one]


def middle(points: list[tuple[float, float]]) -> tuple[float, float]:
    return points[len(points) // 2]


def angle_of(found: Drawn, line: str) -> float:
    """The position of an incision in the picture, counter-clockwise from the right."""
    x, y = middle(found.points(line))
    left, top, right, bottom = _box(found)
    return math.degrees(math.atan2((top + bottom) / 2 - y, x - (left + right) / 2)) % 360


def _box(found: Drawn) -> tuple[float, float, float, float]:
    """The eye itself: the first shape of its axes, a circle."""
    (axes,) = [one for one in found.root.iter() if one.get("id", "").endswith("-axes_1")]
    ring = next(one for one in axes.iter() if one.tag.endswith("path"))
    numbers = [float(one) for one in re.findall(r"-?[\d.]+", ring.attrib["d"])]
    xs, ys = numbers[::2], numbers[1::2]
    return min(xs), min(ys), max(xs), max(ys)


@pytest.mark.parametrize(
    ("main", "port", "eye", "seen", "at_main", "at_port"),
    [
        (180, 90, "right", "front", 180, 90),
        (0, 270, "left", "front", 0, 270),
        (180, 90, "right", "seat", 270, 180),
        (0, 270, "left", "seat", 270, 180),
        (40, 130, "right", "seat", 270, 0),
        (190, 280, "left", "front", 190, 280),
    ],
)
def test_incisions_stand_at_their_degrees(
    main: float, port: float, eye: str, seen: str, at_main: float, at_port: float
) -> None:
    found = drawn(incision(main, port, eye, seen))
    assert angle_of(found, "main") == pytest.approx(at_main, abs=0.5)
    turn = (angle_of(found, "side-port") - at_port + 180) % 360 - 180
    assert turn == pytest.approx(0, abs=0.5)
    assert f"main incision {main}°" in found.whole_text
    assert f"side port {port}°" in found.whole_text
    assert f"{eye.capitalize()} eye" in found.whole_text


def test_the_picture_of_incisions_says_all_of_it_in_words() -> None:
    told = drawn(incision(0, 270, "left")).told("desc")
    for part in ("left eye", "0 degrees (axis 180, 3 o'clock", "270 degrees", "temporal"):
        assert part in told
    assert "left hand" in told
    assert "90 degrees apart" in told


def test_both_views_give_the_degrees_of_the_standard() -> None:
    for seen in ("seat", "front"):
        found = drawn(incision(seen=seen))
        assert {f"{degrees}°" for degrees in range(0, 360, 30)} <= set(found.texts)
        assert "ISO 8429" in found.whole_text
        for side in ("temporal", "nasal", "superior", "inferior"):
            assert side in found.texts
