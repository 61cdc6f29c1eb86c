"""Where things lie: what ships with voicelist, the user's cache and the user's data."""

from __future__ import annotations

from pathlib import Path

import platformdirs

_PACKAGE = Path(__file__).resolve().parent


def shipped(name: str) -> Path:
    """A folder that ships with voicelist, installed as a wheel or used from a checkout."""
    packed = _PACKAGE / "shipped" / name
    return packed if packed.exists() else _PACKAGE.parent / name


def cache_folder() -> Path:
    """The user's cache folder for voicelist (speech model, prepared voices)."""
    return Path(platformdirs.user_cache_dir("voicelist", appauthor=False))


def data_folder() -> Path:
    """The user's data folder for voicelist (the records)."""
    return Path(platformdirs.user_data_dir("voicelist", appauthor=False))
