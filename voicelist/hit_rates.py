"""How often each phrase of a checklist is heard right, by speaker, on recordings of its own team.

Colleagues are recorded, a table says who said what in which file, and the phrases that are heard
worst stand first: these are to be reworded.
"""

from __future__ import annotations

import csv
import io
import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from voicelist.errors import UsageError
from voicelist.hear import HeardUtterance
from voicelist.reading import FILE_LIMITS, NotReadable, read_file
from voicelist.understanding.context import Context
from voicelist.understanding.interpretation import Understood, same_meaning

_ALL = "all"
_NOBODY = "-"
_MOST_ROWS = 20_000  # recordings; project choice


@dataclass(frozen=True, slots=True)
class ExpectedText:
    """What was said in a recording, in lower case, and by whom."""

    text: str
    speaker: str


@dataclass(slots=True)
class Hits:
    """What became of the recordings of one phrase; `speaker` is "all" for its total."""

    phrase: str
    speaker: str
    right: int = 0
    asked_again: int = 0
    wrong: int = 0

    @property
    def of(self) -> int:
        return self.right + self.asked_again + self.wrong

    @property
    def rate_percent(self) -> float:
        return 100.0 * self.right / self.of

    def as_json(self) -> dict[str, Any]:
        """A row for programs."""
        return {
            "phrase": self.phrase,
            "speaker": self.speaker,
            "right": self.right,
            "asked_again": self.asked_again,
            "wrong": self.wrong,
            "rate_percent": round(self.rate_percent, 1),
        }


def read_table(path: Path) -> dict[str, ExpectedText]:
    """What was said by the files' names, from a table with the columns `file`, `text` and, if it
    likes, `speaker`, parted by tabs. Raises UsageError where it cannot be used."""
    try:
        text = read_file(path, FILE_LIMITS.table, "a table").decode("utf-8")
        lines = csv.DictReader(io.StringIO(text, newline=""), delimiter="\t")
        rows = list(itertools.islice(lines, _MOST_ROWS + 1))
    except NotReadable as error:
        raise UsageError(str(error)) from error
    except (UnicodeDecodeError, csv.Error) as error:
        raise UsageError(f"{path} cannot be read as a table: {error}.") from error
    if len(rows) > _MOST_ROWS:
        raise UsageError(f"{path} has more than {_MOST_ROWS:,} lines: make it several tables.")
    if not rows or not {"file", "text"} <= set(rows[0]):
        raise UsageError(f"{path} needs tab-separated columns named file and text.")
    said: dict[str, ExpectedText] = {}
    for row in rows:
        name = Path(row["file"] or "").name
        if name in said:
            raise UsageError(f"{path} has {name} twice: every file needs a name of its own.")
        text = " ".join((row["text"] or "").lower().split())
        said[name] = ExpectedText(text, row.get("speaker") or _NOBODY)
    return said


def hit_rates(
    heard: Sequence[HeardUtterance], said: dict[str, ExpectedText], context: Context
) -> list[Hits]:
    """Of each phrase its total and, where several speak, its speakers; the worst phrase first."""
    parts: dict[ExpectedText, Hits] = {}
    for one in heard:
        wanted = said.get(Path(one.file).name)
        if wanted is not None:
            _count(parts.setdefault(wanted, Hits(wanted.text, wanted.speaker)), one, context)
    phrases = {one.text: Hits(one.text, _ALL) for one in parts}
    for part in parts.values():
        total = phrases[part.phrase]
        total.right += part.right
        total.asked_again += part.asked_again
        total.wrong += part.wrong
    ordered: list[Hits] = []
    for total in sorted(phrases.values(), key=_badness):
        ordered.append(total)
        speakers = [part for part in parts.values() if part.phrase == total.phrase]
        ordered += sorted(speakers, key=_badness) if len(speakers) > 1 else []
    return ordered


def _badness(hits: Hits) -> tuple[float, float, str, str]:
    return -hits.wrong / hits.of, -hits.asked_again / hits.of, hits.phrase, hits.speaker


def _count(hits: Hits, one: HeardUtterance, context: Context) -> None:
    if not isinstance(one.understanding, Understood):
        hits.asked_again += 1
    elif _says(one.understanding, hits.phrase, context):
        hits.right += 1
    else:
        hits.wrong += 1


def _says(understood: Understood, text: str, context: Context) -> bool:
    """Whether it means what was said, in whatever permitted words."""
    words = tuple(text.split())
    meant = (Understood(match, words) for match in context.permitted(words))
    return understood.match.text == text or any(same_meaning(understood, one) for one in meant)


def left_out(heard: Sequence[HeardUtterance], said: dict[str, ExpectedText]) -> Iterator[str]:
    """A sentence for each side that lacks something of the other."""
    names = {Path(one.file).name for one in heard}
    for lacking, where in (
        (sorted(names.difference(said)), "heard but not in the table"),
        (sorted(set(said).difference(names)), "in the table but not heard"),
    ):
        if lacking:
            yield f"{len(lacking)} {where}: {', '.join(lacking)}."


def rows_of(rates: Sequence[Hits]) -> Iterator[str]:
    """A table to read."""
    yield "  rate  right  asked again  wrong  phrase (speaker)"
    for one in rates:
        counts = f"{one.right:5}  {one.asked_again:11}  {one.wrong:5}"
        yield f"{one.rate_percent:4.0f} %  {counts}  {one.phrase} ({one.speaker})"
