"""The scripted team, heard: its lines are spoken, and said again as people do where they were not
taken. Nothing is typed.

What a line may pass is decided by its purpose and by its own words, never by what was heard. A
*wrong yes* is an item that passed on the record though nobody had said so, or with a value that
nobody had said; *taken otherwise* is any other line that was taken for something else.
"""

from __future__ import annotations

import random
import traceback
from collections import defaultdict
from dataclasses import dataclass, field
from typing import Any

from tests.team.chatter import chatter
from tests.team.invariants import check_step
from tests.team.right import answer_to, right_line
from tests.team.simulated import PASSED, Simulation
from tests.team.speech import NURSES, SURGEONS, Speech
from tests.team.spoken_room import Listening, SpokenRoom, Step
from voicelist.audio.samples import SAMPLE_RATE_HZ
from voicelist.grammar.match import Match
from voicelist.listening.typed import typed_words
from voicelist.session.events import Event, Silence
from voicelist.session.machine import context_of
from voicelist.session.profile import settings_said
from voicelist.session.statements import CHOSEN, entries_chosen, role_said
from voicelist.session.values import value_said
from voicelist.understanding.hypothesis import Hypothesis
from voicelist.understanding.interpretation import Understanding, Understood, understand

# A line that was not taken is said so often in all; then the team gives up.
TRIES = 4
THEATRE_SNR_dB = 15.0
_NURSE, _SURGEON = 0, 1
_CHANNEL = {"surgeon": _SURGEON}
_SILENCE_S = 8.2
_UNITS = ("one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
_TENS = dict(
    zip(
        ("twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"),
        _UNITS[1:],
        strict=True,
    )
)


class Stuck(Exception):
    """A line that was needed was not taken, however often it was said."""


@dataclass(slots=True)
class Count:
    """What happened in a case, or in many."""

    lines: int = 0
    answers: int = 0
    at_once: int = 0
    said_again: int = 0
    asked_again: int = 0
    wrong_yes: list[dict[str, Any]] = field(default_factory=list)
    taken_otherwise: list[dict[str, Any]] = field(default_factory=list)
    sound_s: float = 0.0

    def add(self, other: Count) -> None:
        self.lines += other.lines
        self.answers += other.answers
        self.at_once += other.at_once
        self.said_again += other.said_again
        self.asked_again += other.asked_again
        self.wrong_yes += other.wrong_yes
        self.taken_otherwise += other.taken_otherwise
        self.sound_s += other.sound_s


def meaning(match: Match) -> tuple[object, ...]:
    """What a reading says, however it is worded: values as such, tags, nothing of the words."""
    if match.value is not None:
        return match.rule, match.value
    inside = tuple(one for one in map(meaning, match.inside) if len(one) > 1)
    return (match.rule, match.tags, inside) if match.tags or inside else (match.rule,)


def meanings(found: Understanding | None) -> tuple[object, ...]:
    """Of what was understood, in order; nothing of anything else."""
    return tuple(map(meaning, found.matches)) if isinstance(found, Understood) else ()


def digit_by_digit(line: str) -> str:
    """ "twenty two point five" as "two two point five"; a round ten keeps its name."""
    words = line.split()
    pairs = zip(words, [*words[1:], ""], strict=True)
    return " ".join(
        _TENS[word] if word in _TENS and behind in _UNITS else word for word, behind in pairs
    )


@dataclass(slots=True)
class SpokenSimulation(Simulation):
    """One case by sound. `listening` is of the simulation's plan."""

    listening: Listening | None = None
    speech: Speech = field(default_factory=Speech)
    count: Count = field(default_factory=Count)
    stuck: str = ""
    voices: tuple[str, str] = ("", "")
    snr_dB: float | None = None
    failure: str = ""
    _without_effect: int = 0
    _values: dict[str, list[dict[str, Any]]] = field(default_factory=lambda: defaultdict(list))

    def __post_init__(self) -> None:
        assert self.listening is not None
        self.chance = random.Random(self.seed)
        self.voices = (
            self.speech.first_of(NURSES, self.seed),
            self.speech.first_of(SURGEONS, self.seed // 2),
        )
        self.snr_dB = THEATRE_SNR_dB if self.seed % 2 else None
        self.room = SpokenRoom(self.listening)

    def hold(self) -> str:
        """The case to its end: how it ended, "stuck", or "failed" where an invariant was broken."""
        began = self._spoken_room.listening.lines.position
        try:
            self.run()
        except Stuck as stuck:
            self.stuck = str(stuck)
        except AssertionError as failure:
            self.failure = str(failure) or traceback.format_tb(failure.__traceback__)[-1]
        samples = self._spoken_room.listening.lines.position - began
        self.count.sound_s += samples / SAMPLE_RATE_HZ
        if self.failure:
            return "failed"
        return "stuck" if self.stuck else self.room.state.closed

    @property
    def _spoken_room(self) -> SpokenRoom:
        assert isinstance(self.room, SpokenRoom)
        return self.room

    # What is said

    def _say(self, line: str, may_pass: set[str]) -> None:
        self._tell(line, may_pass)

    def _tell(self, line: str, may_pass: set[str], *, slowly: bool = False) -> bool:
        """A line is spoken; whether it was taken as what it says."""
        if self.room.state.closed:
            return True
        meant = self._meant(line)
        said = meanings(meant)
        self._note_values(meant)
        channel = self._channel_of(line, meant)
        words = self.room.case.bundle.lexicon.to_speech(line)
        samples = self.speech.samples(self.voices[channel], words, self.snr_dB, slowly=slowly)
        steps = self._spoken_room.hears(samples, channel)
        self.count.lines += 1
        self._look_at(steps, line, may_pass, said)
        return bool(said) and any(meanings(one.heard) == said for one in steps)

    def _meant(self, line: str) -> Understanding:
        """The line's own words, as if typed where the case stands."""
        context = context_of(self.room.case, self.room.state)
        return understand([Hypothesis(tuple(typed_words(line, "en")))], (), context)

    def _channel_of(self, line: str, meant: Understanding) -> int:
        """Who says it: whom it names, else who answers what is asked."""
        named = role_said(meant.match) if isinstance(meant, Understood) else ""
        first = line.split(maxsplit=1)[0]
        if named or first in ("surgeon", "nurse"):
            return _CHANNEL.get(named or first, _NURSE)
        asked = self._asked()
        roles = self.room.case.items[asked].answered_by if asked else ()
        return _SURGEON if roles and "circulating-nurse" not in roles and "surgeon" in roles else 0

    def _note_values(self, meant: Understanding) -> None:
        """The values that people have said so far, by item."""
        for match in meant.matches if isinstance(meant, Understood) else ():
            item_id, _, kind = match.rule.rpartition(".")
            if kind == "value":
                self._values[item_id].append(self._values_in(item_id, match))
            elif kind == "choice":
                self._values[item_id].append({CHOSEN: entries_chosen(match)})

    def _values_in(self, item_id: str, match: Match) -> dict[str, Any]:
        compare = str(self.room.case.items[item_id].compare)
        if compare == "profile":
            return {name: one["value"] for name, one in settings_said(match).items()}
        said = value_said(compare, match)
        return {} if said is None else {said.quantity: said.value}

    # What came of it

    def _look_at(
        self,
        steps: list[Step],
        line: str,
        may_pass: set[str],
        said: tuple[object, ...],
    ) -> None:
        for step in steps:
            check_step(self.room.case, step.before, step.records, step.after)
            self.count.asked_again += sum(one.kind == "asked-again" for one in step.records)
            otherwise = bool(meanings(step.heard)) and meanings(step.heard) != said
            newly = _newly_passed(step)
            unsaid = {one for one in newly if one not in may_pass or self._not_said(one)}
            if unsaid or (newly and otherwise):
                self.count.wrong_yes.append(self._account(step, line, sorted(newly)))
            elif otherwise:
                self.count.taken_otherwise.append(self._account(step, line, sorted(newly)))

    def _not_said(self, item_id: str) -> bool:
        """Whether the record has a value for the item that nobody has said."""
        values = self.room.state.item(item_id).values
        compare = self.room.case.items[item_id].compare
        if compare is None and CHOSEN not in values:
            return False
        said = self._values[item_id]
        for name, one in values.items():
            value = one["value"] if compare == "profile" else one
            heard = [each for known in said for key, each in known.items() if key == name]
            if compare == "planned":
                heard = [each for known in said for each in known.values()]
            if value is not None and _plain(value) not in map(_plain, heard):
                return True
        return False

    def _account(self, step: Step, line: str, passed: list[str]) -> dict[str, Any]:
        heard = " ".join(step.heard.words) if step.heard is not None else ""
        return {
            "seed": self.seed,
            "plan": self.plan,
            "asked": step.before.current,
            "said": line,
            "heard": heard,
            "second_look": step.voice.second_look if step.voice is not None else "",
            "passed": passed,
            "voices": list(self.voices),
            "snr_dB": self.snr_dB,
        }

    # Turns that need to have been heard

    def _until_taken(self, line: str, may_pass: set[str]) -> bool:
        for attempt in range(TRIES):
            way = line if attempt < TRIES // 2 else self._other_way(line, attempt)
            if self._tell(way, may_pass, slowly=attempt > 0):
                self.count.at_once += attempt == 0
                return True
            self.count.said_again += attempt < TRIES - 1
            if self.room.state.closed or self._line_now() != line:
                return False
        return False

    def _other_way(self, line: str, number: int) -> str:
        """Other permitted words for the same: numbers digit by digit, or another wording."""
        said = self._meant(line)
        if not isinstance(said, Understood):
            return line
        ways = [digit_by_digit(line)]
        if not said.match.rule.endswith(".value"):
            ways += self.room.case.grammar.examples(said.match.rule)
        others = [
            one for one in ways if one != line and meanings(self._meant(one)) == meanings(said)
        ]
        return others[number % len(others)] if others else line

    def _right(self) -> None:
        """What waits is answered; more slowly again, while it was not taken and still waits."""
        for _ in range(TRIES):
            line, asked = self._line_now(), self._asked()
            if not line or self.room.state.closed:
                return
            self.count.answers += 1
            taken = self._until_taken(line, {asked} if asked else set())
            stays = self._line_now() == line and not self.room.state.closed
            self._without_effect = self._without_effect + 1 if stays else 0
            if stays and (not taken or self._without_effect >= TRIES):
                raise Stuck(f"{asked}: {line}")
            if taken:
                return
        raise Stuck(f"{asked}: {line}")

    def _line_now(self) -> str:
        """What a person says who has listened to the read-back: only what was said is confirmed."""
        state = self.room.state
        case = self.room.case.with_plan(state.plan)
        pending = state.pending
        if pending is not None and not state.held and pending.about in ("echo", "choice"):
            values = {
                name: one["value"] if pending.about == "echo" else one
                for name, one in pending.values.items()
            }
            last: dict[str, Any] = {}
            for one in self._values[pending.item]:
                last.update(one)
            if any(
                value is not None and _plain(value) != _plain(last.get(name))
                for name, value in values.items()
            ):
                return answer_to(case, state, pending.item)
        return right_line(self.room.case, state)

    def _hold(self) -> None:
        if not self._until_said(self.chance.choice(("hold on please", "this is an emergency"))):
            return
        for _ in range(self.chance.randint(0, 2)):
            self._say(chatter(self.chance), set())
        if self.room.state.current:
            case = self.room.case.with_plan(self.room.state.plan)
            self._say(answer_to(case, self.room.state, self.room.state.current), set())
        self._until_said("carry on please")

    def _until_said(self, line: str) -> bool:
        return any(self._tell(line, set(), slowly=attempt > 0) for attempt in range(TRIES))

    def _give_up(self) -> None:
        if self.room.state.held:
            self._until_said("carry on please")
        self._without_effect += 1
        if self._without_effect > TRIES:
            raise Stuck("the case is to be given up")
        Simulation._give_up(self)

    def _silence(self) -> None:
        for step in self._spoken_room.rests(_SILENCE_S):
            check_step(self.room.case, step.before, step.records, step.after)
            assert not _newly_passed(step), step

    def _event(self, event: Event, may_pass: set[str]) -> None:
        assert not isinstance(event, Silence)
        step = self._spoken_room.step(event)
        assert not _newly_passed(step), step


def _newly_passed(step: Step) -> set[str]:
    return {
        item
        for item, standing in step.after.items.items()
        if standing.answer in PASSED and step.before.item(item).answer != standing.answer
    }


def _plain(value: Any) -> Any:
    return tuple(value) if isinstance(value, list | tuple) else value
