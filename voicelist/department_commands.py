"""The commands about a department's server. Wiring only, registered by `cli`."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, Annotated

import typer

from voicelist.errors import UsageError
from voicelist.record_commands import print_plainly

if TYPE_CHECKING:
    from voicelist.department.outbox import Outbox

Server = Annotated[
    str | None, typer.Option("--server", help="The server; without it, that of the settings.")
]
Local = Annotated[
    str | None, typer.Option("--store", help="Another record store of this computer.")
]
Address = Annotated[
    str, typer.Option("--server", help="The server, with a login that owns its database.")
]

department = typer.Typer(
    help="One store for several theatres: install, theatre, tables, send, standing.",
    no_args_is_help=True,
    rich_markup_mode=None,
)


def register(app: typer.Typer) -> None:
    """Adds the group `department`."""
    app.add_typer(department, name="department")


@department.command("install")
def install(server: Address) -> None:
    """Make the tables of a server, or bring them to this version. Nothing is ever taken away."""
    from voicelist.department.server import install as installed

    print_plainly(f"The server has step {installed(server)}.")


@department.command("theatre")
def theatre(
    login: Annotated[str, typer.Argument(help="A login of the database.")],
    name: Annotated[str, typer.Argument(help="The theatre that it adds records of.")],
    server: Address,
) -> None:
    """Let a login add the records of one theatre, and nothing else."""
    from voicelist.department.server import name_theatre

    name_theatre(server, login, name)
    print_plainly(f"{login} adds the records of {name}.")


@department.command("tables")
def tables(
    server: Annotated[
        str, typer.Option("--server", help="The server, with a login that may make its tables.")
    ],
    again: Annotated[
        bool, typer.Option("--again", help="Verify and make every case anew.")
    ] = False,
) -> None:
    """Bring the tables for reviews up to date with the journal, case by case. Exit 1 if a case does
    not verify: it is named and left out."""
    from voicelist.review.in_place import make_tables
    from voicelist.review.plain import left_out_words

    made = make_tables(server, again=again)
    print_plainly(made.words)
    for line in left_out_words(made.left_out):
        typer.echo(line, err=True)
    sys.exit(1 if made.left_out else 0)


@department.command("send")
def send(server: Server = None, store: Local = None) -> None:
    """Copy what is kept here and not yet there; exit 1 if the server is away."""
    outbox = _outbox(server, store)
    sent = 0
    while some := outbox.send_some():
        sent += some
    print_plainly(f"{sent} events passed to {outbox.where}.")
    _tell(outbox.standing().words)


@department.command("standing")
def standing(server: Server = None, store: Local = None) -> None:
    """What is kept here and not yet there; the server is not asked. Exit 1 if anything is."""
    _tell(_outbox(server, store).standing().words)


def _tell(words: str) -> None:
    print_plainly(words or "All that is kept here is there, too.")
    sys.exit(1 if words else 0)


def _outbox(server: str | None, store: str | None) -> Outbox:
    from voicelist.department.outbox import outbox_of

    if not server:
        raise UsageError("There is no server: name one with --server, or in the settings.")
    return outbox_of(server, store)
