"""Typed lines in place of sound: what people would say, and what it would amount to. For authors
who try wordings; the understanding is that of a session."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from voicelist.assessing import settings_reader
from voicelist.documents.checklist import Item
from voicelist.documents.finding import Shelves
from voicelist.documents.joining import load_lexicon_beside, load_rules, with_roles
from voicelist.documents.lexicon import Lexicon
from voicelist.documents.loading import load_checklist
from voicelist.errors import UsageError
from voicelist.grammar.match import Match
from voicelist.grammar.ruleset import RuleSet
from voicelist.hear import context_for
from voicelist.listening.typed import typed_words
from voicelist.reading import FILE_LIMITS, NotReadable, read_file
from voicelist.session.natural import Natural
from voicelist.session.profile import settings_said
from voicelist.session.values import value_said
from voicelist.understanding.context import Context
from voicelist.understanding.hypothesis import Hypothesis
from voicelist.understanding.interpretation import (
    Denied,
    NotForUs,
    NotUnderstood,
    Unconfirmed,
    Understanding,
    Understood,
    understand,
)

ANY_TIME = "-"
_COMMAND = "command."
# The names that commands have in what is told here; others keep their own.
_NAMES: Mapping[str, str] = {
    "say_again": "repeat",
    "where_are_we": "where",
    "what_is_open": "open",
    "why_asked": "why",
    "not_applicable": "na",
    "hold_on": "pause",
    "carry_on": "resume",
}
_READ_BACK_KINDS = ("choice", "details", "does_not_apply")


@dataclass(frozen=True, slots=True)
class TypedLine:
    """One line of a table: the item that is asked, or `-`, and what is said."""

    item: str
    text: str


def read_lines(path: Path) -> tuple[TypedLine, ...]:
    """Lines of `item<TAB>text`; further columns are left aside. Raises UsageError."""
    try:
        text = read_file(path, FILE_LIMITS.table, "a table").decode("utf-8")
    except NotReadable as error:
        raise UsageError(str(error)) from error
    except UnicodeDecodeError as error:
        raise UsageError(f"{path} is not UTF-8 text.") from error
    rows = [line.split("\t") for line in text.splitlines() if line.strip()]
    if any(len(row) < 2 for row in rows):
        number = next(n for n, row in enumerate(rows, 1) if len(row) < 2)
        raise UsageError(f"{path}:{number} has no tab: write an item, a tab, and what is said.")
    return tuple(TypedLine(row[0].strip(), row[1].strip()) for row in rows)


class Typed:
    """A checklist made ready to read lines."""

    def __init__(self, checklist: Path) -> None:
        shelves = Shelves.beside(checklist)
        loaded = load_checklist(checklist)
        document = loaded.document
        self._language = document.language.partition("-")[0]
        self._items: dict[str, Item] = {
            item.id: item for section in document.sections for item in section.items
        }
        self._lexicon: Lexicon | None = load_lexicon_beside(shelves)
        respellings = {} if self._lexicon is None else self._lexicon.respellings()
        rules = RuleSet.from_texts(with_roles(*load_rules(shelves), loaded)[0].items())
        self._natural = Natural(self._items, rules, respellings)
        self._context = context_for(checklist, None)
        self._known = self._context.grammar.vocabulary() | self._context.room.words()

    def heard(self, line: TypedLine) -> dict[str, Any]:
        """What one line amounts to, as `--json` tells it. Raises UsageError for an item that there
        is not."""
        asked = next(iter(self._items)) if line.item == ANY_TIME else line.item
        if asked not in self._items:
            known = ", ".join(self._items)
            raise UsageError(f"There is no item {asked}: choose one of {known}, or - for any time.")
        words = typed_words(line.text, self._language)
        if self._lexicon is not None:
            words = self._lexicon.as_known(words, self._known)
        context = self._asking(asked)
        strict = understand([Hypothesis(words)], (), context)
        found = self._natural.unless_permitted(strict, words, asked, context.active)
        return _told(line, *self._amounts(found, asked))

    def _asking(self, asked: str) -> Context:
        """What may be said while one item is asked."""
        active = frozenset(
            name for name in self._context.active if name.startswith((_COMMAND, f"{asked}."))
        )
        return replace(self._context, active=active)

    def _amounts(
        self, found: Understanding, asked: str
    ) -> tuple[str, dict[str, Any], list[str], bool]:
        match found:
            case Understood():
                return self._taken(found.match, asked, read_back=False)
            case Unconfirmed():
                return self._taken(found.match, asked, read_back=True)
            case Denied(in_other_words=True):
                return "offered", {}, [f"Report {self._items[asked].name}?"], True
            case Denied():
                return "denied", {}, [], True
            case NotUnderstood(offers=offers):
                return ("offered" if offers else "asked-again"), {}, list(offers), bool(offers)
            case NotForUs():
                return "ignored", {}, [], False

    def _taken(
        self, match: Match, asked: str, *, read_back: bool
    ) -> tuple[str, dict[str, Any], list[str], bool]:
        item_id, _, kind = match.rule.rpartition(".")
        if item_id == _COMMAND.rstrip("."):
            return f"{_COMMAND.rstrip('.')}:{_NAMES.get(kind, kind)}", {}, [], False
        item = self._items[item_id]
        if item.compare == "profile":
            return "value", setting_values(match), [], True
        if kind == "value":
            said = value_said(str(item.compare), match)
            values = {} if said is None else {said.quantity: said.value}
            return "value", values, [], read_back
        amounts_to = {"fault": "fault", "does_not_apply": "command:na"}.get(kind, "done")
        return amounts_to, {}, [], read_back or kind in _READ_BACK_KINDS or item.each_role


def setting_values(match: Match) -> dict[str, Any]:
    """Settings as pairs: a number by its quantity, `linear` or `fixed` by the name before the unit,
    the kind of pulses as `mode`."""
    pairs: dict[str, Any] = {}
    for quantity, one in settings_said(match).items():
        if quantity == "modulation":
            pairs["mode"] = one["value"]
            continue
        # A bare number for the bottle is asked for its unit; it is told as a height.
        pairs["bottle_cm" if quantity == "bottle" else quantity] = one["value"]
        if one.get("control"):
            pairs[quantity.partition("_")[0]] = one["control"]
    return pairs


def heard_lines(checklist: Path, table: Path) -> Iterator[dict[str, Any]]:
    """What each line of a table amounts to, in order."""
    lines = read_lines(table)
    typed = Typed(checklist)
    return (typed.heard(line) for line in lines)


def assessed_lines(card: Path, table: Path) -> list[dict[str, Any]]:
    """What each line amounts to as machine settings, under the rules beside a card."""
    understood = settings_reader(card)
    told = []
    for line in read_lines(table):
        match = understood(line.text)
        values = {} if match is None else setting_values(match)
        amounts_to = "value" if values else "asked-again"
        told.append(_told(line, amounts_to, values, [], bool(values)))
    return told


def _told(
    line: TypedLine, amounts_to: str, values: dict[str, Any], offers: list[str], read_back: bool
) -> dict[str, Any]:
    return {
        "item": line.item,
        "text": line.text,
        "amounts_to": amounts_to,
        "values": values,
        "offers": offers,
        "read_back": read_back,
    }


def line_told(told: Mapping[str, Any]) -> str:
    """One line for people."""
    values = ", ".join(f"{name} {value}" for name, value in told["values"].items())
    offers = " ".join(told["offers"])
    after = " (read back first)" if told["read_back"] else ""
    parts = (f"{told['item']}: {told['text']}: {told['amounts_to']}{after}", values, offers)
    return "; ".join(part for part in parts if part)
