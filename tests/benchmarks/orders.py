"""Real orders by many speakers, clean and in kitchen noise: understood, asked again, taken wrong.

`python tests/benchmarks/orders.py` needs the recordings of real people that lie beside the
checkout; without them it says so and does nothing. Right means that all slots are as labelled and
no other slot is filled. The noise is scaled so that the largest energy of a 2048-sample frame of
speech is `snr_dB` above that of the noise; the sum is brought to half of full scale. Three ways are
measured: of the model as published the first of ten alternatives that parses strictly; the product,
with its wider search, room words and second look; the product without the second look.
"""

from __future__ import annotations

import argparse
import csv
import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
from measured import circumstances, print_table, proportion, shown, write_report
from product import Heard, Product, understood

from voicelist.hear import context_for
from voicelist.hearing.recogniser import Recogniser
from voicelist.hearing.sources import Samples, read_sound
from voicelist.hearing.whole import decode_whole
from voicelist.phrases.hearing import HearingGrammar, hearing_grammar
from voicelist.phrases.match import Match
from voicelist.phrases.understanding import Context

SPEECH = Path(__file__).resolve().parents[3] / "shared" / "speech"
REPORT = Path(__file__).with_suffix(".json")
SNRS_dB = {"clean": None, "24 dB": 24, "18 dB": 18, "12 dB": 12, "9 dB": 9, "6 dB": 6}
_FRAME = 2048
_HALF_OF_FULL_SCALE = 16_384
_OUTCOMES = ("right", "asked again", "taken wrong")

Slots = dict[str, str]
Wave = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Order:
    """A recorded order and the slots that must be understood."""

    file: Path
    slots: Slots


def main() -> None:
    """The command."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--limit", type=int, help="so many orders; then no report is written")
    parser.add_argument(
        "--noise", nargs="+", choices=tuple(SNRS_dB), default=tuple(SNRS_dB), help="in this order"
    )
    asked = parser.parse_args()
    limit: int | None = asked.limit
    if not (SPEECH / "coffee.tsv").is_file():
        print("The recordings of real orders are not beside this checkout: nothing is measured.")
        return
    ways = Ways()
    orders = list(_orders())[:limit]
    noise = read_sound(SPEECH / "noise" / "kitchen.flac").samples[0].astype(np.float64)
    report: dict[str, Any] = {**circumstances(ways.product.place.fingerprint), "ways": {}}
    for name in asked.noise:
        measured = _measured(ways, orders, noise, SNRS_dB[name])
        for way, parts in measured.items():
            report["ways"].setdefault(way, {})[name] = parts
        rows = [(way, *(shown(parts[one]) for one in _OUTCOMES)) for way, parts in measured.items()]
        print_table(f"{len(orders)} orders, kitchen noise: {name}", ("", *_OUTCOMES), rows)
        if limit is None:
            write_report(REPORT, report)  # what is measured so far: all of it takes hours


def _measured(
    ways: Ways, orders: Sequence[Order], noise: Wave, snr_dB: float | None
) -> dict[str, dict[str, Any]]:
    """By way: the proportions of the outcomes in one condition."""
    met: dict[str, list[str]] = {}
    for order in orders:
        for way, slots in ways.heard(mixed(order.file, noise, snr_dB)):
            met.setdefault(way, []).append(_outcome(order, slots))
    return {
        way: {one: proportion(outcomes.count(one), len(outcomes)) for one in _OUTCOMES}
        for way, outcomes in met.items()
    }


class Ways:
    """The recognisers under comparison, each loaded once."""

    def __init__(self) -> None:
        self.product = Product()
        self._published = Recogniser(self.product.place.path)
        self.context: Context = context_for(SPEECH / "coffee.abnf", None)
        grammar = self.context.grammar
        self._bare: HearingGrammar = hearing_grammar(grammar)
        self._with_room = self.product.hearing(grammar, self.context.room)

    def heard(self, samples: Samples) -> Iterator[tuple[str, Slots | None]]:
        """Each way's name and the slots that it takes, None where it takes nothing."""
        published = decode_whole(self._published, samples, self._bare)
        texts = [one.text for one in published.alternatives]
        yield "10 alternatives, model as published", self._first(texts)
        utterance = self.product.utterance(samples, self._with_room)
        yield "the product", _taken(understood(utterance, self.context))
        one_look = understood(utterance, self.context, second_look=False)
        yield "the product without the second look", _taken(one_look)

    def _first(self, texts: Sequence[str]) -> Slots | None:
        """The slots of the first text that is a permitted sentence."""
        for text in texts:
            matches = self.context.permitted(tuple(text.split()))
            if matches:
                return _slots_of(matches[0])
        return None


def _taken(heard: Heard) -> Slots | None:
    return _slots_of(heard.match) if heard.match is not None else None


def _orders() -> Iterator[Order]:
    with (SPEECH / "coffee.tsv").open(encoding="utf-8", newline="") as table:
        for row in csv.DictReader(table, delimiter="\t", quoting=csv.QUOTE_NONE):
            yield Order(SPEECH / row["file"], json.loads(row["label"])["slots"])


def _slots_of(match: Match) -> Slots:
    """The words of each slot; the rules that only hold others are no slots."""
    holders = ("order", "verb", "extra")
    return {name: str(words) for name, words in match.slots().items() if name not in holders}


def _outcome(order: Order, slots: Slots | None) -> str:
    if slots is None:
        return "asked again"
    return "right" if slots == order.slots else "taken wrong"


def mixed(file: Path, noise: Wave, snr_dB: float | None) -> Samples:
    """An order with noise from a place that follows from the file's name."""
    clean: Samples = read_sound(file).samples[0]
    if snr_dB is None:
        return clean
    speech: Wave = clean.astype(np.float64)
    offset = int.from_bytes(file.stem[:8].encode(), "big") % (len(noise) - len(speech) + 1)
    part = noise[offset : offset + len(speech)]
    gain = np.sqrt(_largest_energy(speech) / (_largest_energy(part) * 10 ** (snr_dB / 10)))
    mixed = speech + gain * part
    halved: Samples = (mixed / np.abs(mixed).max() * _HALF_OF_FULL_SCALE).astype(np.int16)
    return halved


def _largest_energy(sound: Wave) -> float:
    """The largest energy of the whole frames of 2048 samples."""
    frames = sound[: len(sound) // _FRAME * _FRAME].reshape(-1, _FRAME)
    return float((frames**2).sum(axis=1).max())


if __name__ == "__main__":
    main()
