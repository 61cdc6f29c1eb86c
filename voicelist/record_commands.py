"""The commands about records. Wiring only, registered by `cli`."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from datetime import date
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
    help="Records of cases: list, show, verify, export, amend, prove, sign, erase, wordings.",
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
        str | None, typer.Argument(help="A case code, an exported journal file, or a proof.")
    ] = None,
    head: Annotated[
        str | None, typer.Option(help="The head, or tree head, that was kept elsewhere.")
    ] = None,
    signed: Annotated[
        Path | None, typer.Option(help="A signed tree head instead, as record sign writes it.")
    ] = None,
    by: Annotated[str | None, typer.Option(help="The public key that it is signed by.")] = None,
    every: Annotated[bool, typer.Option("--all", help="Every case of the store.")] = False,
    store: StoreUrl = None,
    practice: Practice = False,
) -> None:
    """Recompute every link of a record; exit 1 if one does not hold, or if a file is given without
    its head: then its end may have been cut off."""
    from voicelist.record.commands import head_signed, verify_all, verify_case

    if (signed is None) != (by is None) or None not in (signed, head):
        raise UsageError("Give --signed and --by together, or --head.")
    if every == (case is not None) or (every and (head, signed) != (None, None)):
        raise UsageError("Name a case or a file (and its --head), or give --all alone.")
    if signed is not None and by is not None:
        said = head_signed(signed, by)
        print_plainly(f"{said.by} signed {said.size} events of {said.case}.")
        head = said.tree_head
    if case is not None:
        verdicts = iter([verify_case(case, head, store, practice=practice)])
    else:
        verdicts = verify_all(store, practice=practice)
    ok = True
    for what, verdict in verdicts:
        ok = ok and verdict.ok and verdict.end_verified
        for problem in verdict.problems or (verdict.since,) * bool(verdict.since):
            print_plainly(f"{what}: {problem}")
        print_plainly(f"{what}: {verdict.words}")
    sys.exit(0 if ok else 1)


@record.command("export")
def record_export(
    output: Annotated[
        Path,
        typer.Option(
            "-o", "--output", help="The file to write; of parquet or with --all, a folder."
        ),
    ],
    case: Annotated[str | None, typer.Argument(help="The case code.")] = None,
    form: Annotated[
        str, typer.Option("--format", help="journal, csv, json, html, text, pdf, fhir or parquet.")
    ] = "html",
    every: Annotated[bool, typer.Option("--all", help="Every case, into a folder.")] = False,
    since: Annotated[
        str | None, typer.Option(help="With --all, cases begun on this day or later: 2026-11-27.")
    ] = None,
    store: StoreUrl = None,
    practice: Practice = False,
) -> None:
    """Write a case to a file, for its owner alone; exit 1 if it does not verify. `parquet` adds
    cases to a folder of tables, for reviews."""
    from voicelist.authoring.files import write_over
    from voicelist.figures.inline import report_figures
    from voicelist.record.commands import export_case

    if every == (case is not None) or (since is not None and not every):
        raise UsageError("Name a case, or give --all (and --since with it).")
    if form == "parquet":
        if since is not None:
            raise UsageError("A folder of tables has all cases: give --since to voicelist review.")
        _export_tables(output, case, store, practice)
    if case is None:
        _export_all(output, form, since, store, practice)
        return
    exported = export_case(case, form, store, practice=practice, figures=report_figures)
    write_over(output, exported.data, private=True)
    typer.echo(f"Written: {output}")
    typer.echo(f"Head {exported.head}")
    typer.echo(f"Tree head {exported.tree_head}")
    exit_if_damaged(exported.problems)


@record.command("wordings")
def record_wordings(
    store: StoreUrl = None,
    practice: Practice = False,
    at_least: Annotated[int, typer.Option(min=1, help="Only what was said so often.")] = 1,
    unverified: Annotated[
        bool, typer.Option("--unverified", help="Also from records that do not verify.")
    ] = False,
    as_json: AsJson = False,
) -> None:
    """What was not understood and then said otherwise, as lines for a checklist."""
    import json
    from dataclasses import asdict

    from voicelist.authoring.wordings import Wordings, as_lines
    from voicelist.record.commands import entries_of_all

    wordings, left_out = Wordings(), 0
    for entries, problems in entries_of_all(store, practice=practice):
        if not entries or (problems and not unverified):
            left_out += 1
            continue
        wordings.take(entries)
    found = wordings.proposals(at_least)
    if as_json:
        typer.echo(json.dumps([asdict(one) for one in found]))
    else:
        lines = as_lines(found) or ["Nothing to propose."]
        print_plainly("\n".join(lines))
    if left_out:
        typer.echo(f"Left out, for they do not verify: {left_out} cases.", err=True)


def _export_all(
    folder: Path, form: str, since: str | None, store: str | None, practice: bool
) -> None:
    """A file for each case; those that do not verify are named at the end."""
    from voicelist.authoring.files import own_folder, write_over
    from voicelist.figures.inline import report_figures
    from voicelist.record.commands import export_all

    problems: list[str] = []
    written = 0
    own_folder(folder)
    every = export_all(form, store, practice=practice, since=_day(since), figures=report_figures)
    for case, name, exported in every:
        if exported.data:
            write_over(folder / name, exported.data, private=True)
            written += 1
        problems.extend(f"{case}: {one}" for one in exported.problems)
    typer.echo(f"Written: {written} file(s) in {folder}")
    exit_if_damaged(problems)


def _day(text: str | None) -> date | None:
    try:
        return None if text is None else date.fromisoformat(text)
    except ValueError:
        raise UsageError(f"{text} is no day: write it as 2026-11-27.") from None


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
    paper_time: Annotated[
        str,
        typer.Option(help="The time that stands on the paper it is from: 14:05, or with its day."),
    ] = "",
    store: StoreUrl = None,
    practice: Practice = False,
) -> None:
    """A late entry to a case that has ended, also from paper: added to the chain, shown apart, no
    answer."""
    from voicelist.documents.names import ROLES
    from voicelist.record.commands import amend_case
    from voicelist.record.times import local_offset_min
    from voicelist.session.team_records import Amended

    late = Amended(entry, reason, role, item, paper_time, local_offset_min())
    head = amend_case(case, late, store, practice=practice, roles=ROLES)
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
