"""The commands that make, show and compare documents. Wiring only, as in `cli`."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Annotated, Any

import typer

from voicelist.errors import UsageError

card = typer.Typer(
    help="Preference cards: a new one, one as tables, two compared.",
    no_args_is_help=True,
    rich_markup_mode=None,
)
Output = Annotated[
    Path | None, typer.Option("-o", "--output", help="The file to write; else to the screen.")
]


def register(app: typer.Typer) -> None:
    """Adds the commands of this module to the program."""
    app.add_typer(card, name="card")
    app.command("schema")(schema)


@card.command("new")
def card_new(
    output: Output = None,
    scale: Annotated[str, typer.Option(help="The scale of its grades.")] = "clinical",
) -> None:
    """A complete card with comments, to fill in; never over a file that is there."""
    from voicelist.authoring.new import new_card, write_card

    if output is None:
        typer.echo(new_card(scale=scale), nl=False)
        return
    write_card(output, scale)
    typer.echo(f"Written: {output}. Put your figures where a 0 stands, then: voicelist check")


@card.command("show")
def card_show(path: Annotated[Path, typer.Argument(help="A card, a YAML file.")]) -> None:
    """A card as tables, one for each band of grades."""
    from voicelist.authoring.tables import shown_card

    _show(shown_card(path))


@card.command("compare")
def card_compare(
    first: Annotated[Path, typer.Argument(help="A card.")],
    second: Annotated[Path, typer.Argument(help="Another card.")],
) -> None:
    """What differs between two cards, by grade, phase and quantity."""
    from voicelist.authoring.tables import compared_cards

    _show(compared_cards(first, second))


def schema(
    kind: Annotated[str, typer.Argument(help="checklist, card, plan, lexicon or sentences.")],
    output: Output = None,
) -> None:
    """The JSON Schema of a kind of document, for editors that check while you type."""
    import json

    from voicelist.authoring.files import write_over
    from voicelist.documents.loading import json_schema
    from voicelist.documents.names import KINDS

    known = next((one for one in KINDS if one == kind), None)
    if known is None:
        raise UsageError(f"There is no kind of document {kind}: choose one of {', '.join(KINDS)}.")
    text = json.dumps(json_schema(known), indent=2, ensure_ascii=False) + "\n"
    if output is None:
        typer.echo(text, nl=False)
        return
    write_over(output, text.encode())
    typer.echo(f"Written: {output}")


def _show(parts: Iterable[Any]) -> None:
    from rich.console import Console

    console = Console(highlight=False)
    for part in parts:
        console.print(part)
