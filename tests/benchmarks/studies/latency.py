"""How long after the end of speech a decision stands, at real pace, and what hearing costs.

`python -m tests.benchmarks.studies.latency` plays clean clips of `audio_fixtures_synthetic/answers`
in real time, 32 ms a piece, to the session's hearing with its recogniser in a process of its own,
and takes the time by the clock from the end of speech to the event that the session acts on.
*Prefix-free* answers cannot become a longer permitted sentence, *growable* ones can. With two
channels the second hears the same 12 dB quieter and 3 ms later. The end of speech is labelled by
level: that of the last 10 ms within 40 dB of the clip's loudest 10 ms.

Other work on the machine spoils the figures: the report says how busy it was, and is written only
where it was idle.
"""

from __future__ import annotations

import argparse
import os
import time
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from tests.benchmarks.harness.fixtures import (
    CLEAN,
    FIXTURES,
    Clip,
    meaning_of,
    read_manifest,
    state_at,
)
from tests.benchmarks.harness.measured import circumstances, print_table, proportion, write_report
from tests.benchmarks.harness.places import REPORTS
from voicelist.asr.model import find_model
from voicelist.asr.recogniser_process import RecogniserProcess
from voicelist.asr.vocabulary import vocabulary
from voicelist.asr.wide_beam import wide_search_model
from voicelist.audio.samples import SAMPLE_RATE_HZ, Samples
from voicelist.audio.sound_files import quiet, read_sound
from voicelist.documents.bundle import load_bundle
from voicelist.listening.sound import PIECE_SAMPLES, Piece, SoundHearer
from voicelist.places import shipped
from voicelist.session.case import Case, compile_case
from voicelist.session.events import Equipment, Event, Utterance
from voicelist.session.state import State
from voicelist.understanding.interpretation import Understood

REPORT = REPORTS / "latency.json"
PLAN = "practice-007"
ROLES = ("circulating-nurse", "surgeon")
PREFIX_FREE, GROWABLE = "prefix-free", "growable"
HOW_MANY = {PREFIX_FREE: 40, GROWABLE: 20}
WARM_UP = 4
BEFORE_S, AFTER_S = 0.6, 1.6
FARTHER_dB, LATER_SAMPLES = -12.0, 48
AUDIBLE_dB = -40.0
FRAME = 160
IDLE_LOAD = 2.0
_COSTS_HEAD = ("channels", "share of one core", "memory, MB", "most, MB")
OVER = Equipment("sound", "the clip is over")


@dataclass(frozen=True, slots=True)
class Timed:
    """One clip: seconds from the labelled end of speech to the decision, by the clock and by the
    sound (None where nothing was decided), and whether it was understood as said."""

    clip: Clip
    kind: str
    by_clock_s: float | None
    by_sound_s: float | None
    right: bool


@dataclass(slots=True)
class Paced:
    """A sound source that gives each piece when its last sample would have been captured."""

    channels: int
    began_s: float = 0.0
    first_sample: int = 0
    _sound: Samples = field(default_factory=lambda: np.zeros((1, 0), np.int16))
    _given: int = 0

    def play(self, sound: Samples) -> None:
        """From now on this; shape (channels, n)."""
        self.first_sample += self._given
        self._sound, self._given = sound, 0
        self.began_s = time.monotonic()

    def cue(self, state: State) -> None:
        """Nothing: the sound goes on."""

    def answered(self) -> None:
        """The same."""

    def read(self) -> Piece | Event:
        end = self._given + PIECE_SAMPLES
        if end > self._sound.shape[1]:
            return OVER
        time.sleep(max(0.0, self.began_s + end / SAMPLE_RATE_HZ - time.monotonic()))
        piece = Piece(self.first_sample + self._given, self._sound[:, self._given : end])
        self._given = end
        return piece


@dataclass(frozen=True, slots=True)
class Usage:
    """What a process has used so far: seconds of one core, and of the clock."""

    cpu_s: float
    clock_s: float

    @classmethod
    def of(cls, pid: int) -> Usage:
        after_name = Path(f"/proc/{pid}/stat").read_text(encoding="utf-8").rpartition(")")[2]
        user, system = (int(one) for one in after_name.split()[11:13])
        return cls((user + system) / os.sysconf("SC_CLK_TCK"), time.monotonic())

    def share_since(self, earlier: Usage) -> float:
        return (self.cpu_s - earlier.cpu_s) / (self.clock_s - earlier.clock_s)


def main() -> None:
    """The command."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--every", type=int, default=1, help="only each so manieth: no report")
    every: int = parser.parse_args().every
    case = compile_case(load_bundle(shipped("grammars") / "plans" / f"{PLAN}.yaml"))
    clips = {kind: found[::every] for kind, found in chosen(case).items()}
    load_before = os.getloadavg()[0]
    report: dict[str, Any] = circumstances(find_model().fingerprint)
    for channels in (1, 2):
        report[f"channels_{channels}"] = measure(case, clips, channels)
    # What the benchmark itself adds is less than one.
    report["load_average"] = [round(one, 2) for one in (load_before, os.getloadavg()[0])]
    _print(report)
    busy = max(report["load_average"]) >= IDLE_LOAD
    if busy:
        print(f"Not written: the machine was busy (load average {report['load_average']}).")
    elif every == 1:
        write_report(REPORT, report)


def chosen(case: Case) -> dict[str, list[Clip]]:
    """Clean clips of permitted answers of each kind, spread over all that there are."""
    found: dict[str, list[Clip]] = {kind: [] for kind in HOW_MANY}
    for clip in sorted(read_manifest(), key=lambda one: one.file):
        words = tuple(clip.text.split())
        if clip.folder == "answers" and clip.noise == CLEAN and case.grammar.parses(words):
            grows = case.grammar.graph.can_grow(words)
            found[GROWABLE if grows else PREFIX_FREE].append(clip)
    return {kind: _spread(clips, HOW_MANY[kind]) for kind, clips in found.items()}


def _spread(clips: list[Clip], wanted: int) -> list[Clip]:
    if len(clips) < wanted:
        raise ValueError(f"only {len(clips)} of {wanted} clips are there; make them again")
    return [clips[number * len(clips) // wanted] for number in range(wanted)]


def measure(case: Case, clips: dict[str, list[Clip]], channels: int) -> dict[str, Any]:
    """All clips through the session's hearing on so many channels."""
    wide = wide_search_model(find_model())
    recogniser = RecogniserProcess(wide, channels)
    try:
        source = Paced(channels)
        roles = ROLES if channels == len(ROLES) else ()
        hearer = SoundHearer(case, recogniser, source, roles, vocabulary(wide))
        for clip in clips[PREFIX_FREE][:WARM_UP]:
            _play(case, hearer, source, clip, "")
        if recogniser.pid is None:
            raise RuntimeError("the recogniser has no process")
        before = Usage.of(recogniser.pid)
        timed = [_play(case, hearer, source, clip, kind) for kind in clips for clip in clips[kind]]
        share = Usage.of(recogniser.pid).share_since(before)
        memory_MB = _memory_MB(recogniser.pid)
    finally:
        recogniser.close()
    return {
        **{kind: _summary([one for one in timed if one.kind == kind]) for kind in clips},
        "recogniser_share_of_one_core": round(share, 3),
        "recogniser_memory_MB": memory_MB,
    }


def _play(case: Case, hearer: SoundHearer, source: Paced, clip: Clip, kind: str) -> Timed:
    """One clip in a quiet room, at real pace, until it is over."""
    speech = read_sound(FIXTURES / clip.file).samples[0]
    end_s = BEFORE_S + labelled_end(speech) / SAMPLE_RATE_HZ
    state = state_at(case, clip.asked)
    source.play(room_sound(speech, source.channels))
    by_clock_s = by_sound_s = None
    right = False
    while (event := hearer.next_event(state)) is not OVER:
        if isinstance(event, Utterance) and by_clock_s is None:
            by_clock_s = time.monotonic() - source.began_s - end_s
            decided_s = event.voice.decided_s
            if decided_s is not None:
                by_sound_s = decided_s - source.first_sample / SAMPLE_RATE_HZ - end_s
            found = event.understanding
            right = isinstance(found, Understood) and meaning_of(found.match) == clip.expected
    return Timed(clip, kind, by_clock_s, by_sound_s, right)


def room_sound(speech: Samples, channels: int) -> Samples:
    """Speech in a quiet room with what is before and behind it, shape (channels, n)."""
    before, after = (int(one * SAMPLE_RATE_HZ) for one in (BEFORE_S, AFTER_S))
    near = np.pad(speech.astype(np.float64), (before, after))
    far = np.roll(near, LATER_SAMPLES) * 10 ** (FARTHER_dB / 20)
    noise = np.stack([quiet(len(near)), quiet(len(near))[::-1]])
    both = np.stack([near, far]) + noise
    return np.clip(np.rint(both[:channels]), -32768, 32767).astype(np.int16)


def labelled_end(speech: Samples) -> int:
    """The sample behind the last audible frame."""
    whole = len(speech) - len(speech) % FRAME
    power = (speech[:whole].astype(np.float64) ** 2).reshape(-1, FRAME).mean(axis=1)
    audible = np.flatnonzero(power >= power.max() * 10 ** (AUDIBLE_dB / 10))
    return int(audible[-1] + 1) * FRAME


def _memory_MB(pid: int) -> dict[str, float]:
    lines = Path(f"/proc/{pid}/status").read_text(encoding="utf-8").splitlines()
    kB = {line.split(":")[0]: line.split()[1] for line in lines if line.endswith(" kB")}
    return {"now": round(int(kB["VmRSS"]) / 1024, 1), "most": round(int(kB["VmHWM"]) / 1024, 1)}


def _summary(timed: Sequence[Timed]) -> dict[str, Any]:
    return {
        "clips": len(timed),
        "by_clock_ms": _percentiles([one.by_clock_s for one in timed]),
        "by_sound_ms": _percentiles([one.by_sound_s for one in timed]),
        "undecided": [one.clip.file for one in timed if one.by_clock_s is None],
        "before_the_end": [
            one.clip.file for one in timed if one.by_sound_s is not None and one.by_sound_s < 0
        ],
        "understood_as_said": proportion(sum(one.right for one in timed), len(timed)),
    }


def _percentiles(seconds: Sequence[float | None]) -> dict[str, int | None]:
    known = [one * 1000 for one in seconds if one is not None]
    if not known:
        return {"p50": None, "p95": None, "most": None}
    p50, p95 = np.percentile(known, [50, 95])
    return {"p50": round(p50), "p95": round(p95), "most": round(max(known))}


def _print(report: dict[str, Any]) -> None:
    rows = []
    for channels in (1, 2):
        part = report[f"channels_{channels}"]
        for kind in HOW_MANY:
            one = part[kind]
            clock, sound = one["by_clock_ms"], one["by_sound_ms"]
            counts = (one["understood_as_said"]["count"], *map(len, _odd(one)))
            times = (clock["p50"], clock["p95"], clock["most"], sound["p50"], sound["p95"])
            rows.append((channels, kind, one["clips"], *times, *counts))
    head = ("channels", "answer", "clips", "p50", "p95", "most", "p50 by sound", "p95 by sound")
    title = "Decision after the end of speech, ms"
    print_table(title, (*head, "right", "undecided", "before the end"), rows)
    costs = [
        (
            channels,
            report[f"channels_{channels}"]["recogniser_share_of_one_core"],
            *report[f"channels_{channels}"]["recogniser_memory_MB"].values(),
        )
        for channels in (1, 2)
    ]
    print_table("The recogniser's process", _COSTS_HEAD, costs)
    for channels in (1, 2):
        for kind in HOW_MANY:
            undecided, before = _odd(report[f"channels_{channels}"][kind])
            for file in undecided:
                print(f"undecided on {channels} channels: {file}")
            for file in before:
                print(f"decided before the end on {channels} channels: {file}")


def _odd(part: dict[str, Any]) -> tuple[list[str], list[str]]:
    return part["undecided"], part["before_the_end"]


if __name__ == "__main__":
    main()
