"""The commands about many cases. Wiring only, registered by `cli`."""

from __future__ import annotations

import typer

from voicelist.record_commands import print_plainly


def register(app: typer.Typer) -> None:
    """Adds `schema` and `review`."""
    app.command("schema")(schema)


def schema() -> None:
    """The tables that records make, for reviews: names, types, units, meanings."""
    from voicelist.review.tables import dictionary_words

    print_plainly(dictionary_words())
