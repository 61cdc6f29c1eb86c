"""The catalogue of all sentences that are spoken or shown: a key and a template for each."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from functools import lru_cache
from string import Formatter
from types import MappingProxyType
from typing import Annotated

from pydantic import AfterValidator, Field

from voicelist.documents.base import Headed, Text, written_like
from voicelist.documents.faults import refusal
from voicelist.documents.marks import Place, Places
from voicelist.documents.wording import did_you_mean, quoted
from voicelist.errors import DocumentError, Problem

_PLACEHOLDER = re.compile(r"[a-z][A-Za-z0-9_]*")
_CATALOGUE = "sentences"
# What catalogues embedded in older records lack and what cannot be done without.
OWN_SENTENCES: Mapping[str, str] = MappingProxyType(
    {
        "record-stopped": "The record stopped. Please go on with the printed list.",
        "record-stopped-at": (
            "The record stopped. Not recorded: {name}. Please go on with the printed list."
        ),
        "record-resume": "Later: voicelist resume {case}, with the same options.",
        "record-again": "Later: start it again with the same command.",
        "clock-forward": "The clock was set forward by {span}.",
        "clock-back": "The clock was set back by {span}.",
        "clock-slept": "The computer slept for {span}.",
        "clock-stood-still": "The program stood still for {span}.",
        "hears-me": "I hear myself. Please answer when I have spoken.",
        "microphone-not-heard": "One microphone gives no sound. The other goes on.",
        "role-not-heard": "{role} is not heard just now.",
        "role-heard-again": "{role} is heard again.",
    }
)


@lru_cache(maxsize=1024)
def _parts(template: str) -> tuple[tuple[str, str | None], ...]:
    """Literal text and the placeholder behind it (None at the end). Raises ValueError."""
    parts = []
    for literal, name, form, conversion in Formatter().parse(template):
        if name is not None and (form or conversion or not _PLACEHOLDER.fullmatch(name)):
            raise ValueError(f"the placeholder {quoted('{' + name + '}')}")
        parts.append((literal, name))
    return tuple(parts)


def placeholders(template: str) -> frozenset[str]:
    return frozenset(name for _, name in _parts(template) if name is not None)


def _template(text: str) -> str:
    try:
        _parts(text)
    except ValueError as error:
        expected = "expected {plain_names} in braces, with {{ and }} for braces themselves"
        raise refusal(f"a broken template: {error}", expected) from None
    return text


Key = Annotated[
    str,
    *written_like(
        r"[a-z0-9]+([ ._-][a-z0-9]+)*",
        "a key of lower-case letters and digits, joined by spaces, dots, dashes or underscores",
    ),
]
Template = Annotated[Text, AfterValidator(_template)]


class Sentences(Headed):
    """The catalogue document of one language."""

    sentences: dict[Key, Template] = Field(description="keys with templates")

    def text(self, key: str, /, **values: object) -> str:
        """The sentence with its placeholders filled; surplus values are left unused. What came
        later than the catalogue is one of our own.

        Raises DocumentError for a key that the catalogue lacks and a placeholder without a value.
        """
        template = self.sentences.get(key, OWN_SENTENCES.get(key))
        if template is None:
            expected = f"{did_you_mean(key, self.sentences)}expected a key of the catalogue"
            raise DocumentError((_nowhere(f"no sentence {quoted(key)}", expected),))
        lacking = sorted(placeholders(template) - values.keys())
        if lacking:
            found = f"no value for {{{lacking[0]}}} in the sentence {quoted(key)}"
            raise DocumentError((_nowhere(found, f"expected {', '.join(lacking)}"),))
        return "".join(
            literal + ("" if name is None else str(values[name]))
            for literal, name in _parts(template)
        )

    def pieces(self, key: str) -> tuple[tuple[str, str | None], ...]:
        """Literal text and the placeholder behind it, None behind the last. Raises KeyError."""
        return _parts(self.sentences[key])

    def problems_with(
        self, required: Mapping[str, Collection[str]], places: Places | None = None
    ) -> tuple[Problem, ...]:
        """What the catalogue lacks: `required` has each key that will be asked for with the
        placeholders that will be given. A template must use all of them and no others."""
        marks = places or Places(_CATALOGUE)
        problems: list[Problem] = []
        for key, given in required.items():
            path = ("sentences", key)
            if key not in self.sentences:
                expected = f"expected {key}: a sentence{_with(given)}"
                problems.append(marks.of(path).problem(f"no sentence {quoted(key)}", expected))
                continue
            used = placeholders(self.sentences[key])
            for name in sorted(set(given) - used):
                found = f"a sentence without {{{name}}}"
                problems.append(marks.of(path).problem(found, f"expected it in {quoted(key)}"))
            for name in sorted(used - set(given)):
                expected = f"expected only placeholders that {quoted(key)} is given{_with(given)}"
                problems.append(marks.of(path).problem(f"the placeholder {{{name}}}", expected))
        return tuple(problems)


def _with(names: Collection[str]) -> str:
    return f" with {', '.join('{' + name + '}' for name in sorted(names))}" if names else ""


def _nowhere(found: str, expected: str) -> Problem:
    return Place(_CATALOGUE, 1, 1).problem(found, expected)
