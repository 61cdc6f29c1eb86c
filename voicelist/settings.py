"""The user's settings: `settings.yaml` in the user's config folder.

A key is named as the option that it stands for, without the dashes, and is its default: what is
given on the command line goes before it. Every reader of that file reads it here.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import platformdirs
import yaml
from rapidfuzz import process

from voicelist.errors import UsageError
from voicelist.reading import NotReadable, read_file

FILE = "settings.yaml"
_TEXT, _YES_OR_NO, _NUMBER = "text", "true or false", "a whole number"
_NAMES = "a name, or a list of two"
# What may be set, and what its value is.
KEYS: Mapping[str, str] = {
    "mic": _NAMES,
    "two-channels": _YES_OR_NO,
    "mic-roles": _TEXT,
    "headset": _YES_OR_NO,
    "sound-check": _YES_OR_NO,
    "voice": _TEXT,
    "speaker": _TEXT,
    "store": _TEXT,
    "server": _TEXT,
    "pace": _TEXT,
    "quiet": _YES_OR_NO,
    "plain": _YES_OR_NO,
    "display": _YES_OR_NO,
    "display-host": _TEXT,
    "display-port": _NUMBER,
    "discreet": _YES_OR_NO,
    "theatre": _TEXT,
}
_YES_NO = {"true": True, "false": False}
_AT_MOST_BYTES = 64 * 1024


def settings_file() -> Path:
    """Where the settings are looked for."""
    return Path(platformdirs.user_config_dir("voicelist", appauthor=False)) / FILE


def read_settings(file: Path | None = None) -> dict[str, Any]:
    """The settings by key; none where there is no file. Raises UsageError, with the line, for what
    is no setting."""
    place = file or settings_file()
    if not place.exists():
        return {}
    try:
        text = read_file(place, _AT_MOST_BYTES, "a settings file").decode("utf-8")
        node = yaml.compose(text, Loader=yaml.SafeLoader)
    except NotReadable as error:
        raise UsageError(str(error)) from error
    except UnicodeDecodeError as error:
        raise UsageError(f"{place} is not UTF-8 text; save it as UTF-8.") from error
    except (yaml.YAMLError, RecursionError) as error:
        mark = getattr(error, "problem_mark", None)
        where = f"{place}:{mark.line + 1}" if mark is not None else str(place)
        raise UsageError(f"{where}: this is not YAML; write one `key: value` a line.") from error
    if node is None:
        return {}
    if not isinstance(node, yaml.MappingNode):
        raise UsageError(f"{place}:1: expected one `key: value` a line.")
    found: dict[str, Any] = {}
    for key, value in node.value:
        where = f"{place}:{key.start_mark.line + 1}"
        known = _known(str(key.value), where, found)
        found[known] = _value(known, value, where)
    return found


def _known(key: str, where: str, before: Mapping[str, Any]) -> str:
    if key in before:
        raise UsageError(f"{where}: {key} is set twice; take one out.")
    if key in KEYS:
        return key
    near = process.extractOne(key, list(KEYS), score_cutoff=70)
    meant = f"Did you mean {near[0]}?" if near else f"Known are {', '.join(KEYS)}."
    raise UsageError(f"{where}: there is no setting {key}. {meant}")


def _value(key: str, node: yaml.Node, where: str) -> Any:
    wanted = KEYS[key]
    scalar = node.value if isinstance(node, yaml.ScalarNode) else ""
    # Text however it looks: "2" may well be the name of a device.
    if wanted == _TEXT and scalar:
        return scalar
    if wanted == _NAMES:
        names = node.value if isinstance(node, yaml.SequenceNode) else [node]
        texts = [one.value for one in names if isinstance(one, yaml.ScalarNode) and one.value]
        if 0 < len(texts) <= 2 and len(texts) == len(names):
            return texts
    if wanted == _YES_OR_NO and scalar in _YES_NO:
        return _YES_NO[scalar]
    if wanted == _NUMBER and scalar.isascii() and scalar.isdigit():
        return int(scalar)
    raise UsageError(f"{where}: {key} has to be {wanted}.")


def defaults_for(command: Any, settings: Mapping[str, Any]) -> dict[str, Any]:
    """The settings as the defaults of a command's options, and of its own commands'."""
    found: dict[str, Any] = {}
    for parameter in command.params:
        for key, value in settings.items():
            if f"--{key}" in parameter.opts and parameter.name:
                found[parameter.name] = value
    for name, one in getattr(command, "commands", {}).items():
        found[name] = defaults_for(one, settings)
    return found
