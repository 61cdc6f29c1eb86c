"""YAML text -> plain data with a mark for every key and value; all problems of a text at once.

Stricter than YAML, because a checklist is: only `true` and `false` are booleans (`no`, `on`, `yes`
stay text), duplicate keys and empty values are problems, anchors, aliases, tags and further
documents are refused. Numbers are decimal: `12`, `-3`, `+21.5`; `.5`, `1e3` and `007` stay text.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Protocol

import yaml
from yaml import events

from voicelist.documents.marks import Mark, Place, Places, YamlPath
from voicelist.documents.wording import quoted
from voicelist.documents.yaml_syntax import reader_mark, sentence_of
from voicelist.errors import DocumentError, Problem

DEEPEST = 40
# The largest shipped document has some two thousand. Project choice.
MOST_VALUES = 50_000
_INTEGER = re.compile(r"[-+]?(0|[1-9][0-9]{0,14})")
_DECIMAL = re.compile(r"[-+]?(0|[1-9][0-9]{0,14})\.[0-9]{1,15}")
_NOTHING = frozenset({"", "~", "null", "Null", "NULL"})


@dataclass(frozen=True, slots=True)
class YamlDocument:
    """What a text holds. `unusable` has the paths whose value could not be taken from it: what a
    model says about those, or below them, only repeats `problems`."""

    data: object
    places: Places
    problems: tuple[Problem, ...]
    unusable: frozenset[YamlPath]


def read_yaml(text: str, file: str) -> YamlDocument:
    """Read one document. Raises DocumentError if the text is no YAML at all."""
    builder = _Builder(text, file)
    data = builder.document()
    places = Places(file, builder.values, builder.keys)
    return YamlDocument(data, places, tuple(builder.problems), frozenset(builder.unusable))


class _Builder:
    """Builds data from the parser's events (which, unlike nodes, never recurse)."""

    def __init__(self, text: str, file: str) -> None:
        self._text = text
        self._file = file
        self._events = self._parsed()
        self.values: dict[YamlPath, Mark] = {}
        self.keys: dict[YamlPath, Mark] = {}
        self.problems: list[Problem] = []
        self.unusable: set[YamlPath] = set()
        self._nodes = 0

    def document(self) -> object:
        data: object = None
        for number, _start in enumerate(self._of_kind(events.DocumentStartEvent)):
            if number:
                expected = "expected one document a file: take the line --- out"
                self._note(_mark_of(_start), "a second document", expected)
                break
            data = self._node(next(self._events), ())
        else:
            if not self.values:
                self._note((1, 1), "an empty file", "expected a document with format: 1")
                self.unusable.add(())
        return data

    def _parsed(self) -> Iterator[events.Event]:
        last: Mark = (1, 1)
        try:
            for event in yaml.parse(self._text, Loader=yaml.SafeLoader):
                last = _mark_of(event)
                yield event
        except yaml.reader.ReaderError as error:
            self._stop(reader_mark(self._text, error.position), *sentence_of(error))
        except yaml.MarkedYAMLError as error:
            self._stop(_mark(error.problem_mark or error.context_mark), *sentence_of(error))
        except (ValueError, OverflowError):  # the parser's own, from numbers in \U and %YAML
            found = "a character or version number that does not exist, here or below"
            self._stop(last, found, "expected plain text")

    def _of_kind(self, kind: type[events.Event]) -> Iterator[events.Event]:
        return (event for event in self._events if isinstance(event, kind))

    def _note(self, mark: Mark, found: str, expected: str) -> None:
        self.problems.append(Place(self._file, *mark).problem(found, expected))

    def _stop(self, mark: Mark, found: str, expected: str) -> None:
        self._note(mark, found, expected)
        raise DocumentError(tuple(self.problems))

    def _node(self, event: events.Event, path: YamlPath) -> object:
        mark = self._text_start(event) if isinstance(event, events.ScalarEvent) else _mark_of(event)
        self.values.setdefault(path, mark)
        self._refuse_deep(mark, path)
        if self._is_refused(event, path):
            return self._skipped(event, path)
        if isinstance(event, events.MappingStartEvent):
            return self._mapping(path)
        if isinstance(event, events.SequenceStartEvent):
            return self._list(path)
        assert isinstance(event, events.ScalarEvent)  # an alias has been refused
        return self._scalar(event, path)

    def _refuse_deep(self, mark: Mark, path: YamlPath) -> None:
        """Before anything that recurses."""
        if len(path) > DEEPEST:
            self._stop(mark, f"more than {DEEPEST} levels", "expected a flatter document")
        self._nodes += 1
        if self._nodes > MOST_VALUES:
            found = f"more than {MOST_VALUES:,} values"
            self._stop(mark, found, "expected a smaller document: make it several")

    def _is_refused(self, event: events.Event, path: YamlPath) -> bool:
        refused = False
        if isinstance(event, events.AliasEvent):
            expected = "expected the value itself: write it out"
            self._note(_mark_of(event), f"an alias (*{event.anchor})", expected)
            refused = True
        elif isinstance(event, events.NodeEvent) and event.anchor is not None:
            expected = "expected plain values: take it out and repeat the value"
            self._note(_mark_of(event), f"an anchor (&{event.anchor})", expected)
        tag = getattr(event, "tag", None)
        if tag is not None:
            short = str(tag).replace("tag:yaml.org,2002:", "!!")
            expected = "expected plain values: take it out (quotes make a text)"
            self._note(_mark_of(event), f"a tag ({short})", expected)
            refused = True
        if refused:
            self.unusable.add(path)
        return refused

    def _skipped(self, event: events.Event, path: YamlPath) -> object:
        """What was refused is still read through, for what else is wrong inside it."""
        if isinstance(event, events.MappingStartEvent):
            return self._mapping(path)
        if isinstance(event, events.SequenceStartEvent):
            return self._list(path)
        return None

    def _mapping(self, path: YamlPath) -> dict[str, object]:
        found: dict[str, object] = {}
        for event in self._events:
            if isinstance(event, events.MappingEndEvent):
                break
            key = self._key(event, path)
            inner = (*path, key)
            if key in found:
                expected = f"expected it once: the first is in line {self.keys[inner][0]}"
                self._note(_mark_of(event), f"the key {quoted(key)} again", expected)
                self._node(next(self._events), (*inner, "again"))
                continue
            self.keys[inner] = _mark_of(event)
            found[key] = self._node(next(self._events), inner)
        return found

    def _key(self, event: events.Event, path: YamlPath) -> str:
        mark = _mark_of(event)
        self._refuse_deep(mark, (*path, ""))
        refused = self._is_refused(event, (*path, ""))
        if isinstance(event, events.ScalarEvent) and not refused:
            return event.value
        if isinstance(event, events.CollectionStartEvent):
            self._note(mark, "a list or keys used as a key", "expected a word before the colon")
            self._skipped(event, (*path, "key"))
        key = f"unreadable key in line {mark[0]}, column {mark[1]}"
        self.unusable.add((*path, key))
        return key

    def _list(self, path: YamlPath) -> list[object]:
        found: list[object] = []
        for event in self._events:
            if isinstance(event, events.SequenceEndEvent):
                break
            found.append(self._node(event, (*path, len(found))))
        return found

    def _scalar(self, event: events.ScalarEvent, path: YamlPath) -> object:
        text: str = event.value
        if event.style is not None:
            return text
        if text in _NOTHING:
            expected = "expected a value: write one, or take the key out if it may be left out"
            self._note(self.values[path], f"nothing{f' ({text})' if text else ''}", expected)
            self.unusable.add(path)
            return None
        if text in {"true", "false"}:
            return text == "true"
        if _INTEGER.fullmatch(text):
            return int(text)
        return float(text) if _DECIMAL.fullmatch(text) else text

    def _text_start(self, event: events.ScalarEvent) -> Mark:
        """Where the text itself begins: behind the quote, or below a `|` or `>`."""
        line, column = _mark_of(event)
        if event.style in {"'", '"'}:
            return line, column + 1
        if event.style in {"|", ">"}:
            for number, below in enumerate(self._text.splitlines()[line:], start=line + 1):
                if below.strip():
                    return number, len(below) - len(below.lstrip(" ")) + 1
        return line, column


class _YamlMark(Protocol):
    """A mark of either YAML parser; these count from 0."""

    line: int
    column: int


def _mark(mark: _YamlMark | None) -> Mark:
    return (1, 1) if mark is None else (mark.line + 1, mark.column + 1)


def _mark_of(event: events.Event) -> Mark:
    return _mark(event.start_mark)
