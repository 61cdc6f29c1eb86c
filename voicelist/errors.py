"""The one exception root. Every leaf builds a sentence that says what to do next.

The command line turns a leaf into that sentence and its `exit_code`; no traceback reaches a user.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass


def printable(text: str) -> str:
    """The text as a terminal may get it: whatever could steer the terminal or turn the order of
    writing (control and format characters, damaged text) stands as one replacement character."""
    steering = (one for one in set(text) if unicodedata.category(one) in {"Cc", "Cf", "Cs"})
    return text.translate({ord(one): "\ufffd" for one in steering if one not in "\n\t"})


class VoicelistError(Exception):
    """Anything voicelist refuses; the text is a sentence with a remedy."""

    exit_code = 1


class UsageError(VoicelistError):
    """The command was called in a way that cannot work."""

    exit_code = 2


class MissingPart(VoicelistError):
    """The environment lacks something: a model, a device, a voice."""

    exit_code = 3


class RecordError(VoicelistError):
    """A record is missing, broken, or may not be written."""


class SoundError(VoicelistError):
    """A sound file cannot be used."""


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that is wrong in a document, or that only deserves a look (`note`). Lines and
    columns count from 1."""

    file: str
    line: int
    column: int
    found: str
    expected: str
    note: bool = False

    def __str__(self) -> str:
        kind = "note: " if self.note else ""
        return f"{self.file}:{self.line}:{self.column}: {kind}found {self.found}; {self.expected}"


class DocumentError(VoicelistError):
    """One or more problems in documents, all of them at once; the text holds the first ones."""

    def __init__(self, problems: tuple[Problem, ...]) -> None:
        self.problems = problems
        super().__init__("\n".join(told_of(problems)))


# More is not read, and the first are often what makes the rest. Project choice.
TOLD_AT_MOST = 50


def told_of(problems: Sequence[Problem]) -> list[str]:
    """Lines to print: the first problems in their order, notes only where there is room for all
    that is more than a note, and how many are left out."""
    kept = problems
    if len(problems) > TOLD_AT_MOST:
        grave = [one for one in problems if not one.note][:TOLD_AT_MOST]
        notes = [one for one in problems if one.note][: TOLD_AT_MOST - len(grave)]
        chosen = {*map(id, grave), *map(id, notes)}
        kept = [one for one in problems if id(one) in chosen]
    left_out = len(problems) - len(kept)
    more = [f"... and {left_out:,} more of the kind."] if left_out else []
    return [*map(str, kept), *more]
