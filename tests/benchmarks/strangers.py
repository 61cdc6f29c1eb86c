"""What strangers' talk amounts to: how often an answer or a command is taken that nobody gave.

`python tests/benchmarks/strangers.py` needs the recordings of real people that lie beside the
checkout; without them it says so and does nothing. Everything in them that is no digit and no order
is talk for us: single words, short sentences, read speech. Each file is one utterance, heard where
the fewest and where the most may be said, clean and with kitchen noise. *Answer* and *command* are
false ones; *asked* is talk that the assistant would react to; the rest is rightly ignored. The
upper bound is that of a Poisson rate, one-sided, 95%.
"""

from __future__ import annotations

import argparse
import csv
import math
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from measured import circumstances, print_table, write_report
from orders import SPEECH, mixed
from product import UNDERSTOOD, Product, understood

from voicelist.documents.bundle import load_bundle
from voicelist.hearing.sources import Samples, read_sound
from voicelist.places import shipped
from voicelist.session.case import Case, compile_case
from voicelist.session.machine import context_of
from voicelist.session.order import heard_here
from voicelist.session.state import State

REPORT = Path(__file__).with_suffix(".json")
PLAN = "practice-007"
SETS = ("wakewords", "precise", "reading", "cards", "an4")
SNRS_dB = {"clean": None, "15 dB": 15.0}
OUTCOMES = ("answer", "command", "asked", "ignored")


def main() -> None:
    """The command."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--every", type=int, default=1, help="only each so manieth file: no report")
    every: int = parser.parse_args().every
    if not (SPEECH / "wakewords.tsv").is_file():
        print("The recordings of real people are not beside this checkout: nothing is measured.")
        return
    product = Product()
    case = compile_case(load_bundle(shipped("grammars") / "plans" / f"{PLAN}.yaml"))
    places = {name: _at(case, name) for name in _fewest_and_most(case)}
    files = list(_files())[::every]
    noise = read_sound(SPEECH / "noise" / "kitchen.flac").samples[0].astype(np.float64)
    counts: dict[tuple[str, str], Counter[str]] = {}
    taken: list[dict[str, str]] = []
    seconds = 0.0
    for file in files:
        for level, snr_dB in SNRS_dB.items():
            samples = mixed(file, noise, snr_dB)
            seconds += len(samples) / 16_000 if snr_dB is None else 0.0
            for place, outcome, words in _heard(product, case, places, samples):
                counts.setdefault((place, level), Counter())[outcome] += 1
                if outcome in ("answer", "command"):
                    taken.append({"file": file.name, "at": place, "noise": level, "words": words})
    report = {
        **circumstances(product.place.fingerprint),
        "files": len(files),
        "hours": round(seconds / 3600, 3),
        "places": {f"{place}, {level}": dict(met) for (place, level), met in counts.items()},
        "answers_an_hour_at_most_95": round(_upper_95(_answers(counts)) / _hours(seconds), 2),
        "taken": taken,
    }
    rows = [(f"{p}, {n}", *(met[one] for one in OUTCOMES)) for (p, n), met in counts.items()]
    title = f"{len(files)} files, {seconds / 3600:.2f} hours, heard {len(counts)} times"
    print_table(title, ("", *OUTCOMES), rows)
    for one in taken:
        print(one)
    if every == 1:
        write_report(REPORT, report)


def _answers(counts: dict[tuple[str, str], Counter[str]]) -> int:
    return max(met["answer"] for met in counts.values())


def _hours(seconds: float) -> float:
    return seconds / 3600


def _upper_95(events: int) -> float:
    """The rate's exact upper bound for so many events (Garwood, Biometrika 1936;28:437-442), found
    by halving."""
    low, high = 0.0, 10.0 + 5.0 * events
    for _ in range(60):
        middle = (low + high) / 2
        below = sum(math.exp(-middle) * middle**k / math.factorial(k) for k in range(events + 1))
        low, high = (middle, high) if below > 0.05 else (low, middle)
    return high


def _fewest_and_most(case: Case) -> tuple[str, str]:
    """The items where the fewest and the most words may be said."""

    def words(item: str) -> int:
        return len(context_of(case, _at(case, item)).words())

    ranked = sorted(case.items, key=words)
    return ranked[0], ranked[-1]


def _at(case: Case, item: str) -> State:
    return State(section=case.section_of[item].id, current=item)


def _heard(
    product: Product, case: Case, places: dict[str, State], samples: Samples
) -> Iterator[tuple[str, str, str]]:
    for place, state in places.items():
        grammar = product.hearing(case.grammar, case.room, heard_here(case, state))
        heard = understood(product.utterance(samples, grammar), context_of(case, state))
        yield place, _outcome(heard.status, heard.match.rule if heard.match else ""), heard.words


def _outcome(status: str, rule: str) -> str:
    if status == UNDERSTOOD:
        return "command" if rule.startswith("command.") else "answer"
    return "ignored" if status == "not-for-us" else "asked"


def _files() -> Iterator[Path]:
    for name in SETS:
        with (SPEECH / f"{name}.tsv").open(encoding="utf-8", newline="") as table:
            for row in csv.DictReader(table, delimiter="\t", quoting=csv.QUOTE_NONE):
                yield SPEECH / row["file"]


if __name__ == "__main__":
    main()
