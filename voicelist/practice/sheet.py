"""What hangs on the wall after practice: a title, facts, and tables. One content for page and text.
Roles, never people; nobody is ranked."""

from __future__ import annotations

from dataclasses import dataclass

BANNER = "PRACTICE: no record of a case"
NO_PEOPLE = "It shows what to look at again; it holds no people and ranks nobody."
NOT_TO_CONCLUDE = (
    "It shows which words work, not who works well: it holds roles and no people, ranks nobody, "
    "and what is quick here says nothing of a theatre."
)


@dataclass(frozen=True, slots=True)
class SheetPart:
    """A table with its title; `lead` says what it shows, `empty` what is said where it has no rows.
    Columns whose place is in `figures` hold numbers. Text shows `in_text` rows, None for all."""

    title: str
    lead: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    empty: str = ""
    figures: tuple[int, ...] = ()
    in_text: int | None = None


@dataclass(frozen=True, slots=True)
class SheetPicture:
    """A picture, with its title in it: `svg` is markup."""

    svg: str


@dataclass(frozen=True, slots=True)
class WallSheet:
    """`facts` are names with values, `notes` what is to be known besides."""

    title: str
    facts: tuple[tuple[str, str], ...]
    parts: tuple[SheetPart, ...]
    pictures: tuple[SheetPicture, ...] = ()
    notes: tuple[str, ...] = ()


def seconds_words(seconds: float) -> str:
    """ "4.2 s", "1 min 05 s"."""
    whole = round(seconds)
    if whole < 60:
        return f"{seconds:.1f} s"
    return f"{whole // 60} min {whole % 60:02d} s"
