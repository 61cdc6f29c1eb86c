"""What each limit of the decision's policy is worth: decisions replayed under other limits.

`python -m tests.benchmarks.studies.policy_sweep` takes answers and near misses
(`understanding.py`), orders in noise (`orders.py`) and digits (`digits.py`), decodes them as those
do, or takes what they have kept, and decides anew with each limit smaller and larger, all else as
it is. A limit that changes nothing over a wide range is not needed. `--set close=1.0 lost=1.0`
tries other values. Every question has its answer kept with the time it took, so that deadlines are
those of a session.
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, fields, replace
from functools import partial
from typing import Any
from unittest.mock import patch

from tests.benchmarks.harness.clip_ear import ClipEar, clips_of
from tests.benchmarks.harness.kept import KeptDecoder, Timed
from tests.benchmarks.harness.measured import circumstances, print_table, write_report
from tests.benchmarks.harness.parts import add_part_options, chosen, is_whole
from tests.benchmarks.harness.places import REPORTS
from tests.benchmarks.harness.product import Product, heard_as
from tests.benchmarks.studies import digits, orders
from tests.benchmarks.studies.understanding import meaning_taken, outcome_of
from voicelist.hear import context_for
from voicelist.understanding import interpretation, parsing
from voicelist.understanding.context import Context
from voicelist.understanding.decision import decide
from voicelist.understanding.hypothesis import Hypothesis, Passes
from voicelist.understanding.interpretation import Understanding
from voicelist.understanding.parsing import ParsedHypothesis
from voicelist.understanding.policy import POLICY, Policy
from voicelist.understanding.questions import Question

REPORT = REPORTS / "policy_sweep.json"
NOISES = ("kitchen 9 dB", "kitchen 6 dB", "babble8 12 dB")
FACTORS = (0.0, 0.5, 0.75, 1.25, 1.5, 2.0)
# Limits on which the strict parse depends.
_OF_THE_PARSE = (
    *("edge_noise_at_most_s", "lost", "close_alike", "unlikely"),
    *("long_words", "few_words"),
)
Counts = Counter[tuple[str, str]]


@dataclass(frozen=True, slots=True)
class Decision:
    """Something to decide: what was decoded, where, who answers, and how to judge the outcome."""

    group: str
    passes: Passes
    context: Context
    decoder: KeptDecoder
    judge: Callable[[Understanding], str]


def main() -> None:
    """The command."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n\n")[0])
    parser.add_argument("--set", nargs="+", default=[], metavar="NAME=VALUE", help="other values")
    parser.add_argument("--noises", nargs="*", default=NOISES, help="of the orders")
    add_part_options(parser)
    asked = parser.parse_args()
    product = Product()
    decisions = list(gathered(product, asked))
    replay = Replay(decisions)
    base = replay.counts(with_values(POLICY, asked.set))
    print_table(f"{len(decisions)} decisions", ("group", "outcome", "count"), rows_of(base))
    if asked.set:
        return
    report = {name: swept(replay, name, base) for name in swept_names(POLICY)}
    for name, found in report.items():
        print(f"{name}: {found}", flush=True)
    if is_whole(asked):
        told = {"as_it_is": as_plain(base), "changed": report}
        write_report(REPORT, {**circumstances(product.place.fingerprint), **told})


def with_values(policy: Policy, values: Sequence[str]) -> Policy:
    """The policy with `name=value` for some limits."""
    pairs = (one.split("=") for one in values)
    return replace(policy, **{name: type(getattr(policy, name))(value) for name, value in pairs})


def swept_names(policy: Policy) -> list[str]:
    """The limits that are numbers."""
    return [
        one.name for one in fields(policy) if isinstance(getattr(policy, one.name), float | int)
    ]


def swept(replay: Replay, name: str, base: Counts) -> dict[str, Any]:
    """By factor: what changes in the counts if a limit is so many times what it is."""
    value = getattr(POLICY, name)
    found = {}
    for factor in FACTORS:
        policy = replace(POLICY, **{name: type(value)(value * factor)})
        counts = replay.counts(policy)
        changed = {key: counts[key] - base[key] for key in counts | base}
        found[str(factor)] = {f"{g}: {o}": by for (g, o), by in sorted(changed.items()) if by}
    return found


def rows_of(counts: Counts) -> list[tuple[str, str, int]]:
    """For a table."""
    return [(group, outcome, count) for (group, outcome), count in sorted(counts.items())]


def as_plain(counts: Counts) -> dict[str, int]:
    """For a report."""
    return {f"{group}: {outcome}": count for group, outcome, count in rows_of(counts)}


class Replay:
    """Decides again and again; what is parsed and answered once is remembered."""

    def __init__(self, decisions: Sequence[Decision]) -> None:
        self._decisions = [replace(one, decoder=_remembering(one.decoder)) for one in decisions]
        self._parsed: dict[Any, list[ParsedHypothesis]] = {}

    def counts(self, policy: Policy) -> Counts:
        """How many decisions come to what, by group."""
        with patch.object(interpretation, "parsed", self._parse):
            return Counter((one.group, self.outcome(one, policy)) for one in self._decisions)

    @staticmethod
    def outcome(decision: Decision, policy: Policy) -> str:
        """What becomes of one."""
        decision.decoder.spent_s = 0.0
        found = decide(decision.passes, decision.context, decision.decoder, policy)
        return decision.judge(found)

    def _parse(
        self, hypotheses: Sequence[Hypothesis], context: Context, policy: Policy
    ) -> list[ParsedHypothesis]:
        limits = tuple(getattr(policy, name) for name in _OF_THE_PARSE)
        key = (id(context.grammar), context.active, tuple(hypotheses), limits)
        if key not in self._parsed:
            self._parsed[key] = parsing.parsed(hypotheses, context, policy)
        return self._parsed[key]


def _remembering(decoder: KeptDecoder) -> KeptDecoder:
    known: dict[Question, Timed] = {}

    def timed(question: Question) -> Timed:
        if question not in known:
            known[question] = decoder.timed(question)
        return known[question]

    return KeptDecoder(timed, timed)


def gathered(product: Product, asked: argparse.Namespace) -> Iterator[Decision]:
    """What is to be decided."""
    ear = ClipEar(product)
    for clip in chosen(clips_of(0), asked):
        utterance, context, decoder = ear.hear(clip)

        def judged(
            found: Understanding, clip: Any = clip, passes: Passes = utterance.passes
        ) -> str:
            return outcome_of(clip, meaning_taken(heard_as(found, passes)))

        yield Decision(clip.folder, utterance.passes, context, decoder, judged)
    if not orders.GRAMMAR.is_file():
        print("The recordings of real people are not beside this checkout: without them.")
        return
    yield from _orders(product, asked)
    yield from _digits(product, asked)


def _orders(product: Product, asked: argparse.Namespace) -> Iterator[Decision]:
    context = context_for(orders.GRAMMAR, None)
    grammar = product.hearing(context.grammar, context.room)
    for noise in asked.noises:
        for order in chosen(list(orders.every_order()), asked):
            samples = orders.every_condition()[noise](order.file)
            passes = product.utterance(samples, grammar).passes
            judged = partial(_order_outcome, order, passes)
            yield Decision(
                f"orders, {noise}", passes, context, product.decoder(samples, grammar), judged
            )


def _order_outcome(order: orders.Order, passes: Passes, found: Understanding) -> str:
    return orders.outcome_of(order, orders.taken(heard_as(found, passes)))


def _digits(product: Product, asked: argparse.Namespace) -> Iterator[Decision]:
    context = context_for(digits.HERE / "digits.abnf", None)
    grammar = product.hearing(context.grammar, context.room)
    for spoken in chosen(digits.every_spoken("digits"), asked):
        samples = orders.clean(spoken.file)
        passes = product.utterance(samples, grammar).passes
        judged = partial(_digit_outcome, spoken, passes)
        yield Decision("digits", passes, context, product.decoder(samples, grammar), judged)


def _digit_outcome(spoken: digits.Spoken, passes: Passes, found: Understanding) -> str:
    return digits.outcome_of(spoken, heard_as(found, passes))


if __name__ == "__main__":
    main()
