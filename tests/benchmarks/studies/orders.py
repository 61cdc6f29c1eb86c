"""Real orders by many speakers, clean, in noise and through what spoils speech: understood, asked
again, taken wrong.

`python -m tests.benchmarks.studies.orders` needs the recordings of real people that lie beside the
checkout; without them it says so and does nothing. Right means that all slots are as labelled and
no other slot is filled. Four ways are measured on the same sound: the product, with its wider
search, room words and second look; the product without the second look; the speech model as
published, used plainly; and pocketsphinx, where the extra `bench` is installed. `conditions.py`
says what is done to the sound. What was heard is kept: `--part 1 --of 4` and so on, then a run
without.
"""

from __future__ import annotations

import argparse
import csv
import importlib.metadata
import json
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache, partial
from pathlib import Path
from typing import Any

import numpy as np

from tests.benchmarks.harness import conditions
from tests.benchmarks.harness.baselines import PlainVosk, PocketSphinx
from tests.benchmarks.harness.fixtures import theatre_noise
from tests.benchmarks.harness.kept import Kept
from tests.benchmarks.harness.measured import (
    circumstances,
    counted,
    print_proportions,
    write_report,
)
from tests.benchmarks.harness.parts import add_part_options, chosen, is_whole
from tests.benchmarks.harness.places import REPORTS, SPEECH
from tests.benchmarks.harness.product import Heard, Product, understood
from voicelist.audio.samples import Samples
from voicelist.audio.sound_files import read_sound
from voicelist.grammar.match import Match
from voicelist.hear import context_for
from voicelist.understanding.context import Context

GRAMMAR = SPEECH / "coffee.abnf"
REPORT = REPORTS / "orders.json"
NOISES, SNRS_dB = ("kitchen", "babble8"), (24, 18, 12, 9, 6)
SUCTION_S, SUCTION_SEED = 60, 5
OUTCOMES = RIGHT, AGAIN, WRONG = ("right", "asked again", "taken wrong")
PRODUCT, ONCE = "the product", "the product, nothing heard again"
ONE_LOOK = "the same without the second look"

Slots = dict[str, str]
Condition = Callable[[Path], Samples]


@dataclass(frozen=True, slots=True)
class Order:
    """A recorded order and the slots that must be understood."""

    file: Path
    slots: Slots


def main() -> None:
    """The command."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n\n")[0])
    every = every_condition()
    parser.add_argument(
        "--only", nargs="+", choices=tuple(every), help="some conditions: no report"
    )
    add_part_options(parser)
    asked = parser.parse_args()
    if not (SPEECH / "coffee.tsv").is_file():
        print("The recordings of real orders are not beside this checkout: nothing is measured.")
        return
    ways = Ways()
    orders = chosen(list(every_order()), asked)
    report: dict[str, Any] = {**circumstances(ways.product.place.fingerprint), "conditions": {}}
    for name in asked.only or every:
        measured, wrong = _measured(ways, orders, every[name])
        print_proportions(f"{len(orders)} orders: {name}", measured)
        for one in wrong:
            print(f"  taken wrong: {one}")
        report["conditions"][name] = {"ways": measured, "product_took_wrong": wrong}
    if is_whole(asked) and not asked.only:
        write_report(REPORT, report)


def every_condition() -> dict[str, Condition]:
    """What may be done to an order's sound, by name."""
    found: dict[str, Condition] = {"clean": clean}
    for noise in NOISES:
        for snr_dB in SNRS_dB:
            found[f"{noise} {snr_dB} dB"] = partial(noisy, noise=noise, snr_dB=snr_dB)
    return {
        **found,
        "telephone band": lambda file: conditions.telephone(clean(file)),
        "mask -6 dB": lambda file: conditions.masked(clean(file), -6.0),
        "mask -12 dB": lambda file: conditions.masked(clean(file), -12.0),
        "far microphone": lambda file: conditions.far(clean(file), file.stem),
        "suction 12 dB": partial(noisy, noise="suction", snr_dB=12),
        "suction 6 dB": partial(noisy, noise="suction", snr_dB=6),
    }


def clean(file: Path) -> Samples:
    """As recorded."""
    samples: Samples = read_sound(file).samples[0]
    return samples


def noisy(file: Path, noise: str, snr_dB: float) -> Samples:
    """With a noise of the collection, or the hum and hiss of a theatre."""
    return conditions.mixed(clean(file), noise_wave(noise), snr_dB, file.stem)


@cache
def noise_wave(name: str) -> conditions.Wave:
    """A noise of the collection, or the hum and hiss of a theatre ("suction")."""
    if name == "suction":
        return np.asarray(theatre_noise(SUCTION_S * conditions.RATE_HZ, SUCTION_SEED), np.float64)
    return clean(SPEECH / "noise" / f"{name}.flac").astype(np.float64)


def _measured(
    ways: Ways, orders: Sequence[Order], condition: Condition
) -> tuple[dict[str, dict[str, Any]], list[dict[str, Any]]]:
    """By way: the proportions of the outcomes in one condition; what the product took wrong."""
    met: dict[str, list[str]] = {}
    wrong = []
    for order in orders:
        for way, slots in ways.heard(condition(order.file)):
            outcome = outcome_of(order, slots)
            met.setdefault(way, []).append(outcome)
            if way == PRODUCT and outcome == WRONG:
                wrong.append({"file": order.file.name, "said": order.slots, "taken": slots})
    return {way: counted(outcomes, OUTCOMES) for way, outcomes in met.items()}, wrong


class Ways:
    """The recognisers under comparison, each loaded once."""

    def __init__(self) -> None:
        kept = Kept()
        self.product = Product(kept)
        self.context: Context = context_for(GRAMMAR, None)
        grammar = self.context.grammar
        self._with_room = self.product.hearing(grammar, self.context.room)
        self._others: list[PlainVosk | PocketSphinx] = [
            PlainVosk(self.product.place, grammar, kept)
        ]
        try:
            self._others.append(PocketSphinx(grammar, kept))
        except importlib.metadata.PackageNotFoundError:
            print("pocketsphinx is not installed (pip install '.[bench]'): measured without it.")

    def heard(self, samples: Samples) -> Iterator[tuple[str, Slots | None]]:
        """Each way's name and the slots that it takes, None where it takes nothing."""
        utterance = self.product.utterance(samples, self._with_room)
        decoder = self.product.decoder(samples, self._with_room)
        yield PRODUCT, taken(understood(utterance, self.context, decoder))
        yield ONCE, taken(understood(utterance, self.context))
        yield ONE_LOOK, taken(understood(utterance, self.context, second_pass=False))
        for other in self._others:
            yield other.name, self._first(other.texts(samples))

    def _first(self, texts: Sequence[str]) -> Slots | None:
        """The slots of the first text that is a permitted sentence."""
        for text in texts:
            matches = self.context.permitted(tuple(text.split()))
            if matches:
                return _slots_of(matches[0])
        return None


def taken(heard: Heard) -> Slots | None:
    """The slots that are filled, None where nothing is taken."""
    return _slots_of(heard.match) if heard.match is not None else None


def every_order() -> Iterator[Order]:
    """Those at hand."""
    with (SPEECH / "coffee.tsv").open(encoding="utf-8", newline="") as table:
        for row in csv.DictReader(table, delimiter="\t", quoting=csv.QUOTE_NONE):
            yield Order(SPEECH / row["file"], json.loads(row["label"])["slots"])


def _slots_of(match: Match) -> Slots:
    """The words of each slot; the rules that only hold others are no slots."""
    holders = ("order", "verb", "extra")
    return {name: str(words) for name, words in match.slots().items() if name not in holders}


def outcome_of(order: Order, slots: Slots | None) -> str:
    """What became of an order of which these slots were taken."""
    if slots is None:
        return AGAIN
    return RIGHT if slots == order.slots else WRONG


if __name__ == "__main__":
    main()
