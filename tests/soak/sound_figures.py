"""The simulated team's cases by sound, as a table and as figures beside this file.

`python tests/soak/simulated_team.py --sound`: lines are spoken by synthetic voices, in half of the
cases with the noise of a theatre at 15 dB. A case in which a needed line is not taken when said
four times counts as stuck. Figures are kept only of all the cases, from the first seed on.
"""

from __future__ import annotations

import itertools
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

from tests.benchmarks.harness.measured import circumstances, print_table, proportion, write_report
from tests.team.by_sound import OF, SETTINGS, Outcome, Setting, hold_cases
from tests.team.spoken import Count
from voicelist.asr.model import find_model

REPORT = Path(__file__).with_name("simulated_team_sound.json")
CASES_BY_SOUND = OF
HEAD = (
    *("plan, from", "channels", "cases", "right end", "stuck", "lines", "answers", "at once"),
    *("said again", "asked again", "otherwise", "wrong yes", "sound s", "speed"),
)


def by_sound(cases: int, first_seed: int) -> int:
    """Exit code 1 if anything passed that was not said, or a case ended otherwise than it should
    without saying that it was stuck."""
    place = find_model()
    outcomes: list[Outcome] = []
    began_s = time.monotonic()
    for outcome in hold_cases(tuple(_so_many(cases)), place, first_seed):
        outcomes.append(outcome)
        print(_told(len(outcomes), outcome), flush=True)
    took_s = time.monotonic() - began_s
    rows = [_row(name, group) for name, group in _grouped(outcomes)]
    print_table(f"{len(outcomes)} cases by sound, {took_s:.0f} s", HEAD, rows)
    print(f"Wrong yes: {len(_total(outcomes).wrong_yes)}")
    for line in itertools.chain.from_iterable(one.stuck for one in outcomes):
        print(f"Stuck: {line}")
    for line in itertools.chain.from_iterable(one.failures for one in outcomes):
        print(f"Failed: {line}")
    if cases == CASES_BY_SOUND and first_seed == 0:
        write_report(REPORT, {**circumstances(place.fingerprint), **_figures(outcomes, took_s)})
    honest = all(one.right_ends or one.stuck for one in outcomes)
    return 0 if honest and not _total(outcomes).wrong_yes else 1


def _so_many(cases: int) -> Iterator[Setting]:
    """The settings, until there are so many cases; over again if need be."""
    for one in itertools.cycle(SETTINGS):
        if cases <= 0:
            return
        yield replace(one, cases=min(cases, one.cases))
        cases -= one.cases


def _told(number: int, outcome: Outcome) -> str:
    count, (end,) = outcome.count, outcome.ends
    text = f"{number:3} {outcome.setting.plan} {outcome.setting.first_section}: {end}, "
    text += f"{count.lines} lines in {outcome.took_s:.0f} s"
    text += "".join(f"\n    {line}" for line in (*outcome.stuck, *outcome.failures))
    for one in count.wrong_yes:
        text += f"\n    WRONG YES {one}"
    for one in count.taken_otherwise:
        text += f"\n    taken otherwise {one}"
    return text


def _grouped(outcomes: list[Outcome]) -> Iterator[tuple[str, list[Outcome]]]:
    names = dict.fromkeys((one.setting.plan, one.setting.first_section) for one in outcomes)
    for plan, first in names:
        group = [
            one
            for one in outcomes
            if (one.setting.plan, one.setting.first_section) == (plan, first)
        ]
        yield f"{plan}, {first or 'top'}", group
    yield "all", outcomes


def _total(outcomes: list[Outcome]) -> Count:
    total = Count()
    for one in outcomes:
        total.add(one.count)
    return total


def _row(name: str, group: list[Outcome]) -> tuple[object, ...]:
    total, took_s = _total(group), sum(one.took_s for one in group)
    channels = sorted({"1" if one.setting.one_channel else "2" for one in group})
    return (
        name,
        "/".join(channels),
        len(group),
        sum(one.right_ends for one in group),
        sum(bool(one.stuck) for one in group),
        total.lines,
        total.answers,
        total.at_once,
        total.said_again,
        total.asked_again,
        len(total.taken_otherwise),
        len(total.wrong_yes),
        f"{total.sound_s:.0f}",
        f"{total.sound_s / took_s:.1f}",
    )


def _figures(outcomes: list[Outcome], took_s: float) -> dict[str, Any]:
    total = _total(outcomes)
    ends: Counter[str] = Counter()
    turns: Counter[str] = Counter()
    for one in outcomes:
        ends += one.ends
        turns += one.turns
    return {
        "cases": len(outcomes),
        "ends": dict(ends),
        "ended_right": proportion(sum(one.right_ends for one in outcomes), len(outcomes)),
        "stuck": [line for one in outcomes for line in one.stuck],
        "failures": [line for one in outcomes for line in one.failures],
        "turns": dict(turns.most_common()),
        "lines": total.lines,
        "answers": total.answers,
        "taken_at_once": proportion(total.at_once, total.answers),
        "said_again": total.said_again,
        "asked_again": total.asked_again,
        "wrong_yes": total.wrong_yes,
        "taken_otherwise": total.taken_otherwise,
        "sound_s": round(total.sound_s, 1),
        "took_s": round(took_s, 1),
        "speed": round(total.sound_s / took_s, 2),
    }
