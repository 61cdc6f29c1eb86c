"""The settings of this computer: `settings.toml` in the user's config folder.

    theatre = "East 1"
    store = "postgresql://theatre_1@records.example/voicelist"

Both may be left out. A password never stands here: libpq reads it from its own password file.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from pathlib import Path

from voicelist.errors import UsageError
from voicelist.places import config_folder

_NAMES = ("theatre", "store")
_LONGEST_THEATRE = 64


@dataclass(frozen=True, slots=True)
class Settings:
    """`theatre` goes into every case; `store` is the department's server, "" for none."""

    theatre: str = ""
    store: str = ""


def settings_file() -> Path:
    """Where the settings lie, whether there are any or not."""
    return config_folder() / "settings.toml"


def read_settings() -> Settings:
    """The settings; all empty where there is no file. Raises UsageError naming what is amiss."""
    path = settings_file()
    try:
        told = tomllib.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        return Settings()
    except (OSError, ValueError) as error:
        raise UsageError(f"The settings in {path} cannot be read ({error}).") from error
    unknown = [name for name in told if name not in _NAMES]
    if unknown:
        raise UsageError(
            f"{path} has {', '.join(unknown)}, and there are {' and '.join(_NAMES)} alone: take "
            "the others out."
        )
    if not all(isinstance(value, str) for value in told.values()):
        raise UsageError(f'{path}: write each value between quotation marks, theatre = "East 1".')
    found = Settings(**told)
    theatre = found.theatre
    if (
        theatre != theatre.strip()
        or not (theatre + "x").isprintable()
        or len(theatre) > _LONGEST_THEATRE
    ):
        raise UsageError(
            f"{path}: a theatre's name has at most {_LONGEST_THEATRE} printable characters, "
            "without spaces at its ends."
        )
    if found.store and not theatre:
        raise UsageError(f'{path} names a store and no theatre: add theatre = "...".')
    return found
