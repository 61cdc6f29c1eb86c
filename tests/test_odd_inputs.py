"""Inputs that nobody should give and that were not met with a clear sentence, found by
tests/soak/fuzzed_inputs.py."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest

from tests.command import CARD, CHECKLIST, PLAN, Command, voicelist
from voicelist.errors import UsageError
from voicelist.settings import read_settings

__all__ = ["voicelist"]


def test_what_check_prints_of_a_document_steers_no_terminal(
    voicelist: Command, tmp_path: Path
) -> None:
    rules = tmp_path / "said.abnf"
    rules.write_text(
        "#ABNF 1.0 UTF-8;\nlanguage en-US;\nroot $s;\npublic $s = yes \u200b\x1b[2J;\n"
    )
    answer = voicelist("check", rules)
    assert answer.code == 1
    assert "said.abnf:4:17: found '\ufffd'" in answer.out
    assert not {"\u200b", "\x1b"} & set(answer.text)


def test_an_event_that_lacks_a_field_keeps_a_case_from_being_gone_on_with(
    voicelist: Command, tmp_path: Path
) -> None:
    file = tmp_path / "records.sqlite3"
    url = f"sqlite:///{file}"
    assert voicelist("run", PLAN, "--typed", "--store", url, typed="ok\n").code == 0
    with sqlite3.connect(file) as connection:
        connection.execute("UPDATE journal SET body = '{}' WHERE kind = 'said' AND seq < 6")
    connection.close()
    before = file.read_bytes()
    answer = voicelist("resume", "practice-007", "--typed", "--store", url)
    assert answer.code == 1
    assert "does not verify, so it cannot be gone on with" in answer.err
    assert file.read_bytes() == before


def test_typed_lines_that_are_shown_again_steer_no_terminal(
    voicelist: Command, tmp_path: Path
) -> None:
    lines = tmp_path / "said.tsv"
    lines.write_text("quadrant\t\ufeffvacuum \u202e500\n", encoding="utf-8")
    for command in (("assess", "--card", CARD), ("hear", CHECKLIST)):
        answer = voicelist(*command, "--lines", lines)
        assert answer.text
        assert not {"\ufeff", "\u202e"} & set(answer.text), command


def test_settings_of_many_levels_are_no_settings(tmp_path: Path) -> None:
    file = tmp_path / "settings.yaml"
    file.write_text("voice: " + "[" * 20_000, encoding="utf-8")
    with pytest.raises(UsageError, match="this is not YAML"):
        read_settings(file)
