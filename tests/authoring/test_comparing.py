"""What differs between two cards, however their bands are cut."""

from __future__ import annotations

from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from voicelist.authoring.comparing import NOTHING, CardDifference, differences
from voicelist.documents.card import Card


def card(*bands: tuple[str, float, float, float], **more: Any) -> Card:
    """A card with a vacuum in the quadrant phase for each (scale, from, to, mmHg)."""
    grades = [
        {
            "scale": scale,
            "from": low,
            "to": high,
            "phases": {
                "quadrant": {"vacuum_mmHg": {"value": value, "control": "fixed", "tolerance": 5}}
            },
        }
        for scale, low, high, value in bands
    ]
    return Card.model_validate(
        {"format": 1, "language": "en-US", "id": "one", "grades": grades, **more}
    )


def vacuum(value: int) -> str:
    return f"{value} mmHg fixed, ± 5"


def test_bands_cut_otherwise_with_the_same_settings_do_not_differ() -> None:
    one = card(("locs3-no", 0.1, 2.4, 200), ("locs3-no", 2.4001, 6.9, 300))
    other = card(
        ("locs3-no", 0.1, 2.4, 200),
        ("locs3-no", 2.4001, 4.0, 300),
        ("locs3-no", 4.0001, 6.9, 300),
    )
    (gap,) = differences(one, other)
    assert (gap.grade, gap.second) == ("locs3-no above 4 below 4.0001", NOTHING)


def test_a_difference_is_told_for_just_the_grades_that_have_it() -> None:
    one = card(("locs3-no", 1.0, 3.0, 200))
    other = card(("locs3-no", 1.0, 1.9, 200), ("locs3-no", 2.0, 3.0, 250))
    assert differences(one, other) == (
        CardDifference(
            "locs3-no above 1.9 below 2", "quadrant", "the whole phase", "settings", NOTHING
        ),
        CardDifference("locs3-no 2 to 3", "quadrant", "vacuum", vacuum(200), vacuum(250)),
    )


def test_grades_on_different_scales_are_never_taken_for_each_other() -> None:
    found = differences(card(("clinical", 3, 3, 300)), card(("hardness", 3, 3, 300)))
    assert [(one.grade, one.first, one.second) for one in found] == [
        ("clinical 3", "settings", NOTHING),
        ("hardness 3", NOTHING, "settings"),
    ]


def test_language_and_incision_are_compared() -> None:
    found = differences(
        card(("clinical", 3, 3, 300), incision={"separation_deg": 90, "tolerance_deg": 15}),
        card(("clinical", 3, 3, 300)).model_copy(update={"language": "en-GB"}),
    )
    assert [(one.quantity, one.second) for one in found] == [
        ("main incision to side port", NOTHING),
        ("language", "en-GB"),
    ]


bounds = st.lists(st.integers(0, 40), min_size=2, max_size=8, unique=True).map(sorted)


@st.composite
def cards(draw: st.DrawFn) -> Card:
    ends = draw(bounds)
    pairs = list(zip(ends[::2], ends[1::2], strict=False))
    values = draw(st.lists(st.integers(1, 3), min_size=len(pairs), max_size=len(pairs)))
    return card(
        *(
            ("clinical", low / 10, high / 10, value)
            for (low, high), value in zip(pairs, values, strict=True)
        )
    )


@given(cards(), cards())
def test_a_difference_is_told_exactly_where_some_grade_is_set_otherwise(
    one: Card, other: Card
) -> None:
    grades = [step / 20 for step in range(81)]
    differing = [
        grade
        for grade in grades
        if one.settings_for("clinical", grade, "quadrant")
        != other.settings_for("clinical", grade, "quadrant")
    ]
    found = differences(one, other)
    assert bool(differing) == bool(found)
    swapped = differences(other, one)
    assert [(f.grade, f.quantity, f.first, f.second) for f in found] == [
        (f.grade, f.quantity, f.second, f.first) for f in swapped
    ]
