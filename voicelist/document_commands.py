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
checklist = typer.Typer(
    help="Checklists: a new one to fill in.", no_args_is_help=True, rich_markup_mode=None
)
plan = typer.Typer(
    help="Case plans: a new one for a checklist.", no_args_is_help=True, rich_markup_mode=None
)
draw = typer.Typer(
    help="Pictures as SVG or PNG files: pedal, pulses, pressure, incision, timeline.",
    no_args_is_help=True,
    rich_markup_mode=None,
)
CardFile = Annotated[Path, typer.Argument(help="The preference card.")]
GradeText = Annotated[str, typer.Option("--grade", help='Scale and value, such as "clinical 3".')]
PhaseName = Annotated[str, typer.Option("--phase", help="The phase.")]
Target = Annotated[
    Path, typer.Option("-o", "--output", help="The file to write, ending in .svg or .png.")
]
Output = Annotated[
    Path | None, typer.Option("-o", "--output", help="The file to write; else to the screen.")
]


def register(app: typer.Typer) -> None:
    """Adds the commands of this module to the program."""
    app.add_typer(card, name="card")
    app.add_typer(checklist, name="checklist")
    app.add_typer(plan, name="plan")
    app.add_typer(draw, name="draw")
    app.command("help")(help_of)
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


@checklist.command("new")
def checklist_new(
    output: Output = None,
    title: Annotated[str, typer.Option(help="The title that is shown and printed.")] = "",
    item: Annotated[
        list[str] | None,
        typer.Option(help='An item: "THING: GOOD / BAD", such as "suction: working / weak".'),
    ] = None,
    role: Annotated[
        list[str] | None,
        typer.Option(help='A role of this list: a name, or "endoscopy-nurse=nurse".'),
    ] = None,
) -> None:
    """A checklist with comments, to fill in; never over a file that is there."""
    from voicelist.authoring.new_checklist import DEFAULT_ID, new_checklist
    from voicelist.authoring.templates import id_of, write_document
    from voicelist.documents.models import Checklist

    own_id = DEFAULT_ID if output is None else id_of(output, "checklist")
    text = new_checklist(own_id, title, item or (), role or ())
    if output is None:
        typer.echo(text, nl=False)
        return
    write_document(output, Checklist, text)
    typer.echo(f"Written: {output}. Put your items there, then: voicelist check {output}")


@plan.command("new")
def plan_new(
    checklist: Annotated[str, typer.Option(help="The id of the checklist.")],
    output: Output = None,
    case: Annotated[str, typer.Option(help="The case code; else the file's name.")] = "",
    number: Annotated[
        int | None, typer.Option(help="The case number, where the code ends with no digits.")
    ] = None,
    eye: Annotated[str | None, typer.Option(help="left or right.")] = None,
    grade: Annotated[
        str | None, typer.Option(help='Scale and value, such as "clinical 3".')
    ] = None,
    card: Annotated[str | None, typer.Option(help="The id of the preference card.")] = None,
    lens_model: Annotated[str | None, typer.Option(help="The lens model, as spoken.")] = None,
    lens_power: Annotated[float | None, typer.Option(help="The lens power in D.")] = None,
    axis: Annotated[float | None, typer.Option(help="The axis of a toric lens, degrees.")] = None,
    planned: Annotated[
        list[str] | None, typer.Option(help='What else is planned: "KEY=WORDS".')
    ] = None,
) -> None:
    """A case plan for a checklist; never over a file that is there."""
    from voicelist.assessing import grade_said
    from voicelist.authoring.files import write_new
    from voicelist.authoring.new_plan import Given, new_plan, planned_of

    code = case or (output.stem if output is not None else "")
    if not code:
        raise UsageError("Give --case, the code of the case, or -o with a file of that name.")
    given = Given(
        code,
        checklist,
        eye,
        None if grade is None else grade_said(grade),
        card,
        lens_model,
        lens_power,
        axis,
        number,
        planned_of(planned or ()),
    )
    text = new_plan(given, output or Path("plans") / "plan.yaml")
    if output is None:
        typer.echo(text, nl=False)
        return
    write_new(output, text)
    typer.echo(f"Written: {output}. Then: voicelist check {output}")


def help_of(
    document: Annotated[Path | None, typer.Argument(help="A checklist or a case plan.")] = None,
) -> None:
    """All that may be said: in every case, and to the items of a checklist."""
    from voicelist.authoring.may_be_said import may_be_said
    from voicelist.errors import printable

    for line in may_be_said(document):
        typer.echo(printable(line))


@draw.command("pedal")
def draw_pedal(
    card: CardFile, output: Target, grade: GradeText, phase: PhaseName = "quadrant"
) -> None:
    """What the pedal gives over its travel in a phase of a card."""
    from voicelist.assessing import grade_said
    from voicelist.figures.choosing import of_pedal, settings_of

    settings, under, origin = settings_of(card, *grade_said(grade), phase)
    _draw(of_pedal(settings, phase, under, origin), output)


@draw.command("pulses")
def draw_pulses(
    card: CardFile, output: Target, grade: GradeText, phase: PhaseName = "quadrant"
) -> None:
    """Power over time in a phase of a card, pulse by pulse."""
    from voicelist.assessing import grade_said
    from voicelist.figures.choosing import of_pulses, settings_of

    _draw(of_pulses(*settings_of(card, *grade_said(grade), phase)), output)


@draw.command("pressure")
def draw_pressure(
    card: CardFile,
    output: Target,
    grade: GradeText,
    phase: PhaseName = "quadrant",
    resistance: Annotated[
        float | None, typer.Option(help="Of the irrigation line, mmHg per cc/min, as measured.")
    ] = None,
    rise_s: Annotated[
        float | None,
        typer.Option("--rise-s", help="Seconds to the card's vacuum, as measured at --rise-flow."),
    ] = None,
    rise_flow: Annotated[
        float | None, typer.Option("--rise-flow", help="That flow, cc/min.")
    ] = None,
) -> None:
    """How vacuum rises behind an occluded tip, and how pressure in the eye falls with flow."""
    from voicelist.assessing import grade_said
    from voicelist.figures.choosing import Measured, of_pressure, settings_of, site_limits

    found = settings_of(card, *grade_said(grade), phase)
    measured = Measured(resistance, rise_s, rise_flow)
    _draw(of_pressure(*found, measured, site_limits(card)), output)


@draw.command("incision")
def draw_incision(
    plan: Annotated[Path, typer.Argument(help="The case plan.")],
    output: Target,
    seen_from: Annotated[
        str, typer.Option(help="seat (the surgeon's) or front (facing the patient).")
    ] = "seat",
) -> None:
    """Main incision and side port of a plan, on the eye."""
    from voicelist.figures.choosing import plan_incision

    _draw(plan_incision(plan, seen_from), output)


@draw.command("timeline")
def draw_timeline(
    case: Annotated[str, typer.Argument(help="The case code.")],
    output: Target,
    store: Annotated[
        str | None, typer.Option(help="Another record store, as an SQLAlchemy address.")
    ] = None,
    practice: Annotated[bool, typer.Option("--practice", help="The practice store.")] = False,
) -> None:
    """A recorded case over time: calls, answers, mismatches."""
    from voicelist.figures.timeline import timeline_picture
    from voicelist.record.commands import readable_case
    from voicelist.record.verify import verify_entries
    from voicelist.record_commands import exit_if_damaged

    entries, amiss = readable_case(case, store, practice=practice)
    _draw(timeline_picture(entries, amiss), output)
    exit_if_damaged((*verify_entries(entries).problems, *amiss))


def _draw(picture: Any, output: Path) -> None:
    from voicelist.authoring.files import write_over
    from voicelist.figures.canvas import as_png, as_svg

    forms = {".svg": as_svg, ".png": as_png}
    if output.suffix not in forms:
        raise UsageError(f"{output} has to end in .svg or .png: those are drawn.")
    write_over(output, forms[output.suffix](picture))
    typer.echo(f"Written: {output}")


def schema(
    kind: Annotated[
        str | None,
        typer.Argument(help="checklist, card, plan, lexicon, sentences, limits; or record."),
    ] = None,
    output: Output = None,
) -> None:
    """The JSON Schema of a kind of document, for editors that check while you type, or of a record
    in JSON; without a kind the tables that records make, for reviews."""
    import json

    from voicelist.authoring.files import write_over
    from voicelist.documents.loading import json_schema
    from voicelist.documents.names import KINDS

    if kind is None:
        from voicelist.review.tables import dictionary_words

        typer.echo(dictionary_words())
        return
    from voicelist.record import schema as of_records

    known = next((one for one in KINDS if one == kind), None)
    if kind == of_records.NAME:
        text = of_records.shipped_schema()
    elif known is None:
        kinds = ", ".join((*KINDS, of_records.NAME))
        raise UsageError(f"There is no kind of document {kind}: choose one of {kinds}.")
    else:
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
