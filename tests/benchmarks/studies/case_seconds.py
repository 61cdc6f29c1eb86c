"""How many seconds and turns a first case costs by sound, answered in people's own words.

`python -m tests.benchmarks.studies.case_seconds` holds the full list of practice-101 by sound, with
the voices of several pairs: answered in people's own words (the lines beside the checkout, those
that say what is planned), answered so where plain speech is not understood, and answered in the
sentences of the list. Who is not understood says it otherwise once, then in the list's sentence,
more slowly. A turn costs what people and the assistant say, and `TURN_S` between them. Without
the lines it says so and does nothing.
"""

from __future__ import annotations

import argparse
import random
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from typing import Any

import pytest

from tests.benchmarks.harness.measured import circumstances, print_table, write_report
from tests.benchmarks.harness.places import LINES, REPORTS
from tests.benchmarks.harness.spoken_lines import lines
from tests.team.right import right_line
from tests.team.speech import Speech
from tests.team.spoken import digit_by_digit
from tests.team.spoken_room import Listening, SpokenRoom
from voicelist.asr.model import find_model
from voicelist.audio.samples import SAMPLE_RATE_HZ
from voicelist.lines import Typed, TypedLine
from voicelist.listening import sound
from voicelist.places import shipped
from voicelist.session.case import Case
from voicelist.session.state import State
from voicelist.session.wording import spoken
from voicelist.speaking.speaker import SpeechOutput
from voicelist.understanding.context import Context

REPORT = REPORTS / "case_seconds.json"
PLAN, CHECKLIST = "practice-101", "phaco-full"
# The voices of nurse and surgeon.
PAIRS = (("heart", "en-us"), ("slt", "heart"), ("awb", "rms"), ("en-gb", "heart"))
OWN_WORDS, NOT_UNDERSTOOD, BY_THE_LIST = "own words", "the same, no plain speech", "by the list"
# From the end of what somebody says to the beginning of the reply, and again: the decision (0.4 s)
# and the breath that people take. Project choice.
TURN_S = 0.9
SNR_dB = 15.0
_OWN_TRIES, _LINES_AT_MOST = 2, 400
# Where nothing is said to what somebody says, it asks again after so long.
_SILENCE_S = 8.2


@dataclass(slots=True)
class Cost:
    """What a case cost."""

    turns: int = 0
    people_s: float = 0.0
    assistant_s: float = 0.0
    items: int = 0
    at_once: int = 0
    ended: str = ""

    @property
    def seconds(self) -> float:
        """In all."""
        return self.people_s + self.assistant_s + self.turns * TURN_S


class OwnWords:
    """What people say of their own accord."""

    def __init__(self) -> None:
        self._typed = Typed(shipped("grammars") / "checklists" / f"{CHECKLIST}.yaml")
        self._ways: dict[tuple[str, str], list[str]] = {}

    def ways(self, item: str, line: str) -> list[str]:
        """The confirmations of an item that amount, typed, to what the list's own line does."""
        if (item, line) not in self._ways:
            planned = self._amounts(item, line)
            every = [one.text for one in lines() if (one.item, one.kind) == (item, "yes")]
            self._ways[item, line] = [one for one in every if self._amounts(item, one) == planned]
        return self._ways[item, line]

    def _amounts(self, item: str, text: str) -> tuple[Any, Any]:
        told = self._typed.heard(TypedLine(item, text))
        return told["amounts_to"], told["values"]


@dataclass(slots=True)
class Team:
    """Two people in a case."""

    room: SpokenRoom
    speech: Speech
    voices: tuple[str, str]
    own: OwnWords | None
    chance: random.Random
    mouth: SpeechOutput
    cost: Cost = field(default_factory=Cost)
    _tries: dict[str, int] = field(default_factory=dict)

    def hold(self) -> Cost:
        """The case to its end."""
        self._listen(0)
        for _ in range(_LINES_AT_MOST):
            state = self.room.state
            line = right_line(self.room.case, state)
            if state.closed or not line:
                break
            self._say(*self._wording(state, line))
        self.cost.ended = self.room.state.closed or f"open at {self.room.state.current}"
        return self.cost

    def _wording(self, state: State, line: str) -> tuple[str, bool]:
        """What is said, and whether slowly."""
        item = state.current
        plainly_asked = state.pending is None and not state.under_way and not state.held
        tried = self._tries.get(item, 0) if plainly_asked else 0
        if plainly_asked:
            self._tries[item] = tried + 1
            self.cost.items += tried == 0
        ways = self.own.ways(item, line) if plainly_asked and self.own is not None else []
        if ways and tried < _OWN_TRIES:
            return self.chance.choice(ways), tried > 0
        return digit_by_digit(line), tried > 0

    def _say(self, line: str, slowly: bool) -> None:
        state, heard_before = self.room.state, len(self.room.said)
        item, case = state.current, self.room.case
        roles = case.items[item].answered_by if item in case.items else ()
        channel = int("surgeon" in roles and "circulating-nurse" not in roles)
        if line.startswith("surgeon"):
            channel = 1
        words = case.bundle.lexicon.to_speech(line)
        noise = SNR_dB if self.chance.random() < 0.5 else None
        samples = self.speech.samples(self.voices[channel], words, noise, slowly=slowly)
        self.cost.people_s += samples.size / SAMPLE_RATE_HZ
        self.cost.turns += 1
        self.room.hears(samples, channel)
        moved = self.room.state.current != item or bool(self.room.state.closed)
        self.cost.at_once += moved and self._tries.get(item, 0) == 1 and state.pending is None
        self._listen(heard_before)
        if not moved and len(self.room.said) == heard_before:
            self.room.rests(_SILENCE_S)
            self.cost.people_s += _SILENCE_S
            self._listen(heard_before)

    def _listen(self, since: int) -> None:
        bundle = self.room.case.bundle
        for _, text in self.room.said[since:]:
            self.cost.assistant_s += self.mouth.say(
                spoken(bundle.sentences, bundle.lexicon, text)
            ).seconds


def main() -> None:
    """The command."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n\n")[0])
    parser.add_argument("--pairs", type=int, default=len(PAIRS), metavar="N")
    asked = parser.parse_args()
    if not LINES.is_file():
        print("The lines are not beside this checkout: nothing is measured.")
        return
    listening = Listening(PLAN, "", find_model(), one_channel=False)
    own = OwnWords()
    found: dict[str, list[Cost]] = {OWN_WORDS: [], NOT_UNDERSTOOD: [], BY_THE_LIST: []}
    try:
        with SpeechOutput("hibari", play=False, out=None) as mouth:
            for number, voices in enumerate(PAIRS[: asked.pairs]):
                for way, costs in found.items():
                    words = None if way == BY_THE_LIST else own
                    with _understood(plainly=way != NOT_UNDERSTOOD):
                        team = Team(
                            SpokenRoom(listening),
                            Speech(),
                            voices,
                            words,
                            random.Random(number),
                            mouth,
                        )
                        costs.append(team.hold())
                    print(f"{' and '.join(voices)}, {way}: {costs[-1]}", flush=True)
    finally:
        listening.close()
    _report(found, whole=asked.pairs == len(PAIRS))


@contextmanager
def _understood(*, plainly: bool) -> Iterator[None]:
    """Whether people's own words are understood by sound."""

    def strictly(case: Case, state: State, near: Any = None) -> Context:
        return replace(by_sound(case, state, near), plain_speech=None)

    by_sound = sound.context_by_sound
    with pytest.MonkeyPatch.context() as patch:
        if not plainly:
            patch.setattr(sound, "context_by_sound", strictly)
        yield


def _report(found: dict[str, list[Cost]], *, whole: bool) -> None:
    rows = {way: _mean(costs) for way, costs in found.items()}
    before = rows[NOT_UNDERSTOOD]["seconds"]
    table = [
        (way, *(f"{row[one]:g}" for one in _SHOWN), f"{1 - row['seconds'] / before:.0%}")
        for way, row in rows.items()
    ]
    print_table(f"{PLAN}, a mean of {len(found[OWN_WORDS])} teams", ("", *_SHOWN, "saved"), table)
    if whole:
        write_report(REPORT, {**circumstances(find_model().fingerprint), "turn_s": TURN_S, **rows})


_SHOWN = ("seconds", "seconds_an_item", "turns_an_item", "at_once", "items", "completed")


def _mean(costs: Sequence[Cost]) -> dict[str, float]:
    items = sum(one.items for one in costs)
    return {
        "seconds": round(sum(one.seconds for one in costs) / len(costs), 1),
        "seconds_an_item": round(sum(one.seconds for one in costs) / items, 2),
        "turns_an_item": round(sum(one.turns for one in costs) / items, 2),
        "at_once": round(sum(one.at_once for one in costs) / items, 3),
        "items": items / len(costs),
        "completed": sum(one.ended == "completed" for one in costs),
    }


if __name__ == "__main__":
    main()
