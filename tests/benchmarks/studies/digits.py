"""Single digits in the band of a telephone, control words with numbers, and playing cards: right,
asked again, taken wrong, by speaker.

`python -m tests.benchmarks.studies.digits` needs the recordings of real people that lie beside the
checkout; without them it says so and does nothing. Each set has a small grammar beside this file.
The digits were recorded at 8 kHz and are brought to 16 kHz, as any file is. Hearing them so poorly
shows what a lost band costs: nothing that matters may rest on one look at one word.
"""

from __future__ import annotations

import argparse
import csv
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tests.benchmarks.harness.measured import (
    circumstances,
    counted,
    print_proportions,
    worst_first,
    write_report,
)
from tests.benchmarks.harness.parts import add_part_options, chosen, is_whole
from tests.benchmarks.harness.places import REPORTS, SPEECH
from tests.benchmarks.harness.product import Heard, Product, understood
from tests.benchmarks.studies.orders import AGAIN, OUTCOMES, RIGHT, WRONG, clean
from voicelist.hear import context_for

HERE = Path(__file__).resolve().parent
REPORT = REPORTS / "digits.json"
SETS = ("digits", "an4", "cards")


@dataclass(frozen=True, slots=True)
class Spoken:
    """A recording, who speaks and what."""

    file: Path
    speaker: str
    text: str


@dataclass(frozen=True, slots=True)
class Result:
    """What became of a recording."""

    spoken: Spoken
    heard: Heard
    outcome: str


def main() -> None:
    """The command."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n\n")[0])
    add_part_options(parser)
    asked = parser.parse_args()
    if not (SPEECH / "digits.tsv").is_file():
        print("The recordings of real people are not beside this checkout: nothing is measured.")
        return
    product = Product()
    report: dict[str, Any] = circumstances(product.place.fingerprint)
    for name in SETS:
        # Of so few as the others there is no sample.
        every = every_spoken(name)
        results = list(_heard(product, name, chosen(every, asked) if name == "digits" else every))
        report[name] = _report(results)
        _print(name, report[name])
    if is_whole(asked):
        write_report(REPORT, report)


def every_spoken(name: str) -> list[Spoken]:
    """The recordings of a set."""
    with (SPEECH / f"{name}.tsv").open(encoding="utf-8", newline="") as table:
        rows = list(csv.DictReader(table, delimiter="\t", quoting=csv.QUOTE_NONE))
    return [Spoken(SPEECH / row["file"], row["speaker"] or "-", row["text"]) for row in rows]


def _heard(product: Product, name: str, spoken: Iterable[Spoken]) -> Iterable[Result]:
    context = context_for(HERE / f"{name}.abnf", None)
    grammar = product.hearing(context.grammar, context.room)
    for one in spoken:
        samples = clean(one.file)
        decoder = product.decoder(samples, grammar)
        heard = understood(product.utterance(samples, grammar), context, decoder)
        yield Result(one, heard, outcome_of(one, heard))


def outcome_of(spoken: Spoken, heard: Heard) -> str:
    """What became of a recording."""
    if heard.match is None:
        return AGAIN
    return RIGHT if heard.match.text == spoken.text else WRONG


def _report(results: list[Result]) -> dict[str, Any]:
    keys: dict[str, Callable[[Result], str]] = {
        "all": lambda one: "all",
        "speaker": lambda one: one.spoken.speaker,
        "text": lambda one: one.spoken.text,
    }
    groups: dict[str, dict[str, Any]] = {}
    for name, key in keys.items():
        met: dict[str, list[str]] = {}
        for one in results:
            met.setdefault(key(one), []).append(one.outcome)
        shares = {group: counted(outcomes, OUTCOMES) for group, outcomes in met.items()}
        groups[name] = worst_first(shares, WRONG, AGAIN)
    return {
        **groups,
        "taken_wrong": [_told(one) for one in results if one.outcome == WRONG],
        "asked_again": [_told(one) for one in results if one.outcome == AGAIN],
    }


def _told(one: Result) -> str:
    heard = one.heard
    return f"{one.spoken.file.name}: {one.spoken.text} heard as {heard.words!r}, {heard.status}"


def _print(name: str, report: dict[str, Any]) -> None:
    for by in ("all", "speaker", "text"):
        print_proportions(f"{name} by {by}", report[by])
    for outcome in ("taken_wrong", "asked_again"):
        for one in report[outcome]:
            print(f"  {outcome.replace('_', ' ')}: {one}")


if __name__ == "__main__":
    main()
