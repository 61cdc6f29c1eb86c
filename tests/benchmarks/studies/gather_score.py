"""The evidence of many decisions, one line of JSON each, for `fit_score.py`.

`python -m tests.benchmarks.studies.gather_score` hears the sample of `score_sample.py` and writes
`evidence1.jsonl` into the benchmarks' cache. It goes on where it was; with `--anew` the evidence is
taken anew from what was decoded, which is quick. `--until 23:50` ends it.
"""

from __future__ import annotations

import argparse
import datetime
import json
from typing import Any

import numpy as np

from tests.benchmarks.harness.fixtures import EngineMissingError, example_bundle, state_at
from tests.benchmarks.harness.kept import kept_folder
from tests.benchmarks.harness.parts import add_part_options, chosen
from tests.benchmarks.harness.product import Product, heard_as, strict_context
from tests.benchmarks.harness.score_evidence import Heard, RecordingDecoder, features_of
from tests.benchmarks.harness.score_sample import Sample, every_sample
from tests.benchmarks.studies import digits, orders
from tests.benchmarks.studies.understanding import REFUSED, meaning_taken, outcome_of
from voicelist.asr import edges
from voicelist.audio.samples import Samples
from voicelist.hear import context_for
from voicelist.places import shipped
from voicelist.session.case import compile_case
from voicelist.session.order import heard_here
from voicelist.understanding.context import Context
from voicelist.understanding.decision import decide
from voicelist.understanding.hypothesis import Passes
from voicelist.understanding.interpretation import NotUnderstood, Understanding, Understood
from voicelist.understanding.phrase_lists import HearingGrammar
from voicelist.understanding.policy import POLICY

EVIDENCE = "evidence{}.jsonl"
RIGHT, WRONG, AGAIN = "right", "taken wrong", "asked again"


def gathered() -> list[dict[str, Any]]:
    """What was gathered by all parts, each sample once."""
    rows = (
        json.loads(line)
        for file in sorted(kept_folder().glob(EVIDENCE.format("*")))
        for line in file.read_text(encoding="utf-8").splitlines()
    )
    return list({row["key"]: row for row in rows}.values())


class Places:
    """Where each sample is heard."""

    def __init__(self, product: Product) -> None:
        self._product = product
        self._made: dict[object, tuple[HearingGrammar, Context]] = {}
        self._case = compile_case(example_bundle())

    def of(self, sample: Sample) -> tuple[HearingGrammar, Context]:
        """The grammar and what may be said."""
        match sample.group:
            case "orders":
                return self._file(orders.GRAMMAR)
            case "digits":
                return self._file(digits.HERE / "digits.abnf")
            case "strangers":
                return self._whole()
        return self._clip(sample.asked)

    def _file(self, file: Any) -> tuple[HearingGrammar, Context]:
        if file not in self._made:
            context = context_for(file, None)
            self._made[file] = (self._product.hearing(context.grammar, context.room), context)
        return self._made[file]

    def _whole(self) -> tuple[HearingGrammar, Context]:
        return self._file(shipped("grammars") / "checklists" / "phaco-full.yaml")

    def _clip(self, asked: str) -> tuple[HearingGrammar, Context]:
        state = state_at(self._case, asked)
        roots = heard_here(self._case, state)
        if roots not in self._made:
            made = self._product.hearing(self._case.grammar, self._case.room, roots)
            self._made[roots] = (made, strict_context(self._case, state))
        return self._made[roots][0], strict_context(self._case, state)


def main() -> None:
    """The command."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n\n")[0])
    parser.add_argument("--anew", action="store_true", help="from what was decoded alone")
    add_part_options(parser)
    parser.add_argument("--until", default="", metavar="HH:MM", help="end at that time of day")
    asked = parser.parse_args()
    file = kept_folder() / EVIDENCE.format(asked.part)
    known = {row["key"] for row in gathered()}
    every = chosen(every_sample(), asked)
    if asked.anew:
        every, known = [one for one in every if one.key in known], set()
    product = Product()
    places = Places(product)
    fresh = file.with_suffix(".new") if asked.anew else file
    with fresh.open("w" if asked.anew else "a", encoding="utf-8") as out:
        for sample in every:
            if asked.until and f"{datetime.datetime.now():%H:%M}" >= asked.until:
                break
            if sample.key not in known:
                known.add(sample.key)
                try:
                    out.write(json.dumps(_row(product, places, sample)) + "\n")
                except EngineMissingError as missing:
                    print(missing)
                out.flush()
    if asked.anew:
        for old in kept_folder().glob(EVIDENCE.format("*")):
            old.unlink()
        fresh.replace(file)


def _row(product: Product, places: Places, sample: Sample) -> dict[str, Any]:
    grammar, context = places.of(sample)
    samples = sample.sound()
    passes = product.utterance(samples, grammar).passes
    recorded = RecordingDecoder(product.decoder(samples, grammar))
    found = decide(passes, context, recorded, POLICY)
    heard = Heard.of(found, [passes, *recorded.decodings()], context)
    answer = heard.candidate()
    row: dict[str, Any] = {
        **{name: getattr(sample, name) for name in ("key", "group", "condition", "recording")},
        **{name: getattr(sample, name) for name in ("speaker", "text", "aside", "family")},
        **{name: getattr(sample, name) for name in ("known_wrong", "of")},
        "accepted": isinstance(found, Understood),
        "status": type(found).__name__,
        "doubt": found.doubt.name if isinstance(found, NotUnderstood) else "",
        "outcome": _judged(sample, found, passes),
        "spent_s": round(recorded.now_s(), 3),
    }
    if answer is not None:
        row |= {
            "candidate": " ".join(answer.words),
            "candidate_right": _judged(sample, answer, passes) == RIGHT,
            "passes_nothing": context.passes_nothing(answer.matches),
            "features": features_of(answer, heard, recorded, _snr_dB(samples)),
        }
    return row


def _judged(sample: Sample, found: Understanding, passes: Passes) -> str:
    """Right, taken wrong, or asked again: refused, denied, not for us."""
    if not isinstance(found, Understood):
        return AGAIN
    heard = heard_as(found, passes)
    match sample.group:
        case "orders":
            right = orders.taken(heard) == json.loads(sample.text)
        case "digits":
            right = heard.match is not None and heard.match.text == sample.text
        case "strangers":
            right = False
        case _:
            right = outcome_of(sample, meaning_taken(heard)) in (RIGHT, REFUSED)
    return RIGHT if right else WRONG


def _snr_dB(samples: Samples) -> float:
    """How far the loudest of a sound stands out from its quietest."""
    levels = edges.loudness_of(samples)
    if not len(levels):
        return 0.0
    quietest, loudest = np.percentile(levels, (10.0, 95.0))
    return float(loudest - quietest)


if __name__ == "__main__":
    main()
