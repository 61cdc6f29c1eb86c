"""The commands about many cases. Wiring only, registered by `cli`."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from voicelist.record_commands import Practice, print_plainly

_ASK = (
    "One question: time, sections, asked-again, phrases, talk, wordings, mismatches, reported, "
    "prompts, left, time-out or change. Without it, all of them."
)


def register(app: typer.Typer) -> None:
    """Adds `review`."""
    app.command("review")(review)


def review(
    where: Annotated[
        str | None,
        typer.Argument(
            metavar="[STORE or FOLDER]",
            help="An SQLAlchemy address, a file of SQLite, a folder of tables, or a server.",
        ),
    ] = None,
    ask: Annotated[str | None, typer.Option(help=_ASK)] = None,
    by: Annotated[
        str | None, typer.Option(help="week, theatre, checklist, item or role: what a row is.")
    ] = None,
    since: Annotated[
        str | None, typer.Option(metavar="DATE", help="Cases that began on that day or later.")
    ] = None,
    practice: Practice = False,
    at_least: Annotated[int, typer.Option(min=1, help="Groups of fewer cases are not shown.")] = 10,
    output: Annotated[
        Path | None,
        typer.Option("-o", "--output", help="A folder for the page, CSV and Parquet files."),
    ] = None,
) -> None:
    """Many cases together: what takes time, what is asked again, what did not fit. Nobody is
    ranked. Exit 1 if a case is not counted, such as one that does not verify: it is named."""
    from voicelist.review.command import ReviewWanted, write_review
    from voicelist.review.command import review as reviewed
    from voicelist.review.plain import left_out_words

    found = reviewed(ReviewWanted(where, ask, since, by, practice, at_least))
    if output is None:
        for line in found.lines():
            print_plainly(line)
    else:
        for path in write_review(output, found):
            print_plainly(f"Written: {path}")
    for line in left_out_words(found.left_out):
        typer.echo(line, err=True)
    sys.exit(1 if found.left_out else 0)
