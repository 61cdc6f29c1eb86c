"""How well permitted answers are understood, and how many near misses pass.

`python -m tests.benchmarks.studies.understanding` hears every clip of
`audio_fixtures_synthetic/answers` and `near-misses` at the place it belongs to, prints tables and
writes `understanding.json`. With `--anew 1` the same is said by other voices, and what is clean
there is in noise: sound on which few limits were chosen. It is made when needed;
`understanding_anew.json` keeps what it came to in all. With 13 every voice has said every near miss
clean and in noise; most answers repeat from 7 on. `defences.py` switches off what keeps near misses
from passing.

Of an answer: *right* (the phrase and all values as said), *asked again* (anything not taken),
*taken wrong* (taken as another phrase or other values than said). Of a near miss: *passed* is the
wrong yes that the manifest names (any answer to any item, or the plan's value where another was
said); *taken otherwise* is anything else that is taken and was not said. The voices are synthetic:
good for comparing and for finding cliffs, no measure of a theatre.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from fnmatch import fnmatch
from typing import Any

from tests.benchmarks.harness.clip_ear import ClipEar, clips_of
from tests.benchmarks.harness.fixtures import NONE, Clip, meaning_of
from tests.benchmarks.harness.measured import (
    circumstances,
    counted,
    print_proportions,
    print_table,
    worst_first,
    write_report,
)
from tests.benchmarks.harness.parts import add_part_options, chosen, is_whole
from tests.benchmarks.harness.places import REPORTS
from tests.benchmarks.harness.product import UNDERSTOOD, Heard, Product, understood
from voicelist.asr.utterance import DecodedUtterance
from voicelist.understanding.context import Context
from voicelist.understanding.questions import Decoder

REPORT = REPORTS / "understanding.json"
ANEW = REPORTS / "understanding_anew.json"
ANSWERS, MISSES = "answers", "near-misses"
RIGHT, AGAIN, WRONG = ANSWER_OUTCOMES = ("right", "asked again", "taken wrong")
PASSED, OTHERWISE, REFUSED = MISS_OUTCOMES = ("passed", "taken otherwise", "refused")


@dataclass(frozen=True, slots=True)
class Result:
    """One clip, what it was heard as (`meaning` is "" where nothing was taken) and the outcome; for
    comparison the outcome without the second look."""

    clip: Clip
    heard: Heard
    meaning: str
    outcome: str
    with_one_look: str


def main() -> None:
    """The command."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n\n")[0])
    parser.add_argument("--only", metavar="PATTERN", default="*", help="then no report is written")
    parser.add_argument("--anew", type=int, default=0, metavar="TURN", help="1 to 13: other voices")
    add_part_options(parser)
    asked = parser.parse_args()
    product = Product()
    ear = ClipEar(product)
    clips = [clip for clip in clips_of(asked.anew) if fnmatch(clip.file, asked.only)]
    results = [_result(clip, *ear.hear(clip)) for clip in chosen(clips, asked)]
    report = {
        **circumstances(product.place.fingerprint),
        "answers": _answers_report([one for one in results if one.clip.folder == ANSWERS]),
        "near_misses": _misses_report([one for one in results if one.clip.folder == MISSES]),
    }
    _print(report)
    if is_whole(asked) and asked.only == "*":
        if asked.anew:
            _write_anew(asked.anew, report)
        else:
            write_report(REPORT, report)


def _write_anew(turn: int, report: dict[str, Any]) -> None:
    """What one turn came to, beside the others."""
    kept = json.loads(ANEW.read_text(encoding="utf-8")) if ANEW.is_file() else {}
    told = {
        **report,
        "answers": {key: report["answers"][key] for key in ("all", "taken_wrong")},
        "near_misses": {
            key: report["near_misses"][key] for key in ("all", "passed", "taken_otherwise")
        },
    }
    turns = {**kept, str(turn): told}
    write_report(ANEW, {key: turns[key] for key in sorted(turns, key=int)})


def _result(clip: Clip, utterance: DecodedUtterance, context: Context, decoder: Decoder) -> Result:
    heard = understood(utterance, context, decoder)
    meaning = meaning_taken(heard)
    one_look = meaning_taken(understood(utterance, context, second_pass=False))
    return Result(clip, heard, meaning, outcome_of(clip, meaning), outcome_of(clip, one_look))


def meaning_taken(heard: Heard) -> str:
    """The meaning in the manifest's form, "" where nothing was taken."""
    return meaning_of(heard.match) if heard.match is not None else ""


def outcome_of(clip: Clip, meaning: str) -> str:
    """What became of a clip that was taken for `meaning` ("" where nothing was taken)."""
    if clip.folder == ANSWERS:
        return AGAIN if not meaning else RIGHT if meaning == clip.expected else WRONG
    if not meaning or meaning == clip.expected:
        return REFUSED
    answered = not meaning.startswith("command.")
    wrong_yes = answered if clip.wrong_yes == "any" else meaning == clip.wrong_yes
    return PASSED if wrong_yes else OTHERWISE


def _answers_report(results: list[Result]) -> dict[str, Any]:
    keys: dict[str, Callable[[Result], str]] = {
        "all": lambda one: "all",
        "noise": _noise,
        "voice": lambda one: one.clip.voice,
        "voice_and_noise": lambda one: f"{one.clip.voice}, {_noise(one)}",
        "kind": lambda one: one.clip.family,
    }
    return {
        **{
            name: worst_first(_grouped(results, key, ANSWER_OUTCOMES), WRONG, AGAIN)
            for name, key in keys.items()
        },
        "with_one_look": counted([one.with_one_look for one in results], ANSWER_OUTCOMES),
        "taken_wrong": [_told(one) for one in results if one.outcome == WRONG],
        "asked_again": [_told(one) for one in results if one.outcome == AGAIN],
    }


def _misses_report(results: list[Result]) -> dict[str, Any]:
    keys: dict[str, Callable[[Result], str]] = {
        "all": lambda one: "all",
        "noise": _noise,
        "family": lambda one: one.clip.family,
        "voice": lambda one: one.clip.voice,
        "voice_and_noise": lambda one: f"{one.clip.voice}, {_noise(one)}",
    }
    return {
        **{
            name: worst_first(_grouped(results, key, MISS_OUTCOMES), PASSED, OTHERWISE)
            for name, key in keys.items()
        },
        "with_one_look": counted([one.with_one_look for one in results], MISS_OUTCOMES),
        "taken_up_as_denials": sum(one.heard.status == "denied" for one in results),
        "heard_as_said": sum(
            one.meaning == one.clip.expected for one in results if one.clip.expected != NONE
        ),
        "passed": [_told(one) for one in results if one.outcome == PASSED],
        "taken_otherwise": [_told(one) for one in results if one.outcome == OTHERWISE],
    }


def _grouped(
    results: list[Result], key: Callable[[Result], str], outcomes: Iterable[str]
) -> dict[str, dict[str, Any]]:
    """Proportions of each outcome in each group."""
    groups: dict[str, list[str]] = {}
    for one in results:
        groups.setdefault(key(one), []).append(one.outcome)
    return {name: counted(met, tuple(outcomes)) for name, met in groups.items()}


def _noise(result: Result) -> str:
    clip = result.clip
    return f"{clip.noise} {clip.snr_dB} dB" if clip.snr_dB else clip.noise


def _told(result: Result) -> dict[str, str]:
    heard = result.heard
    return {
        "file": result.clip.file,
        "said": result.clip.text,
        "expected": result.clip.expected,
        "status": heard.status,
        "taken_for": result.meaning if heard.status == UNDERSTOOD else "",
        "words": heard.words,
        "second_look": heard.second_look,
    }


def _print(report: dict[str, Any]) -> None:
    answers, misses = report["answers"], report["near_misses"]
    for name in ("all", "noise", "voice", "voice_and_noise", "kind"):
        print_proportions(f"Answers by {name}", answers[name])
    print_proportions("Answers", {"without the second look": answers["with_one_look"]})
    for name in ("all", "noise", "family", "voice", "voice_and_noise"):
        print_proportions(f"Near misses by {name}", misses[name])
    print_proportions("Near misses", {"without the second look": misses["with_one_look"]})
    for title, listed in (
        ("Answers taken wrong", answers["taken_wrong"]),
        ("Near misses that pass", misses["passed"]),
        ("Near misses taken otherwise", misses["taken_otherwise"]),
    ):
        head = ("said", "taken for", "words", "second look", "file")
        rows = [
            (one["said"], one["taken_for"], one["words"], one["second_look"], one["file"])
            for one in listed
        ]
        print_table(f"{title}: {len(rows)}", head, rows)


if __name__ == "__main__":
    main()
