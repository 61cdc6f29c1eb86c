"""The commands to practise with. Wiring only, registered by `cli`."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated, Any

import typer

from voicelist.errors import UsageError, printable

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
    from voicelist.practising.rehearsal import EVERYONE, RehearsalWanted, rehearse

    chosen = tuple(play or ["surgeon"])
    if fast and EVERYONE not in chosen:
        raise UsageError("--fast is for --play everyone: others have to hear the partner.")
    wanted = RehearsalWanted(
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
        fast,
    )
    held = rehearse(wanted, _console(plain))
    where = f"{held.code}, in the practice store"
    sheet = rehearsal_sheet(
        held.case, held.told, held.better, held.names, held.played, typed=typed, where=where
    )
    _tell(sheet, output)
    typer.echo(printable(f"The record: voicelist record show {held.code} --practice"))
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


@practise.command("pedal")
def practise_pedal(
    card: Annotated[
        Path | None, typer.Argument(help="A preference card; without it the invented one.")
    ] = None,
    grade: Annotated[str, typer.Option(help='Scale and value, such as "clinical 3".')] = (
        "clinical 3"
    ),
    phase: Annotated[
        str | None, typer.Option(help="One phase; without it all that the card has.")
    ] = None,
    questions: Annotated[int, typer.Option(min=1, help="So many at most.")] = 12,
    seed: Seed = 1,
    typed: Typed = False,
    mic: MicName = None,
    voice: VoiceName = None,
    speaker: Speaker = None,
    plain: Plain = False,
    output: Page = None,
) -> None:
    """Positions, modes, travel and sounds of the foot pedal, asked aloud; drawn, scored, timed."""
    from voicelist.places import shipped
    from voicelist.practice.quiz_sheet import pedal_sheet
    from voicelist.practising import quizzes
    from voicelist.practising.asking import HowAsked

    file = card or shipped("grammars") / "cards" / "demo-surgeon.yaml"
    how = HowAsked(typed, mic, None, voice, speaker, plain)
    console = _console(plain)
    held = quizzes.practise_pedal(file, grade, phase, questions, seed, how, console)
    _draw(held, plain)
    pictures = quizzes.pedal_pictures(held) if output is not None else ()
    _tell(pedal_sheet(held.score, held.card, held.grade, pictures), output)


@practise.command("settings")
def practise_settings(
    plan: Annotated[
        Path | None, typer.Argument(help="A case plan; without it an invented case.")
    ] = None,
    typed: Typed = False,
    mic: MicName = None,
    voice: VoiceName = None,
    speaker: Speaker = None,
    plain: Plain = False,
    output: Page = None,
) -> None:
    """A case read aloud and its settings asked phase by phase, judged as a session judges them."""
    from voicelist.places import shipped
    from voicelist.practice.quiz_sheet import settings_sheet
    from voicelist.practising import quizzes
    from voicelist.practising.asking import HowAsked

    file = plan or shipped("grammars") / "plans" / "practice-007.yaml"
    how = HowAsked(typed, mic, None, voice, speaker, plain)
    held = quizzes.practise_settings(file, how, _console(plain))
    _tell(settings_sheet(held.score, held.bundle), output)


def _draw(held: Any, plain: bool) -> None:
    """Travel against output of each phase that was asked about, in letters."""
    from voicelist.figures.series import pedal_travel
    from voicelist.practice.travel_text import travel_lines

    for phase, settings in held.asked_about().items():
        typer.echo("")
        typer.echo(f"Travel of the pedal in {phase}, and what it gives:")
        for line in travel_lines(pedal_travel(phase, settings), plain=plain):
            typer.echo(line)
