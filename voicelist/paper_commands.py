"""The command that prints a list on paper. Wiring only, registered by `cli`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from voicelist.record_commands import Practice, StoreUrl, exit_if_damaged


def register(app: typer.Typer) -> None:
    """Adds the command `print`."""
    app.command("print")(print_list)


def print_list(
    plan: Annotated[str, typer.Argument(metavar="PLAN|CASE", help="A plan file, or a case code.")],
    output: Annotated[Path, typer.Option("-o", "--output", help="The PDF file to write.")],
    store: StoreUrl = None,
    practice: Practice = False,
) -> None:
    """The whole list of a plan, or what is still open in a case, on A4 paper."""
    from voicelist.authoring.files import write_over
    from voicelist.paper.sheet import case_sheet, plan_sheet
    from voicelist.record.commands import readable_case
    from voicelist.record.verify import verify_entries

    problems: tuple[str, ...] = ()
    if Path(plan).suffix in (".yaml", ".yml"):
        data = plan_sheet(Path(plan))
    else:
        entries, amiss = readable_case(plan, store, practice=practice)
        data = case_sheet(entries, amiss)
        problems = tuple(dict.fromkeys((*verify_entries(entries).problems, *amiss)))
    write_over(output, data, private=True)
    typer.echo(f"Written: {output}")
    exit_if_damaged(problems)
