"""The commands to practise with. Wiring only, registered by `cli`."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated, Any

import typer

from voicelist.errors import printable

practise = typer.Typer(
    help="Practice for a trainee: the foot pedal, the settings.",
    no_args_is_help=True,
    rich_markup_mode=None,
)
Typed = Annotated[bool, typer.Option("--typed", help="Type instead of speaking.")]
MicName = Annotated[str | None, typer.Option("--mic", help="The microphone, by its name.")]
VoiceName = Annotated[
    str | None, typer.Option("--voice", help="hibari, system, system:ID or none.")
]
Speaker = Annotated[str | None, typer.Option("--speaker", help="The loudspeaker, by its name.")]
Plain = Annotated[
    bool,
    typer.Option(
        "--plain/--no-plain", help="One line an event and no colours: for logs, screen readers."
    ),
]
Page = Annotated[
    Path | None, typer.Option("-o", "--output", help="Write the result as a page for the wall.")
]
Seed = Annotated[int, typer.Option("--seed", min=0, help="Another one asks and slips otherwise.")]


def register(app: typer.Typer) -> None:
    """Adds the commands `rehearse` and `practise`."""
    app.command("rehearse")(rehearse_list)
    app.add_typer(practise, name="practise")


def rehearse_list(
    document: Annotated[
        Path, typer.Argument(metavar="CHECKLIST|PLAN", help="What is rehearsed, a YAML file.")
    ],
    play: Annotated[
        list[str] | None,
        typer.Option("--play", help="What the partner plays: nurse, surgeon, a role, everyone."),
    ] = None,
    slips: Annotated[
        int, typer.Option("--slips", min=0, help="So many slips on purpose, none of them told.")
    ] = 0,
    seed: Seed = 1,
    typed: Typed = False,
    listed: Annotated[
        bool, typer.Option("--listed", help="The partner speaks as the list has it from the start.")
    ] = False,
    mic: MicName = None,
    voice: VoiceName = None,
    partner_voice: Annotated[
        list[str] | None,
        typer.Option("--partner-voice", help="The partner's voice; again for more voices."),
    ] = None,
    speaker: Speaker = None,
    fast: Annotated[
        bool, typer.Option("--fast", help="Nothing is played aloud, where everyone is played.")
    ] = False,
    plain: Plain = False,
    output: Page = None,
) -> None:
    """A list with a partner who answers for others: times, what was understood, better wordings."""
    from voicelist.practice.rehearsal_sheet import rehearsal_sheet
    from voicelist.practising.rehearsal import EVERYONE, Wanted, rehearse

    chosen = tuple(play or ["surgeon"])
    wanted = Wanted(
        document,
        chosen,
        slips,
        seed,
        typed,
        not listed,
        mic,
        voice,
        tuple(partner_voice or ()),
        speaker,
        plain,
        fast and EVERYONE in chosen,
    )
    held = rehearse(wanted, _console(plain))
    where = f"{held.code}, in the practice store {held.where}"
    sheet = rehearsal_sheet(
        held.case, held.told, held.better, held.names, held.played, typed=typed, where=where
    )
    _tell(sheet, output)
    sys.exit(0 if held.told.closed == "completed" else 1)


def _console(plain: bool) -> Any:
    from rich.console import Console

    if plain:
        return Console(highlight=False, color_system=None, force_terminal=False)
    return Console(highlight=False)


def _tell(sheet: Any, output: Path | None) -> None:
    """The result on the terminal, and as a page if one is wanted."""
    from voicelist.practice.text import as_text

    typer.echo("")
    typer.echo(printable(as_text(sheet)))
    if output is not None:
        from voicelist.authoring.files import write_over
        from voicelist.practice.page import as_page

        write_over(output, as_page(sheet))
        typer.echo(f"Written: {output}")
