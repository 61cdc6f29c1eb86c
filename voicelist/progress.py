"""Progress on a terminal: while the speech model is fetched, while documents are checked."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from rich.console import Console
from rich.progress import (
    BarColumn,
    DownloadColumn,
    MofNCompleteColumn,
    Progress,
    TextColumn,
    TimeElapsedColumn,
)

from voicelist.asr.fetch import fetch_model
from voicelist.asr.model import ModelPlace
from voicelist.errors import Problem, printable
from voicelist.linting.check import lint_paths
from voicelist.linting.vocabulary import Knows


def fetch_with_progress() -> ModelPlace:
    """The model, fetched if it is not here, verified in any case."""
    columns = (TextColumn("{task.description}"), BarColumn(), DownloadColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        tasks: dict[str, int] = {}

        def report(what: str, done: int, total: int | None) -> None:
            if what not in tasks:
                tasks[what] = bar.add_task(what, total=total)
            bar.update(bar.task_ids[tasks[what]], completed=done, total=total)

        return fetch_model(report)


def check_with_progress(paths: Sequence[Path], knows: Knows | None) -> tuple[Problem, ...]:
    """What is wrong in documents; meanwhile a terminal shows which one is looked at, and the time.
    A large checklist takes half a minute."""
    console = Console(stderr=True)
    if not console.is_terminal:
        return lint_paths(paths, knows)
    columns = (
        MofNCompleteColumn(),
        BarColumn(),
        TimeElapsedColumn(),
        TextColumn("{task.fields[file]}"),
    )
    with Progress(*columns, console=console, transient=True) as bar:
        task = bar.add_task("check", total=None, file="")

        def tell(file: str, number: int, of: int) -> None:
            bar.update(task, completed=number - 1, total=of, file=printable(file))

        return lint_paths(paths, knows, tell)
