"""The commands about records. Wiring only, registered by `cli`."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Annotated, NoReturn

import typer

from voicelist.errors import UsageError, printable

StoreUrl = Annotated[
    str | None, typer.Option("--store", help="Another record store, as an SQLAlchemy address.")
]
Practice = Annotated[bool, typer.Option("--practice", help="The practice store.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print JSON.")]

record = typer.Typer(
    help="Records of cases: list, show, verify, export, amend.",
    no_args_is_help=True,
    rich_markup_mode=None,
)


def register(app: typer.Typer) -> None:
    """Adds the group `record`."""
    app.add_typer(record, name="record")


@record.command("list")
def record_list(
    store: StoreUrl = None,
    practice: Practice = False,
    as_json: AsJson = False,
    every: Annotated[
        bool, typer.Option("--all", help="All cases in the table, not the newest 100 alone.")
    ] = False,
    oldest: Annotated[
        int | None, typer.Option(min=1, help="Only so many, the oldest, and their one hash.")
    ] = None,
) -> None:
    """Cases, newest first, and one hash for the heads of all. None is verified here."""
    from voicelist.record.commands import list_cases

    print_plainly(list_cases(store, practice=practice, as_json=as_json, oldest=oldest, every=every))


@record.command("show")
def record_show(
    case: Annotated[str, typer.Argument(help="The case code.")],
    store: StoreUrl = None,
    practice: Practice = False,
) -> None:
    """One case as text; exit 1 if it does not verify."""
    from voicelist.record.commands import export_case

    exported = export_case(case, "text", store, practice=practice)
    print_plainly(exported.data.decode())
    sys.exit(1 if exported.problems else 0)


@record.command("verify")
def record_verify(
    case: Annotated[
        str | None, typer.Argument(help="A case code, or an exported journal file.")
    ] = None,
    head: Annotated[str | None, typer.Option(help="The head that was kept elsewhere.")] = None,
    every: Annotated[bool, typer.Option("--all", help="Every case of the store.")] = False,
    store: StoreUrl = None,
    practice: Practice = False,
) -> None:
    """Recompute every link of a record; exit 1 if one does not hold."""
    from voicelist.record.commands import verify_all, verify_case

    if every == (case is not None) or (every and head is not None):
        raise UsageError("Name a case or a file (and its --head), or give --all alone.")
    if case is not None:
        verdicts = iter([verify_case(case, head, store, practice=practice)])
    else:
        verdicts = verify_all(store, practice=practice)
    ok = True
    for what, verdict in verdicts:
        ok = ok and verdict.ok
        for problem in verdict.problems:
            print_plainly(f"{what}: {problem}")
        print_plainly(f"{what}: {verdict.words}")
    sys.exit(0 if ok else 1)


@record.command("export")
def record_export(
    output: Annotated[
        Path, typer.Option("-o", "--output", help="The file to write; of parquet, the folder.")
    ],
    case: Annotated[str | None, typer.Argument(help="The case code.")] = None,
    form: Annotated[
        str, typer.Option("--format", help="journal, csv, json, html, text or parquet.")
    ] = "html",
    every: Annotated[
        bool, typer.Option("--all", help="Every case of the store; parquet alone.")
    ] = False,
    store: StoreUrl = None,
    practice: Practice = False,
) -> None:
    """Write a case to a file, for its owner alone; exit 1 if it does not verify. `parquet` adds
    cases to a folder of tables, for reviews."""
    from voicelist.authoring.files import write_over
    from voicelist.figures.inline import report_figures
    from voicelist.record.commands import export_case

    if every == (case is not None) or (every and form != "parquet"):
        raise UsageError("Name a case, or give --all with --format parquet.")
    if form == "parquet":
        _export_tables(output, case, store, practice)
    assert case is not None, "checked above"
    exported = export_case(case, form, store, practice=practice, figures=report_figures)
    write_over(output, exported.data, private=True)
    typer.echo(f"Written: {output}")
    exit_if_damaged(exported.problems)


def _export_tables(folder: Path, case: str | None, store: str | None, practice: bool) -> NoReturn:
    from voicelist.review.countable import cases_of
    from voicelist.review.exporting import export_folder

    written = export_folder(folder, cases_of(store, practice=practice), case)
    typer.echo(f"Written: {folder}. {written.words}")
    for one in written.left_out:
        typer.echo(printable(f"Left out: {one.case}. {one.why}"), err=True)
    sys.exit(1 if written.left_out else 0)


@record.command("amend")
def record_amend(
    case: Annotated[str, typer.Argument(help="The case code.")],
    entry: Annotated[str, typer.Argument(help="What is entered late; no names of people.")],
    reason: Annotated[str, typer.Option(help="Why it is entered late.")],
    role: Annotated[str, typer.Option(help="Who enters it, such as team-lead.")],
    item: Annotated[str, typer.Option(help="The item that it is about, by its id.")] = "",
    store: StoreUrl = None,
    practice: Practice = False,
) -> None:
    """A late entry to a case that has ended: added to the chain, shown apart, no answer."""
    from voicelist.documents.names import ROLES
    from voicelist.record.commands import amend_case
    from voicelist.session.team_records import Amended

    if role not in ROLES:
        raise UsageError(f"There is no role {role}: choose one of {', '.join(ROLES)}.")
    head = amend_case(case, Amended(entry, reason, role, item), store, practice=practice)
    print_plainly(f"Entered late in {case}. New head {head}")


def print_plainly(text: str) -> None:
    """Prints what a record says, which may steer no terminal."""
    typer.echo(printable(text))


def exit_if_damaged(problems: Sequence[str]) -> None:
    """Says why a record does not verify, and ends with exit code 1."""
    for problem in problems:
        typer.echo(printable(f"This record does not verify. {problem}"), err=True)
    if problems:
        sys.exit(1)
