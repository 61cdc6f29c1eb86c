"""`voicelist model`, as a user meets it."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.command import Command, voicelist
from voicelist.asr.model import find_model
from voicelist.asr.wide_beam import wide_search_model

__all__ = ["voicelist"]

FILES = {"am/final.mdl": "sound", "conf/mfcc.conf": "", "conf/model.conf": "--beam=10.0\n"}


@pytest.fixture
def chosen(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A tiny model of the user's choice, and a cache of the test's own."""
    for name, text in FILES.items():
        path = tmp_path / "chosen" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text)
    monkeypatch.setenv("VOICELIST_MODEL", str(tmp_path / "chosen"))
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    return tmp_path / "chosen"


def test_what_is_made_of_the_model_is_repaired(voicelist: Command, chosen: Path) -> None:
    wide = wide_search_model(find_model())
    settings = wide / "conf" / "model.conf"
    good = settings.read_text()
    settings.write_text(good.replace("6.0", "9.0"))
    answer = voicelist("model")
    assert answer.code == 0, answer.text
    assert str(chosen) in answer.out
    assert settings.read_text() == good


def test_a_model_of_ones_own_choice_is_told_as_such(voicelist: Command, chosen: Path) -> None:
    answer = voicelist("model")
    assert answer.code == 0, answer.text
    assert "not the one that voicelist was measured with" in answer.out
    assert find_model().fingerprint in answer.out
