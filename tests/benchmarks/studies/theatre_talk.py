"""An hour of a theatre's running talk, made by speech synthesis: how often it passes an item.

`python -m tests.benchmarks.studies.theatre_talk` has two people at a time talk, minute by minute,
about the very things that the checklist asks for (`theatre_sentences.py`), in voices of three
engines, with the noise of a theatre. Each minute is heard as a session hears it, endpointed, while
a stop item is asked, and again while another item is asked; nobody ever answers. The sound follows
from the seed; it is made when it is needed, and kept in the cache.

*Passed a stop item* must be 0 and *passed another item* at most 1.
"""

from __future__ import annotations

import argparse
import random
import zlib
from collections import Counter
from collections.abc import Iterator
from functools import cache
from typing import Any

import numpy as np
import soxr

from tests.benchmarks.harness.conditions import RATE_HZ, Samples, Wave
from tests.benchmarks.harness.fixtures import VOICES, clip_of, say, theatre_noise, write_flac
from tests.benchmarks.harness.kept import kept_folder
from tests.benchmarks.harness.measured import (
    circumstances,
    print_table,
    rate_upper_95,
    write_report,
)
from tests.benchmarks.harness.parts import add_part_options, chosen, is_whole
from tests.benchmarks.harness.places import REPORTS
from tests.benchmarks.harness.product import (
    UNCONFIRMED,
    UNDERSTOOD,
    Product,
    strict_context,
    understood,
)
from tests.benchmarks.harness.theatre_sentences import talk, words_of
from voicelist.audio.sound_files import read_sound
from voicelist.documents.bundle import load_bundle
from voicelist.listening.sound import context_by_sound, near_by_phones
from voicelist.places import shipped
from voicelist.session.case import Case, compile_case, is_harmless
from voicelist.session.order import heard_here
from voicelist.session.state import State
from voicelist.understanding.phrase_lists import HearingGrammar

REPORT = REPORTS / "theatre_talk.json"
PLAN = "practice-101"
SEED, MINUTES = 1, 60
# Pairs of voices of different engines take turns.
PAIRS = (
    ("heart", "en-us"),
    ("slt", "en-gb"),
    ("en-gb-x-rp", "rms"),
    ("awb", "heart"),
    ("en-us", "slt"),
    ("rms", "en-gb"),
)
STOP, OTHER, COMMAND, HARMLESS, READ_BACK, ASKED, IGNORED = (
    *("passed a stop item", "passed another item", "command", "harmless command"),
    *("read back", "asked", "ignored"),
)
# Seconds between two sentences of the one who talks more, and of the other.
_PAUSES_S = ((0.2, 1.5), (0.5, 5.0))
# How much fainter the other is, and the noise below the louder one.
_FAINTER_dB = (0.0, 9.0)
_NOISE_dB = (18.0, 30.0)
_LEVEL_dB = -26.0


def main() -> None:
    """The command."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n\n")[0])
    parser.add_argument("--strictly", action="store_true", help="without plain speech: no report")
    parser.add_argument("--seed", type=int, default=SEED, help="another hour: no report")
    add_part_options(parser)
    asked = parser.parse_args()
    product = Product()
    listening = Listening(product, plainly=not asked.strictly)
    counts: Counter[str] = Counter()
    taken = []
    minutes = chosen(range(MINUTES), asked)
    for minute in minutes:
        for item in listening.items_of(minute):
            for outcome, told in listening.heard(minute, asked.seed, item):
                counts[outcome] += 1
                if outcome in (STOP, OTHER, COMMAND, HARMLESS, READ_BACK):
                    taken.append({"minute": minute, "item": item, "outcome": outcome, **told})
                    print(f"  {taken[-1]}", flush=True)
    report = _report(counts, taken, len(minutes))
    rows = [(name, count) for name, count in report.items() if isinstance(count, int | float)]
    print_table(f"{len(minutes)} minutes of talk, each heard at two items", ("", ""), rows)
    if is_whole(asked) and asked.seed == SEED and not asked.strictly:
        write_report(REPORT, {**circumstances(product.place.fingerprint), **report})


class Listening:
    """The product at the items of a case, with nothing answered yet."""

    def __init__(self, product: Product, *, plainly: bool = True) -> None:
        self._product = product
        bundle = load_bundle(shipped("grammars") / "plans" / f"{PLAN}.yaml")
        self._case: Case = compile_case(bundle)
        self._near = near_by_phones(self._case) if plainly else None
        self._words = {name: words_of(self._case, item) for name, item in self._case.items.items()}
        self._grammars: dict[tuple[str, ...], HearingGrammar] = {}

    def items_of(self, minute: int) -> tuple[str, str]:
        """A stop item and another, in turn."""
        stops = [name for name, item in self._case.items.items() if item.stop]
        others = [name for name, item in self._case.items.items() if not item.stop]
        return stops[minute % len(stops)], others[minute % len(others)]

    def heard(self, minute: int, seed: int, item: str) -> Iterator[tuple[str, dict[str, str]]]:
        """What each utterance of a minute amounts to while an item is asked."""
        state = State(section=self._case.section_of[item].id, current=item)
        if self._near is None:
            context = strict_context(self._case, state)
        else:
            context = context_by_sound(self._case, state, self._near)
        grammar = self._grammar(heard_here(self._case, state))
        samples = self.sound(minute, seed, item)
        for utterance in self._product.utterances(samples, grammar):
            decoder = self._product.decoder_in(samples, grammar, utterance)
            found = understood(utterance, context, decoder)
            rule = found.match.rule if found.match is not None else ""
            at_s = f"{utterance.start_sample / RATE_HZ:.1f}"
            yield (
                self._outcome(found.status, rule),
                {"rule": rule, "at_s": at_s, "words": found.words},
            )

    def _outcome(self, status: str, rule: str) -> str:
        if status == UNCONFIRMED:
            return READ_BACK
        if status != UNDERSTOOD:
            return IGNORED if status == "not-for-us" else ASKED
        if rule.startswith("command."):
            return HARMLESS if is_harmless(rule) else COMMAND
        return STOP if self._case.items[rule.rpartition(".")[0]].stop else OTHER

    def _grammar(self, roots: tuple[str, ...]) -> HearingGrammar:
        if roots not in self._grammars:
            case = self._case
            self._grammars[roots] = self._product.hearing(case.grammar, case.room, roots)
        return self._grammars[roots]

    def sound(self, minute: int, seed: int, item: str) -> Samples:
        """A minute in which two people talk, often about what is asked."""
        file = kept_folder() / "theatre" / f"{seed}-{minute:02d}-{item}.flac"
        if not file.is_file():
            fresh = file.with_suffix(".fresh.flac")
            write_flac(fresh, self._made(minute, seed, item))
            fresh.replace(file)
        samples: Samples = read_sound(file).samples[0]
        return samples

    def _made(self, minute: int, seed: int, item: str) -> Wave:
        chance = random.Random(f"{seed} {minute} {item}")
        whole = np.zeros(60 * RATE_HZ)
        own, others = self._words[item], list(self._words.values())
        speech = self._case.bundle.lexicon.to_speech
        for pauses_s, voice in zip(_PAUSES_S, PAIRS[minute % len(PAIRS)], strict=True):
            first = pauses_s is _PAUSES_S[0]
            gain = 1.0 if first else 10 ** (-chance.uniform(*_FAINTER_dB) / 20)
            at = int(chance.uniform(*pauses_s) * RATE_HZ)
            for sentence in talk(own, others, chance):
                said = gain * spoken(voice, speech(sentence))
                if at + len(said) > len(whole):
                    break
                whole[at : at + len(said)] += said
                at += len(said) + int(chance.uniform(*pauses_s) * RATE_HZ)
        noise_dB = _LEVEL_dB - chance.uniform(*_NOISE_dB)
        noise = theatre_noise(len(whole), chance.randrange(1 << 30)) * 10 ** (noise_dB / 20)
        return np.asarray(np.clip(whole + noise, -1.0, 1.0), np.float64)


def spoken(voice: str, text: str) -> Wave:
    """A sentence at the level of a close microphone. Raises EngineMissingError."""
    said = _by_hibari(text) if VOICES[voice].engine.name == "hibari" else say(VOICES[voice], text)
    return np.asarray(clip_of(said, None, zlib.crc32(f"{voice} {text}".encode())), np.float64)


def _by_hibari(text: str) -> Wave:
    samples, rate_Hz = _hibari().render(text)
    return np.asarray(soxr.resample(samples.astype(np.float64) / 32_767, rate_Hz, RATE_HZ))


@cache
def _hibari() -> Any:
    """The product's own voice, loaded once: it takes seconds to start."""
    from voicelist.speaking.adapters import hibari

    return hibari(None, 1.0)


def _report(counts: Counter[str], taken: list[dict[str, Any]], minutes: int) -> dict[str, Any]:
    hours = minutes / 60
    return {
        "minutes": minutes,
        "utterances": counts.total(),
        **{one: counts[one] for one in (STOP, OTHER, COMMAND, HARMLESS, READ_BACK, ASKED, IGNORED)},
        "stop items passed an hour at most (95%)": round(rate_upper_95(counts[STOP]) / hours, 2),
        "any item passed an hour at most (95%)": round(
            rate_upper_95(counts[STOP] + counts[OTHER]) / (2 * hours), 2
        ),
        "taken": taken,
    }


if __name__ == "__main__":
    main()
