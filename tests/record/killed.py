"""A process that is killed in the middle of its work on a store."""

from __future__ import annotations

import os
import shutil
import signal
from collections.abc import Callable
from pathlib import Path

import pytest
from sqlalchemy import event

from voicelist.record import writer as writers
from voicelist.record.database import writing_engine


def killed_at(statement: int, work: Callable[[], object], monkeypatch: pytest.MonkeyPatch) -> bool:
    """Whether a process that does `work` was killed before its database's n-th statement."""
    child = os.fork()
    if child:
        return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == -signal.SIGKILL
    seen = 0

    def engine_that_counts(place: object) -> object:
        engine = writing_engine(place)

        def count(*_: object) -> None:
            nonlocal seen
            seen += 1
            if seen == statement:
                os.kill(os.getpid(), signal.SIGKILL)

        event.listen(engine, "before_cursor_execute", count)
        event.listen(engine, "commit", count)
        return engine

    monkeypatch.setattr(writers, "writing_engine", engine_that_counts)
    try:
        work()
    finally:
        os._exit(0)


def copies(file: Path, folder: Path) -> Path:
    folder.mkdir()
    for one in file.parent.glob(f"{file.name}*"):
        if one.is_file():
            shutil.copy(one, folder / one.name)
    return folder / file.name
