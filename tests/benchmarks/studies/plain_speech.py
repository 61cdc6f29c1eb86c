"""Plain speech by sound: what people's own words amount to in voices of four engines, and in noise.

`python -m tests.benchmarks.studies.plain_speech` has each line beside the checkout
(`spoken_lines.py`) said while its item is asked, and hears it as a session does: under the phrases
of the section, then, where nothing permitted was understood, by the second model freely. Without
the lines it says so and does nothing. What counts is what passes when it is typed: by sound that
passes at once, is *read back* as it is when typed or as a stop item is, is *read back too* where
typed it passes at once, is asked again, or is taken *otherwise*. Questions, doubts, orders and
faults must not pass.

What was heard is kept: after a change of understanding alone a run takes about a minute. During
development three voices and half of the lines were looked at; quoted are the others.
"""

from __future__ import annotations

import argparse
import math
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from tests.benchmarks.harness.conditions import Samples
from tests.benchmarks.harness.measured import (
    circumstances,
    print_table,
    proportion,
    shown,
    write_report,
)
from tests.benchmarks.harness.parts import add_part_options, chosen, is_whole
from tests.benchmarks.harness.places import LINES, REPORTS
from tests.benchmarks.harness.product import Product
from tests.benchmarks.harness.spoken_lines import (
    DEVELOPMENT,
    HELD_OUT,
    MIXED,
    Clip,
    clips,
    lines,
    make_missing,
    sound_of,
)
from voicelist.documents.bundle import load_bundle
from voicelist.lines import Typed, TypedLine, setting_values
from voicelist.listening.both_hear import BySound, HeardSound, weighed_answer
from voicelist.listening.sound import context_by_sound, near_by_phones
from voicelist.places import shipped
from voicelist.session.case import Case, compile_case, is_harmless
from voicelist.session.order import heard_here
from voicelist.session.state import State
from voicelist.session.values import value_said
from voicelist.understanding.decision import decide
from voicelist.understanding.interpretation import (
    Unconfirmed,
    Understanding,
    Understood,
)
from voicelist.understanding.phrase_lists import HearingGrammar
from voicelist.understanding.plain_score import Evidence
from voicelist.understanding.policy import POLICY
from voicelist.understanding.questions import Inquiry

REPORT = REPORTS / "plain_speech.json"
PLAN, CHECKLIST = "practice-101", "phaco-full"
AT_ONCE, AGAIN, OTHERWISE = "at once", "asked again", "otherwise"
# A stop item, settings, and what is read back when it is typed; then what passes when it is typed.
READ_BACK, READ_BACK_TOO = "read back", "read back too"
PASSED_STOP, PASSED, READ, KEPT = "passed a stop item", "passed another", "read back", "not taken"
_PASSES = ("done", "stated", "value")
_OFFERED = ("choice", "details", "does_not_apply")
_COMMAND = "command."


@dataclass(frozen=True, slots=True)
class Meant:
    """What an utterance passes, at once or once it is agreed to: the item, and its value."""

    item: str
    value: str
    at_once: bool


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of a clip."""

    clip: Clip
    came_to: str
    words: str

    @property
    def noise(self) -> str:
        """Whether it was clean."""
        return "clean" if self.clip.snr_dB is None else f"{self.clip.snr_dB:g} dB"


def main() -> None:
    """The command."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n\n")[0])
    parser.add_argument("--half", choices=(DEVELOPMENT, HELD_OUT, MIXED), help="only these clips")
    parser.add_argument("--first", type=int, metavar="N", help="a sample of so many; no report")
    parser.add_argument("--told", metavar="OUTCOME", help="tell what came to this, of development")
    add_part_options(parser)
    asked = parser.parse_args()
    if not LINES.is_file():
        print("The lines are not beside this checkout: nothing is measured.")
        return
    wanted = [one for one in clips(lines()) if asked.half in (None, one.half)]
    wanted = chosen(wanted[: asked.first], asked)
    for sentence in make_missing(wanted):
        print(sentence)
    hearing = Hearing(Product())
    outcomes = []
    for one in hearing.outcomes([one for one in wanted if one.file.is_file()]):
        outcomes.append(one)
        if one.came_to == asked.told and one.clip.half == DEVELOPMENT:
            line, voice = one.clip.line, one.clip.voice
            print(f"  {line.item}: {line.text} ({voice}): {one.words}", flush=True)
    report = _report(outcomes)
    _print(report)
    if is_whole(asked) and asked.half is None and asked.first is None:
        write_report(REPORT, {**circumstances(hearing.fingerprint), **report})


class Hearing:
    """The product at the items of a case with the full list."""

    def __init__(self, product: Product) -> None:
        grammars = shipped("grammars")
        self.fingerprint = product.place.fingerprint
        self._product = product
        self._case: Case = compile_case(load_bundle(grammars / "plans" / f"{PLAN}.yaml"))
        self._typed = Typed(grammars / "checklists" / f"{CHECKLIST}.yaml")
        self._near = near_by_phones(self._case)
        self._grammars: dict[tuple[str, ...], HearingGrammar] = {}

    def outcomes(self, wanted: Sequence[Clip]) -> Iterator[Outcome]:
        """Of confirmations those that pass when typed; of all else everything."""
        right = self._right_values()
        for clip in wanted:
            line = clip.line
            typed = self.when_typed(line.item, line.text)
            if line.kind == "yes" and typed is None:
                continue
            heard = self.heard(clip)
            if line.kind == "yes" and typed is not None:
                came_to = self._confirmed(heard, typed)
            else:
                came_to = self._not_meant(heard, right)
            yield Outcome(clip, came_to, f"{type(heard).__name__} {' '.join(heard.words)}")

    def heard(self, clip: Clip) -> Understanding:
        """What a clip amounts to while its item is asked."""
        item = clip.line.item
        state = State(section=self._case.section_of[item].id, current=item)
        grammar = self._grammar(heard_here(self._case, state))
        samples = sound_of(clip)
        utterance = self._product.utterance(samples, grammar)
        context = context_by_sound(self._case, state, self._near)
        decoder = self._product.decoder(samples, grammar)
        return decide(utterance.passes, context, decoder, POLICY)

    def _grammar(self, roots: tuple[str, ...]) -> HearingGrammar:
        if roots not in self._grammars:
            case = self._case
            self._grammars[roots] = self._product.hearing(case.grammar, case.room, roots)
        return self._grammars[roots]

    def evidence(self, item: str, samples: Samples) -> Evidence | None:
        """What both models make of the likeliest answer to an item; None where there is none."""
        state = State(section=self._case.section_of[item].id, current=item)
        decoder = self._product.decoder(samples, self._grammar(heard_here(self._case, state)))
        inquiry = Inquiry(decoder, math.inf)
        context = context_by_sound(self._case, state, self._near)
        told, about = inquiry.free_transcript(), self._case.natural.about(item)
        if told is None or about is None or not isinstance(context.plain_speech, BySound):
            return None
        place = context.plain_speech.place
        weighed = weighed_answer(told.words, about, HeardSound((), inquiry), place)
        return None if weighed is None else weighed[1]

    def items_with_states(self) -> list[str]:
        """The items that are answered by a state."""
        return [one for one in self._case.items if self._case.natural.about(one) is not None]

    def is_stop(self, item: str) -> bool:
        """Whether it is a stop item."""
        return self._case.items[item].stop

    def when_typed(self, item: str, text: str) -> Meant | None:
        """What a line passes when it is typed; None for nothing."""
        told = self._typed.heard(TypedLine(item, text))
        if told["amounts_to"] not in ("done", "value"):
            return None
        value = _told(told["values"])
        return Meant(item, value, not told["read_back"])

    def _right_values(self) -> dict[str, str]:
        """What most confirmations of an item say."""
        said: dict[str, Counter[str]] = {}
        for line in lines():
            typed = self.when_typed(line.item, line.text) if line.kind == "yes" else None
            if typed is not None:
                said.setdefault(line.item, Counter())[typed.value] += 1
        return {item: values.most_common(1)[0][0] for item, values in said.items()}

    def _meant(self, heard: Understanding) -> Meant | None:
        """What is passed, or would be."""
        if not isinstance(heard, Understood | Unconfirmed):
            return None
        item, _, kind = heard.match.rule.rpartition(".")
        if kind not in (*_PASSES, *_OFFERED) or item not in self._case.items:
            return None
        at_once = isinstance(heard, Understood) and kind in _PASSES
        compare = str(self._case.items[item].compare)
        if kind != "value":
            return Meant(item, "", at_once)
        if compare == "profile":  # always echoed, and passes on the surgeon's word
            return Meant(item, _told(setting_values(heard.match)), False)
        said = value_said(compare, heard.match)
        return Meant(item, "" if said is None else str(said.value), at_once)

    def _confirmed(self, heard: Understanding, typed: Meant) -> str:
        meant = self._meant(heard)
        if meant is not None:
            if (meant.item, meant.value) == (typed.item, typed.value):
                if meant.at_once:
                    return AT_ONCE
                stops = self._case.items[typed.item].stop
                return READ_BACK if stops or not typed.at_once else READ_BACK_TOO
            return OTHERWISE if meant.at_once else AGAIN
        if isinstance(heard, Understood) and not is_harmless(heard.match.rule):
            return OTHERWISE
        return AGAIN

    def _not_meant(self, heard: Understanding, right: dict[str, str]) -> str:
        """A wrong value is compared with the plan, and passes nothing."""
        meant = self._meant(heard)
        if meant is None or meant.value != right.get(meant.item, meant.value):
            return KEPT
        if not meant.at_once:
            return READ
        return PASSED_STOP if self._case.items[meant.item].stop else PASSED


def _told(values: Mapping[str, Any]) -> str:
    """One value alone, several by their names."""
    if len(values) == 1:
        return str(next(iter(values.values())))
    return ", ".join(f"{name} {values[name]}" for name in sorted(values))


def _report(outcomes: Sequence[Outcome]) -> dict[str, Any]:
    halves = [one for one in (DEVELOPMENT, HELD_OUT, MIXED)]
    return {
        half: {kind: _rows(outcomes, half, kind) for kind in ("yes", "no", "neither")}
        for half in halves
        if any(one.clip.half == half for one in outcomes)
    }


def _rows(outcomes: Sequence[Outcome], half: str, kind: str) -> dict[str, Any]:
    those = [one for one in outcomes if one.clip.half == half and one.clip.line.kind == kind]
    names = _OUTCOMES[kind == "yes"]
    rows: dict[str, Any] = {}
    for voice in dict.fromkeys(one.clip.voice for one in those):
        for noise in sorted({one.noise for one in those}, reverse=True):
            met = [one for one in those if (one.clip.voice, one.noise) == (voice, noise)]
            rows[f"{voice}, {noise}"] = _counted(met, names)
    return {**rows, "all": _counted(those, names)}


_OUTCOMES = {
    True: (AT_ONCE, READ_BACK, READ_BACK_TOO, AGAIN, OTHERWISE),
    False: (PASSED_STOP, PASSED, READ, KEPT),
}


def _counted(met: Sequence[Outcome], names: Sequence[str]) -> dict[str, Any]:
    counts = Counter(one.came_to for one in met)
    return {name: proportion(counts[name], len(met)) for name in names}


def _print(report: dict[str, Any]) -> None:
    for half, kinds in report.items():
        for kind, rows in kinds.items():
            names = _OUTCOMES[kind == "yes"]
            table = [
                (name, row[names[0]]["of"], *(shown(row[one]) for one in names))
                for name, row in rows.items()
                if row[names[0]]["of"]
            ]
            print_table(f"{half}: {kind}", ("", "clips", *names), table)


if __name__ == "__main__":
    main()
