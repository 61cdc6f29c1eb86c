"""The command line, called as a user would and answered with exit code and text."""

from __future__ import annotations

import io
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

from voicelist.cli import main
from voicelist.places import shipped

GRAMMARS = shipped("grammars")
PLAN = GRAMMARS / "plans" / "practice-007.yaml"
CHECKLIST = GRAMMARS / "checklists" / "phaco.yaml"
CARD = GRAMMARS / "cards" / "demo-surgeon.yaml"


@dataclass(frozen=True, slots=True)
class Answer:
    """What a command printed and how it ended."""

    code: int
    out: str
    err: str

    @property
    def text(self) -> str:
        return self.out + self.err


Command = Callable[..., Answer]


@pytest.fixture
def voicelist(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Command:
    """Runs a command with a data folder of its own; `typed` is its standard input."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.setenv("COLUMNS", "200")

    def run(*arguments: object, typed: str = "") -> Answer:
        monkeypatch.setattr(sys, "argv", ["voicelist", *map(str, arguments)])
        monkeypatch.setattr(sys, "stdin", io.StringIO(typed))
        capsys.readouterr()
        code = 0
        try:
            main()
        except SystemExit as ended:
            code = ended.code if isinstance(ended.code, int) else 0
        printed = capsys.readouterr()
        assert "Traceback" not in printed.err
        return Answer(code, printed.out, printed.err)

    return run
