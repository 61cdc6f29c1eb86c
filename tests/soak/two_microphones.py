"""A whole first case at real pace by two voices with two live microphones, one of which is pulled
out again and again.

    python tests/soak/two_microphones.py [--pulls N] [--headset] [--reduced]
    python tests/soak/two_microphones.py --clocks

Needs PulseAudio, and an idle machine: it judges times. A private sound server has a null sink for
each of two microphones and one as the loudspeaker, which neither microphone hears. The team answers
as its plan says, over the noise of a room, each into their own microphone; the other one hears them
12 dB softer and 3 ms later. What passed is compared with what was said, and all that is answered
while one microphone is gone has to be without a role. From the recorded sinks: how long after the
end of speech the first sound of the reply begins. `--reduced` begins at the pedal and pulls once.
`--headset` answers some questions before they are over. `--clocks` lets two pretend clocks 200 ppm
apart run for a day (half a minute). Exit code 1 if anything is not as it should be.
"""

from __future__ import annotations

import argparse
import random
import signal
import sys
import tempfile
import time
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.audio.test_alignment import Device, apart_ms
from tests.command import PLAN
from tests.live_room import Ears, Person
from tests.pulse import SINK, PulseRoom, pulse_room
from tests.running_program import OnTerminal, on_terminal, records_file
from tests.team.right import right_line
from tests.team.room import case_of
from tests.team.speech import NURSES, SURGEONS, Speech
from tests.team.spoken import digit_by_digit
from voicelist.audio.samples import Samples
from voicelist.errors import RecordError
from voicelist.listening.typed import typed_words
from voicelist.record.store import Reader
from voicelist.session.record_base import Record
from voicelist.session.records import Answered, Called, Heard, Noticed, from_body
from voicelist.session.state import State, evolve

CASE = "practice-007"
ROLES = ("nurse", "surgeon")
SPEECH_LEVEL = 100.0
NOTICED_WITHIN_S, BACK_WITHIN_S = 1.0, 12.0
P50_MS, P95_MS = 500.0, 700.0
FARTHER, LATER_SAMPLES = 10 ** (-12 / 20), 48
REDUCED_FROM = "pedal"
STUCK_AFTER = 6
INTO_CALL_S = 1.2
GIVE_UP_S = 1_800.0


@dataclass
class Figures:
    """What was measured; `problems` are sentences."""

    noticed_s: list[float] = field(default_factory=list)
    back_s: list[float] = field(default_factory=list)
    # Of all replies, and of those to answers that could not go on: others are waited for longer,
    # and what is told while surgery is under way is put to both models.
    reply_ms: list[float] = field(default_factory=list)
    certain_ms: list[float] = field(default_factory=list)
    slowest: tuple[float, str] = (0.0, "")
    said: dict[str, list[str]] = field(default_factory=dict)
    lines: int = 0
    into: int = 0
    problems: list[str] = field(default_factory=list)


class Team:
    """Nurse and surgeon, who follow the case by its record."""

    def __init__(
        self, folder: Path, room: PulseRoom, running: OnTerminal, ears: Ears, *, into: bool
    ) -> None:
        self.folder, self.room, self.running, self.ears = folder, room, running, ears
        self.case = case_of(CASE)
        self.state, self.records = State(), list[Record]()
        self.speech, self.chance, self.into = Speech(), random.Random(5), into
        self.voices = (self.speech.first_of(NURSES, 1), self.speech.first_of(SURGEONS, 1))
        self.people = tuple(
            Person(sink, noise=40.0, seed=number) for number, sink in enumerate(ROLES)
        )
        self.figures = Figures()
        self.gone = False
        self._answered_at = -1
        self._tries = 0

    def close(self) -> None:
        for one in self.people:
            one.close()

    def look(self) -> None:
        """The records that are new."""
        self.running.read_on()
        if not records_file(self.folder).exists():
            return
        reader = Reader(f"sqlite:///{records_file(self.folder)}")
        try:
            entries = reader.entries(CASE) if reader.holds(CASE) else ()
        except RecordError:
            return  # it was written to just then
        for entry in entries[len(self.records) :]:
            record = from_body(entry.kind, entry.body)
            self.records.append(record)
            self.state = evolve(self.state, record)
            self._check(record)

    def _check(self, record: Record) -> None:
        if not isinstance(record, Answered):
            return
        if record.item not in self.figures.said:
            self.figures.problems.append(f"{record.item} passed and nobody had answered it")
        if self.gone and record.role_known_by == "channel":
            self.figures.problems.append(f"{record.item}: a role was known by one microphone")

    def wait_for(self, true: object, within_s: float) -> float | None:
        """Looks until something holds; how long it took."""
        assert callable(true)
        began_s = time.monotonic()
        while time.monotonic() - began_s < within_s:
            self.look()
            if true():
                return time.monotonic() - began_s
            time.sleep(0.02)
        return None

    def answer(self) -> None:
        """Once the assistant waits: the line that is due, and how soon it is replied to."""
        into = self.into and self.figures.lines % 3 == 1 and not self.gone
        if into and self.wait_for(self._is_being_called, 4.0) is not None:
            time.sleep(INTO_CALL_S)
            self.figures.into += 1
        elif self.wait_for(self._is_asked, 15.0) is None:
            return
        line = right_line(self.case, self.state)
        if not line:
            time.sleep(0.2)
            return
        item = self.state.asked
        self._tries = self._tries + 1 if len(self.records) == self._answered_at else 0
        self.figures.said.setdefault(item, []).append(line)
        self.figures.lines += 1
        number = self._who(item, line)
        text = digit_by_digit(line)
        samples = self.speech.samples(self.voices[number], text, None, slowly=self._tries > 0)
        heard_before = self._decided()
        heard_as = typed_words(self.case.bundle.lexicon.to_speech(text), "en")
        certain = not self.state.under_way and not self.case.grammar.graph.can_grow(tuple(heard_as))
        self._say(samples, number)
        self._measure(number, line if certain else "")
        self.wait_for(lambda: self._decided() > heard_before, 5)
        self._answered_at = len(self.records)

    def _decided(self) -> int:
        """How many utterances were decided, the same at the farther microphone apart."""
        those = (one for one in self.records if isinstance(one, Heard))
        return sum("nearer" not in one.why for one in those)

    def _is_being_called(self) -> bool:
        """A call was recorded and has not been said to its end."""
        return bool(self.records) and isinstance(self.records[-1], Called)

    def _is_asked(self) -> bool:
        """The assistant has asked something, is silent, and shows that it listens."""
        quiet = self.ears.quiet_for_s() > 0.45
        waits = bool(self.state.asked or self.state.pending or self.state.under_way)
        return bool(self.state.closed) or (quiet and waits and "listening" in self.last_status)

    @property
    def last_status(self) -> str:
        shown = self.running.shown
        at = max(shown.rfind(one) for one in ("listening", "speaking", "deciding", "starting"))
        return shown[at : at + 9]

    def _who(self, item: str, line: str) -> int:
        asked = self.case.items.get(item)
        surgeons = asked is not None and "circulating-nurse" not in asked.answered_by
        return int(surgeons or line.startswith("surgeon"))

    def _say(self, samples: Samples, number: int) -> None:
        if not self.gone:
            late = np.concatenate([np.zeros(LATER_SAMPLES), samples * FARTHER])
            self.people[1 - number].say(late.astype(np.int16))
        # While the surgeon's microphone is gone the nurse's hears whoever speaks.
        self.people[0 if self.gone else number].say(samples)

    def _measure(self, number: int, certain: str) -> None:
        """How soon it is replied; `certain` is what was said if that cannot go on."""
        person = self.people[0 if self.gone else number]
        self.wait_for(lambda: person.began_s > 0 and not person.speaking, 20)
        ended_s = person.ended_s
        replied = self.wait_for(lambda: self.ears.first_sound_after(ended_s) is not None, 3)
        if replied is not None:
            first_s = self.ears.first_sound_after(ended_s)
            assert first_s is not None
            self.figures.reply_ms.append((first_s - ended_s) * 1000)
            if certain:
                self.figures.certain_ms.append(self.figures.reply_ms[-1])
                slow = (self.figures.reply_ms[-1], certain)
                self.figures.slowest = max(self.figures.slowest, slow)

    def pull_and_plug(self) -> None:
        """The surgeon's microphone goes, is missed, is plugged in again, and is back."""
        surgeon, behind = self.people[1], len(self.running.shown)
        pulled_s = time.monotonic()
        self.gone = True
        surgeon.pulled_out(self.room)
        if self.wait_for(lambda: "surgeon NOT HEARD" in self.running.shown[behind:], 5) is None:
            self.figures.problems.append("a lost microphone was not noticed within 5 s")
        self.figures.noticed_s.append(time.monotonic() - pulled_s)
        said = "Surgeon is not heard just now."
        told_s = self.wait_for(lambda: said in self.running.shown[behind:] or self.state.closed, 15)
        if told_s is None:
            self.figures.problems.append("a lost microphone was not told aloud")
        self.answer()
        surgeon.plugged_in(self.room)
        count = self._notices()
        back_s = self.wait_for(lambda: self._notices() > count or self.state.closed, BACK_WITHIN_S)
        if self.state.closed:
            return  # that was the last item, and nobody listens any more
        if back_s is None:
            self.figures.problems.append("a microphone that was plugged in did not come back")
        else:
            self.figures.back_s.append(back_s)
        self.gone = False

    def _notices(self) -> int:
        return sum(isinstance(one, Noticed) for one in self.records)


def held(folder: Path, wanted: argparse.Namespace, patch: pytest.MonkeyPatch) -> Figures:
    """One case; the figures."""
    options = ["run", PLAN, "--mic", "nurse", "--mic", "surgeon", "--voice", "hibari"]
    options += ["--headset"] if wanted.headset else []
    options += ["--from", REDUCED_FROM] if wanted.reduced else []
    lines_at_most = 3 if wanted.reduced else 1_000
    with (
        pulse_room(folder, patch, ROLES) as room,
        Ears(SINK).listening() as ears,
        on_terminal(folder, *options) as running,
    ):
        team = Team(folder, room, running, ears, into=wanted.headset)
        try:
            began_s, pulls = time.monotonic(), 0
            while not team.state.closed and time.monotonic() - began_s < GIVE_UP_S:
                if pulls < wanted.pulls and team.figures.lines % 3 > 0:
                    pulls += 1
                    team.pull_and_plug()
                else:
                    team.answer()
                if team.figures.lines >= lines_at_most:
                    break
                if team._tries >= STUCK_AFTER:
                    team.figures.problems.append(f"stuck at {team.state.asked}")
                    break
            if not wanted.reduced and team.state.closed != "completed":
                team.figures.problems.append(f"the case ended {team.state.closed or 'open'}")
            if running.process.poll() is None:
                running.send(signal.SIGINT)
                running.ended()
            team.look()
        finally:
            team.close()
        reader = Reader(f"sqlite:///{records_file(folder)}")
        if not reader.verify(CASE).ok:
            team.figures.problems.append("the record does not verify")
        return team.figures


def report(figures: Figures) -> int:
    """Prints all; 1 if something is not as it should be."""
    late = [one for one in figures.noticed_s if one > NOTICED_WITHIN_S]
    if late:
        figures.problems.append(f"noticed after {max(late):.2f} s, not {NOTICED_WITHIN_S:g}")
    print(f"end of speech to first sound (wanted {P50_MS:.0f} and {P95_MS:.0f} ms):")
    replies = (("all", figures.reply_ms), ("to answers that cannot go on", figures.certain_ms))
    for what, times_ms in replies:
        if times_ms:
            p50, p95 = np.percentile(times_ms, [50, 95])
            print(f"  {what}: p50 {p50:.0f} ms, p95 {p95:.0f} ms, {len(times_ms)} replies")
    print("  of these the slowest: {:.0f} ms, {}".format(*figures.slowest))
    for what, seconds in (("noticed", figures.noticed_s), ("back", figures.back_s)):
        if seconds:
            median = float(np.median(seconds))
            print(f"{what} after {median:.2f} s (median), {max(seconds):.2f} s at most,", end=" ")
            print(f"{len(seconds)} times")
    print(f"{figures.lines} lines said, {figures.into} of them into a call")
    for one in figures.problems:
        print(f"PROBLEM: {one}")
    return 1 if figures.problems or not figures.lines else 0


def clocks() -> int:
    fast, slow = Device(100, 12, 1, block_s=0.1), Device(-100, 12, 2, block_s=0.1)
    most_ms = apart_ms(fast, slow, 60, 86_400, 1.0)
    print(f"two clocks 200 ppm apart for a day: {most_ms:.1f} ms apart at most")
    return int(most_ms > 10)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--pulls", type=int, default=20)
    parser.add_argument("--headset", action="store_true")
    parser.add_argument("--clocks", action="store_true")
    parser.add_argument("--reduced", action="store_true")
    wanted = parser.parse_args()
    if wanted.clocks:
        return clocks()
    if wanted.reduced:
        wanted.pulls = 1
    with tempfile.TemporaryDirectory() as folder, pytest.MonkeyPatch.context() as patch:
        return report(held(Path(folder), wanted, patch))


if __name__ == "__main__":
    sys.exit(main())
