"""A progress bar while the speech model is fetched."""

from __future__ import annotations

from rich.console import Console
from rich.progress import BarColumn, DownloadColumn, Progress, TextColumn

from voicelist.asr.fetch import fetch_model
from voicelist.asr.model import ModelPlace


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
