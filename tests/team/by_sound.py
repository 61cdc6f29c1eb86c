"""Cases of the simulated team by sound: which, how many, and what came of them."""

from __future__ import annotations

import itertools
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field

from tests.team.speech import Speech
from tests.team.spoken import Count, SpokenSimulation
from tests.team.spoken_room import Listening
from voicelist.asr.model import ModelPlace


@dataclass(frozen=True, slots=True)
class Setting:
    """A plan, where its case starts, and the microphones: a close one for the nurse's side and one
    for the surgeon, or one for the room where others answer too."""

    plan: str
    first_section: str
    cases: int
    one_channel: bool = False


# Of 30 cases. Most start in the middle, as cases do; so each section is gone through several times.
SETTINGS = (
    Setting("practice-007", "time-out", 5),
    Setting("practice-102", "time-out", 5),
    Setting("practice-007", "settings", 3),
    Setting("practice-201", "sign-out", 4, one_channel=True),
    Setting("practice-103", "sign-out", 3, one_channel=True),
    Setting("practice-102", "settings", 3),
    Setting("practice-201", "time-out", 2, one_channel=True),
    Setting("practice-007", "", 2),
    Setting("practice-102", "", 2),
    Setting("practice-101", "", 1, one_channel=True),
)
OF = sum(one.cases for one in SETTINGS)


@dataclass(slots=True)
class Outcome:
    """Of one setting's cases."""

    setting: Setting
    ends: Counter[str] = field(default_factory=Counter)
    stuck: list[str] = field(default_factory=list)
    failures: list[str] = field(default_factory=list)
    right_ends: int = 0
    turns: Counter[str] = field(default_factory=Counter)
    count: Count = field(default_factory=Count)
    took_s: float = 0.0


def hold_cases(
    settings: tuple[Setting, ...], model: ModelPlace, first_seed: int = 0
) -> Iterator[Outcome]:
    """The settings' cases, one after the other, told after each."""
    speech, seeds = Speech(), itertools.count(first_seed)
    for setting in settings:
        listening = Listening(
            setting.plan, setting.first_section, model, one_channel=setting.one_channel
        )
        try:
            for seed in itertools.islice(seeds, setting.cases):
                yield _held(
                    SpokenSimulation(seed, setting.plan, listening=listening, speech=speech),
                    setting,
                )
        finally:
            listening.close()


def _held(simulation: SpokenSimulation, setting: Setting) -> Outcome:
    began_s = time.monotonic()
    end = simulation.hold()
    outcome = Outcome(setting, took_s=time.monotonic() - began_s)
    outcome.ends[end] += 1
    if simulation.stuck:
        outcome.stuck.append(f"seed {simulation.seed}, {simulation.plan}: {simulation.stuck}")
    if simulation.failure:
        outcome.failures.append(f"seed {simulation.seed}, {simulation.plan}: {simulation.failure}")
    outcome.right_ends += end == simulation.ends_as
    outcome.turns += simulation.turns
    outcome.count.add(simulation.count)
    return outcome
