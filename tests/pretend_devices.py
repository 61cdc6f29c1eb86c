"""Pretend sound devices for child processes; see `tests/pretend/sounddevice.py`."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

HEADSET = ["Headset", 1, 2]
_FOLDER = Path(__file__).parent / "pretend"


class PretendDevices:
    """What the pretend library finds; may be changed while it is in use."""

    def __init__(self, folder: Path, monkeypatch: pytest.MonkeyPatch, **state: Any) -> None:
        self._file = folder / "devices.json"
        self.played = folder / "played.pcm"
        self._state: dict[str, Any] = {"devices": [HEADSET], "played": str(self.played)}
        monkeypatch.setenv("VOICELIST_PRETEND", str(self._file))
        monkeypatch.syspath_prepend(_FOLDER)
        self.set(**state)

    def set(self, **state: Any) -> None:
        self._state |= state
        new = self._file.with_suffix(".new")
        new.write_text(json.dumps(self._state))
        new.replace(self._file)
