"""How well permitted answers are understood, and how many near misses pass.

`python tests/benchmarks/understanding.py` hears every clip of `audio_fixtures_synthetic/answers`
and `near-misses` at the place it belongs to, prints tables and writes `understanding.json`.

Of an answer: *right* (the phrase and all values as said), *asked again* (anything not taken),
*taken wrong* (taken as another phrase or other values than said). Of a near miss: *passed* is the
wrong yes that the manifest names (any answer to any item, or the plan's value where another was
said); *taken otherwise* is anything else that is taken and was not said. The voices are synthetic:
good for comparing and for finding cliffs, no measure of a theatre.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from fnmatch import fnmatch
from pathlib import Path
from typing import Any

from measured import circumstances, print_table, proportion, shown, write_report
from product import UNDERSTOOD, Heard, Product, understood

from voicelist.documents.bundle import load_bundle
from voicelist.hearing.sources import read_sound
from voicelist.phrases.hearing import HearingGrammar
from voicelist.places import shipped
from voicelist.session.case import compile_case
from voicelist.session.machine import context_of
from voicelist.session.order import heard_here

FIXTURES = Path(__file__).resolve().parents[2] / "audio_fixtures_synthetic"
sys.path.insert(0, str(FIXTURES))

from asked import state_at  # noqa: E402  # lies in the fixtures' folder, put on the path above
from clips import NONE, Clip, read_manifest  # noqa: E402  # the same
from meanings import meaning_of  # noqa: E402  # the same

REPORT = Path(__file__).with_suffix(".json")
PLAN = "practice-007"
RIGHT, AGAIN, WRONG = "right", "asked again", "taken wrong"
PASSED, OTHERWISE, REFUSED = "passed", "taken otherwise", "refused"


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
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--only", metavar="PATTERN", default="*", help="then no report is written")
    only: str = parser.parse_args().only
    product = Product()
    results = list(
        hear_all(product, (clip for clip in read_manifest() if fnmatch(clip.file, only)))
    )
    answers = [one for one in results if one.clip.folder == "answers"]
    misses = [one for one in results if one.clip.folder == "near-misses"]
    report = {
        **circumstances(product.place.fingerprint),
        "answers": _answers_report(answers),
        "near_misses": _misses_report(misses),
    }
    _print(report)
    if only == "*":
        write_report(REPORT, report)


def hear_all(product: Product, clips: Iterable[Clip]) -> Iterator[Result]:
    """The clips of answers and near misses, each heard where it belongs."""
    case = compile_case(load_bundle(shipped("grammars") / "plans" / f"{PLAN}.yaml"))
    grammars: dict[tuple[str, ...], HearingGrammar] = {}
    for clip in clips:
        if clip.folder == "demo":
            continue
        state = state_at(case, clip.asked)
        roots = heard_here(case, state)
        if roots not in grammars:
            grammars[roots] = product.hearing(case.grammar, case.room, roots)
        samples = read_sound(FIXTURES / clip.file).samples[0]
        utterance = product.utterance(samples, grammars[roots])
        context = context_of(case, state)
        heard = understood(utterance, context)
        meaning = _meaning(heard)
        with_one_look = outcome_of(
            clip, _meaning(understood(utterance, context, second_look=False))
        )
        yield Result(clip, heard, meaning, outcome_of(clip, meaning), with_one_look)


def _meaning(heard: Heard) -> str:
    return meaning_of(heard.match) if heard.match is not None else ""


def outcome_of(clip: Clip, meaning: str) -> str:
    """What became of a clip that was taken for `meaning` ("" where nothing was taken)."""
    if clip.folder == "answers":
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
    outcomes = (RIGHT, AGAIN, WRONG)
    return {
        **{name: _grouped(results, key, outcomes) for name, key in keys.items()},
        "with_one_look": _counted([one.with_one_look for one in results], outcomes),
        "taken_wrong": [_told(one) for one in results if one.outcome == WRONG],
        "asked_again": [_told(one) for one in results if one.outcome == AGAIN],
    }


def _misses_report(results: list[Result]) -> dict[str, Any]:
    outcomes = (PASSED, OTHERWISE)
    return {
        "all": _grouped(results, lambda one: "all", outcomes),
        "noise": _grouped(results, _noise, outcomes),
        "family": _grouped(results, lambda one: one.clip.family, outcomes),
        "voice": _grouped(results, lambda one: one.clip.voice, outcomes),
        "with_one_look": _counted([one.with_one_look for one in results], outcomes),
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
    """Proportions of each outcome in each group, groups in the order met."""
    groups: dict[str, list[str]] = {}
    for one in results:
        groups.setdefault(key(one), []).append(one.outcome)
    return {name: _counted(met, outcomes) for name, met in groups.items()}


def _counted(met: list[str], outcomes: Iterable[str]) -> dict[str, Any]:
    return {outcome: proportion(met.count(outcome), len(met)) for outcome in outcomes}


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
    for name in ("all", "noise", "voice_and_noise", "kind"):
        _print_groups(f"Answers by {name}", answers[name])
    _print_groups("Answers", {"without the second look": answers["with_one_look"]})
    for name in ("all", "noise", "family", "voice"):
        _print_groups(f"Near misses by {name}", misses[name])
    _print_groups("Near misses", {"without the second look": misses["with_one_look"]})
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


def _print_groups(title: str, groups: dict[str, dict[str, Any]]) -> None:
    outcomes = list(next(iter(groups.values()), {}))
    rows = [
        (name, next(iter(parts.values()))["of"], *(shown(parts[one]) for one in outcomes))
        for name, parts in groups.items()
    ]
    print_table(title, ("", "clips", *outcomes), rows)


if __name__ == "__main__":
    main()
