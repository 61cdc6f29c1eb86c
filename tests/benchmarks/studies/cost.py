"""What hearing costs: two channels' share of one core at real pace, and `voicelist hear` on a
folder as times real time.

`python -m tests.benchmarks.studies.cost` plays, at real pace, to the session's hearing with its
recogniser in a process of its own: a quiet room, answers with pauses between them, and people who
never stop; on both channels, the second 12 dB fainter. Counted is the computing time of the
recogniser's process and of this one. Then it has the command hear folders of recordings, its start
included. To be kept: two channels below half of a core, and a folder at least 8 times faster than
real time.

Other work on the machine spoils the second figure, hardly the first: the report says how busy it
was.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import cycle
from pathlib import Path
from typing import Any

import numpy as np
import soundfile

from tests.benchmarks.harness.fixtures import FIXTURES, read_manifest
from tests.benchmarks.harness.measured import circumstances, print_table, write_report
from tests.benchmarks.harness.places import REPORTS, SPEECH
from tests.benchmarks.studies.latency import OVER, PLAN, ROLES, Paced, Usage, room_sound
from voicelist.asr.model import find_model
from voicelist.asr.recogniser_process import RecogniserProcess
from voicelist.asr.vocabulary import vocabulary
from voicelist.asr.wide_beam import wide_search_model
from voicelist.audio.samples import SAMPLE_RATE_HZ, Samples
from voicelist.audio.sound_files import read_sound
from voicelist.documents.bundle import load_bundle
from voicelist.listening.sound import SoundHearer
from voicelist.places import shipped
from voicelist.session.case import Case, compile_case
from voicelist.session.state import State

REPORT = REPORTS / "cost.json"
SECONDS = 60
ITEM = "irrigation-line"
QUIET, ANSWERS, TALK = "a quiet room", "answers and pauses", "talk without a pause"
SHARE_AT_MOST, TIMES_AT_LEAST = 0.5, 8.0


@dataclass(frozen=True, slots=True)
class Folder:
    """Recordings and the grammar that the command hears them under."""

    name: str
    grammar: Path
    files: tuple[Path, ...]


def main() -> None:
    """The command."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n\n")[0])
    parser.add_argument("--seconds", type=int, default=SECONDS, help="of each load")
    parser.add_argument("--every", type=int, default=1, help="only each so manieth file: no report")
    asked = parser.parse_args()
    report: dict[str, Any] = circumstances(find_model().fingerprint)
    report["load_average_before"] = round(os.getloadavg()[0], 2)
    report["share_of_one_core"] = {
        f"{channels} channels, {load}": shares(channels, load, asked.seconds)
        for channels in (1, 2)
        for load in (QUIET, ANSWERS, TALK)
    }
    report["folders"] = {one.name: heard(one) for one in _folders(asked.every)}
    _print(report)
    if asked.every == 1 and asked.seconds == SECONDS:
        write_report(REPORT, report)


def shares(channels: int, load: str, seconds: int) -> dict[str, float]:
    """The share of one core that hearing takes under a load."""
    case = compile_case(load_bundle(shipped("grammars") / "plans" / f"{PLAN}.yaml"))
    wide = wide_search_model(find_model())
    recogniser = RecogniserProcess(wide, channels)
    try:
        source = Paced(channels)
        roles = ROLES if channels == len(ROLES) else ()
        hearer = SoundHearer(case, recogniser, source, roles, vocabulary(wide))
        _play(case, hearer, source, _sound(load, channels, 5))  # everything is loaded and compiled
        if recogniser.pid is None:
            raise RuntimeError("the recogniser has no process")
        pids = {"recogniser": recogniser.pid, "session": os.getpid()}
        before = {name: Usage.of(pid) for name, pid in pids.items()}
        _play(case, hearer, source, _sound(load, channels, seconds))
        used = {name: Usage.of(pid).share_since(before[name]) for name, pid in pids.items()}
    finally:
        recogniser.close()
    return {
        **{name: round(share, 3) for name, share in used.items()},
        "all": round(sum(used.values()), 3),
    }


def _play(case: Case, hearer: SoundHearer, source: Paced, sound: Samples) -> None:
    state = State(section=case.section_of[ITEM].id, current=ITEM)
    source.play(sound)
    while hearer.next_event(state) is not OVER:
        pass


def _sound(load: str, channels: int, seconds: int) -> Samples:
    """So many seconds of a load, shape (channels, n)."""
    length = seconds * SAMPLE_RATE_HZ
    if load == QUIET:
        return room_sound(np.zeros(length, np.int16), channels)[:, :length]
    clips = sorted(one.file for one in read_manifest() if one.folder == "answers")[::7]
    parts: list[Samples] = []
    for file in cycle(clips):
        speech: Samples = read_sound(FIXTURES / file).samples[0]
        if load == TALK:
            edge = int(0.33 * SAMPLE_RATE_HZ)  # the clips' own quiet
            parts.append(_as_channels(speech[edge:-edge], channels))
        else:
            parts.append(room_sound(speech, channels))
        if sum(part.shape[1] for part in parts) >= length:
            return np.concatenate(parts, axis=1)[:, :length]
    raise AssertionError("there are no clips")


def _as_channels(speech: Samples, channels: int) -> Samples:
    return np.stack([speech, speech // 4])[:channels].astype(np.int16)


def _folders(every: int) -> Iterator[Folder]:
    answers = tuple(sorted((FIXTURES / "answers").glob("*.flac"))[::every])
    checklist = shipped("grammars") / "checklists" / "phaco.yaml"
    yield Folder("answers of the test sound", checklist, answers)
    if (SPEECH / "coffee").is_dir():
        orders = tuple(sorted((SPEECH / "coffee").glob("*.flac"))[::every])
        yield Folder("orders of real people", SPEECH / "coffee.abnf", orders)


def heard(folder: Folder) -> dict[str, float]:
    """The command on a folder: how many times faster than real time."""
    seconds = sum(soundfile.info(str(file)).duration for file in folder.files)
    command = [sys.executable, "-m", "voicelist", "hear", str(folder.grammar), "--json"]
    began_s, children = time.perf_counter(), os.times()
    told = subprocess.run(
        [*command, *map(str, folder.files)], capture_output=True, text=True, check=True
    ).stdout
    took_s, after = time.perf_counter() - began_s, os.times()
    cpu_s = after.children_user + after.children_system
    cpu_s -= children.children_user + children.children_system
    decode_s = sum(json.loads(line)["decode_s"] for line in told.splitlines())
    return {
        "files": len(folder.files),
        "seconds": round(seconds, 1),
        "times_real_time": round(seconds / took_s, 1),
        "times_real_time_by_computing_time": round(seconds / cpu_s, 1),
        "times_real_time_decoding_alone": round(seconds / decode_s, 1),
    }


def _print(report: dict[str, Any]) -> None:
    parts: Sequence[tuple[str, dict[str, float]]] = list(report["share_of_one_core"].items())
    rows = [
        (name, *(f"{share:.3f}" for share in part.values()), _kept(part["all"] < SHARE_AT_MOST))
        for name, part in parts
    ]
    print_table("Share of one core", ("", "recogniser", "session", "all", "below half"), rows)
    rows = [
        (name, *part.values(), _kept(part["times_real_time"] >= TIMES_AT_LEAST))
        for name, part in report["folders"].items()
    ]
    head = ("", "files", "seconds", "by clock", "by computing", "decoding alone", "8 times or more")
    print_table("voicelist hear on a folder, times real time", head, rows)


def _kept(kept: bool) -> str:
    return "kept" if kept else "NOT KEPT"


if __name__ == "__main__":
    main()
