"""What was said of a profile beside the card, as the report draws it."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.figures.drawn import Drawn
from tests.record.cases import keep, opened, profile, stepped_store
from voicelist.figures.canvas import as_svg
from voicelist.figures.profile import profile_picture
from voicelist.figures.said import SaidRow, said_rows
from voicelist.record.view import ItemView, case_view


@pytest.fixture
def item(tmp_path: Path) -> ItemView:
    """Vacuum 500 corrected to 350, flow 40 accepted where the card says 32."""
    store = stepped_store(tmp_path / "records.sqlite3")
    view = case_view(keep(store, "case-1", (opened(), *profile())))
    return next(one for one in view.items if one.id == "quadrant")


def row(**parts: object) -> SaidRow:
    known = {
        "quantity": "vacuum_mmHg",
        "unit": "mmHg",
        "card": 350.0,
        "tolerance": 25.0,
        "said": 350.0,
        "earlier": (),
        "controls": ("", "fixed"),
        "accepted": False,
    }
    return SaidRow(**{**known, **parts})  # type: ignore[arg-type] # filled from a plain table


def drawn(*rows: SaidRow) -> Drawn:
    return Drawn.of(as_svg(profile_picture("the quadrants", rows, "case 1", "Figures: x.", "")))


def test_the_rows_hold_what_was_said_before_and_at_the_end(item: ItemView) -> None:
    power, vacuum, flow = said_rows(item)
    assert (power.said, power.card, power.tolerance, power.earlier) == (40, 40, 5, ())
    assert (vacuum.said, vacuum.earlier, vacuum.accepted, vacuum.fits) == (350, (500,), False, True)
    assert (flow.said, flow.card, flow.accepted, flow.fits) == (40, 32, True, False)
    assert [one.unit for one in (power, vacuum, flow)] == ["%", "mmHg", "cc/min"]


def test_an_item_without_a_profile_has_no_rows(item: ItemView, tmp_path: Path) -> None:
    store = stepped_store(tmp_path / "other.sqlite3")
    view = case_view(keep(store, "case-2", (opened(),)))
    assert all(said_rows(one) == () for one in view.items)
    assert item.values


@pytest.mark.parametrize(("said", "verdict"), [(375, "within"), (376, "outside"), (325, "within")])
def test_the_edge_of_the_tolerance_still_fits(said: float, verdict: str) -> None:
    assert f"{verdict} tolerance" in drawn(row(said=float(said))).whole_text


def test_the_cards_line_stands_at_the_cards_value() -> None:
    found = drawn(row(card=333.0, said=400.0))
    axes_x = found.data_x("card-vacuum_mmHg")
    assert axes_x[0] == pytest.approx(333, abs=1)
    assert "said 400, card 333" in found.whole_text
    assert "mmHg" in found.texts


def test_an_acceptance_and_another_control_are_named() -> None:
    found = drawn(row(said=500.0, accepted=True, controls=("linear", "fixed")))
    assert "accepted linear, card fixed" in found.whole_text
    assert "accepted, linear, card fixed" in found.told("desc")
    assert "outside" not in found.whole_text


def test_everything_that_was_said_is_within_its_row() -> None:
    low, high = row(said=10.0, earlier=(900.0, 0.0)).room
    assert low == 0
    assert high > 900
    exact = row(card=0.0, tolerance=0.0, said=0.0)
    assert exact.room[0] < exact.room[1]
