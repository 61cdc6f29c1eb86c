"""What documents inside older records have under names that are no longer used.

A record is read as it was written, for good; a document on disk has to use the names of today.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

# Kinds of modulation that a card could have, and what they are called now.
KINDS: Mapping[str, str] = {"short-pulses": "pulse"}
_RULES = frozenset({"count-as-rate", "short-pulse-time"})
_FIGURES = ("short_pulse_on_time_ms",)


def as_now(kind: str, document: Any) -> Any:
    """An embedded document of this kind, in the names of today; anything odd stays as it is."""
    if not isinstance(document, Mapping):
        return document
    if kind == "card":
        return _renamed(document)
    return _without_retired(document) if kind == "limits" else document


def _renamed(value: Any) -> Any:
    """The same with every kind of modulation under its name of today."""
    if isinstance(value, Mapping):
        renamed = {key: _renamed(one) for key, one in value.items()}
        kind = renamed.get("kind")
        now = KINDS.get(str(kind))
        return renamed if now is None else {**renamed, "kind": now}
    return [_renamed(one) for one in value] if isinstance(value, list | tuple) else value


def _without_retired(limits: Mapping[str, Any]) -> dict[str, Any]:
    """Limits without rules and figures that there are no more."""
    kept = dict(limits)
    if isinstance(kept.get("off"), list | tuple):
        kept["off"] = [one for one in kept["off"] if one not in _RULES]
    if isinstance(kept.get("limits"), Mapping):
        figures = kept["limits"].items()
        kept["limits"] = {name: one for name, one in figures if name not in _FIGURES}
    return kept
