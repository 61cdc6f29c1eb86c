"""What strangers' talk amounts to: how often an answer or a command is taken that nobody gave.

`python -m tests.benchmarks.studies.strangers` needs the recordings of real people that lie beside
the checkout; without them it says so and does nothing. Everything in them but digits and noise is
talk for us: single words, short sentences, orders, read speech, two at a time. Each file is one
utterance, clean and in noise, heard in three ways: where the fewest phrases are listened for, where
the most, and with every answer of the largest checklist permitted at once, as `voicelist hear` has
it. *Answer* and *command* are false ones; *asked* is talk that the assistant would react to; the
rest is rightly ignored. The bound is that of a Poisson rate, one-sided, 95%: over the hours of each
way and noise by themselves, since the same talk heard again is no new talk.
"""

from __future__ import annotations

import argparse
import csv
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tests.benchmarks.harness.conditions import RATE_HZ, mixed
from tests.benchmarks.harness.measured import (
    circumstances,
    print_table,
    rate_upper_95,
    write_report,
)
from tests.benchmarks.harness.parts import add_part_options, chosen, is_whole
from tests.benchmarks.harness.places import REPORTS, SPEECH
from tests.benchmarks.harness.product import UNDERSTOOD, Heard, Product, understood
from tests.benchmarks.studies.orders import clean, noise_wave
from voicelist.audio.samples import Samples
from voicelist.documents.bundle import load_bundle
from voicelist.hear import context_for
from voicelist.listening.sound import context_by_sound, near_by_phones
from voicelist.places import shipped
from voicelist.session.case import compile_case
from voicelist.session.order import heard_here
from voicelist.session.state import State
from voicelist.understanding.context import Context
from voicelist.understanding.phrase_lists import HearingGrammar

REPORT = REPORTS / "strangers.json"
SETS = ("wakewords", "coffee", "precise", "reading", "cards", "an4")
SNRS_dB = {"clean": None, "kitchen 15 dB": 15.0}
OUTCOMES = ANSWER, COMMAND, ASKED, IGNORED = ("answer", "command", "asked", "ignored")
_LONGEST_S = 115  # the kitchen is a little longer


@dataclass(frozen=True, slots=True)
class Place:
    """Somewhere to be misunderstood."""

    name: str
    grammar: HearingGrammar
    context: Context


@dataclass(frozen=True, slots=True)
class Taken:
    """Talk that was taken for an answer or a command."""

    file: str
    at: str
    noise: str
    rule: str
    words: str


def main() -> None:
    """The command."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n\n")[0])
    add_part_options(parser)
    asked = parser.parse_args()
    if not (SPEECH / "wakewords.tsv").is_file():
        print("The recordings of real people are not beside this checkout: nothing is measured.")
        return
    product = Product()
    places = list(every_place(product))
    talk = chosen(list(files()), asked)
    counts: dict[tuple[str, str], Counter[str]] = {}
    taken: list[Taken] = []
    seconds = 0.0
    for file in talk:
        for noise, samples in _sounds(file):
            seconds += len(samples) / RATE_HZ if noise == "clean" else 0.0
            for place in places:
                utterance = product.utterance(samples, place.grammar)
                decoder = product.decoder(samples, place.grammar)
                heard = understood(utterance, place.context, decoder)
                outcome = _outcome(heard)
                counts.setdefault((place.name, noise), Counter())[outcome] += 1
                if heard.match is not None and heard.status == UNDERSTOOD:
                    rule = heard.match.rule
                    taken.append(Taken(file.name, place.name, noise, rule, heard.words))
    report = _report(counts, taken, len(talk), seconds / 3600)
    _print(report)
    if is_whole(asked):
        write_report(REPORT, {**circumstances(product.place.fingerprint), **report})


def every_place(product: Product) -> Iterator[Place]:
    """Of all places in all shipped plans that with the fewest phrases and that with the most; then
    the largest checklist as a whole."""
    found: dict[tuple[int, int], Place] = {}
    largest = (0, "")
    for plan in sorted((shipped("grammars") / "plans").glob("*.yaml")):
        case = compile_case(load_bundle(plan))
        largest = max(largest, (len(case.items), case.bundle.checklist.id))
        grammars: dict[tuple[str, ...], HearingGrammar] = {}
        near = near_by_phones(case)
        for item, section in case.section_of.items():
            state = State(section=section.id, current=item)
            roots, context = heard_here(case, state), context_by_sound(case, state, near)
            if roots not in grammars:
                grammars[roots] = product.hearing(case.grammar, case.room, roots)
            size = (len(grammars[roots].phrases), len(context.words()))
            name = f"{plan.stem} {item}, {size[0]} phrases"
            found.setdefault(size, Place(name, grammars[roots], context))
    yield found[min(found)]
    yield found[max(found)]
    context = context_for(shipped("grammars") / "checklists" / f"{largest[1]}.yaml", None)
    whole = product.hearing(context.grammar, context.room)
    yield Place(f"all of {largest[1]}, {len(whole.phrases)} phrases", whole, context)


def files() -> Iterator[Path]:
    """All that is talk for us."""
    for name in SETS:
        with (SPEECH / f"{name}.tsv").open(encoding="utf-8", newline="") as table:
            for row in csv.DictReader(table, delimiter="\t", quoting=csv.QUOTE_NONE):
                yield SPEECH / row["file"]


def _sounds(file: Path) -> Iterator[tuple[str, Samples]]:
    samples = clean(file)[: _LONGEST_S * RATE_HZ]
    for name, snr_dB in SNRS_dB.items():
        yield (
            name,
            samples if snr_dB is None else mixed(samples, noise_wave("kitchen"), snr_dB, file.stem),
        )


def _outcome(heard: Heard) -> str:
    if heard.status == UNDERSTOOD:
        is_command = heard.match is not None and heard.match.rule.startswith("command.")
        return COMMAND if is_command else ANSWER
    return IGNORED if heard.status == "not-for-us" else ASKED


def _report(
    counts: dict[tuple[str, str], Counter[str]], taken: Sequence[Taken], files: int, hours: float
) -> dict[str, Any]:
    rows = {
        f"{place}; {noise}": {
            **{one: met[one] for one in OUTCOMES},
            "hours": round(hours, 3),
            "answers_an_hour_at_most_95": round(rate_upper_95(met[ANSWER]) / hours, 2),
            "taken_an_hour_at_most_95": round(rate_upper_95(met[ANSWER] + met[COMMAND]) / hours, 2),
        }
        for (place, noise), met in counts.items()
    }
    told = [
        {"file": one.file, "at": one.at, "noise": one.noise, "rule": one.rule, "words": one.words}
        for one in taken
    ]
    return {"files": files, "hours": round(hours, 3), "heard": rows, "taken": told}


def _print(report: dict[str, Any]) -> None:
    head = ("", *OUTCOMES, "answers an hour, 95% at most", "with commands")
    rows = [
        (
            name,
            *(row[one] for one in OUTCOMES),
            row["answers_an_hour_at_most_95"],
            row["taken_an_hour_at_most_95"],
        )
        for name, row in report["heard"].items()
    ]
    title = f"{report['files']} files, {report['hours']} hours, heard {len(rows)} times"
    print_table(title, head, rows)
    for one in report["taken"]:
        print(f"  taken: {one}")


if __name__ == "__main__":
    main()
