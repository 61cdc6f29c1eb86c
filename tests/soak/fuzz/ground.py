"""A theatre's computer in a folder: settings, records, keys, documents and sound, all good. Each
input changes something of a copy."""

from __future__ import annotations

import hashlib
import json
import shutil
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import soundfile

from tests.session.talk import WHOLE_CASE
from tests.soak.fuzz.started import ended_after
from voicelist.places import shipped
from voicelist.record.database import place_of, writing_engine
from voicelist.record.journal import Entry, chain_line
from voicelist.record.layout import prepare
from voicelist.record.store import Reader

STORE = "home/data/voicelist/records.sqlite3"
SETTINGS = "home/config/voicelist/settings.yaml"
FORGED = "work/forged.sqlite3"
CLOSED, STOPPED = "practice-007", "practice-201"
# What a command may write: files that it was asked for.
OUT = "work/out"
RATE_HZ = 16_000
_SAID = "irrigation-line\tirrigation line firm\n-\twhat is next\nbottle\tbottle is full\n"
_SETTINGS = b"voice: none\npace: fast\nplain: true\nquiet: false\ntheatre: two\ndisplay-port: 0\n"
_INSERT = "INSERT INTO journal VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)"


@dataclass(frozen=True, slots=True)
class Ground:
    """Where it is, and the head of each case that was there before."""

    folder: Path
    heads: Mapping[str, str]

    def data(self, name: str) -> bytes:
        return (self.folder / name).read_bytes()

    def names(self, below: str) -> list[str]:
        """The files below a folder, sorted."""
        root = self.folder / below
        found = (one for one in root.rglob("*") if one.is_file())
        return sorted(str(one.relative_to(self.folder)) for one in found)

    def entries(self, case: str) -> tuple[Entry, ...]:
        return Reader(f"sqlite:///{self.folder / STORE}").entries(case)


def lay_out(folder: Path) -> Ground:
    """Makes it all, by the commands themselves where they make it."""
    work = folder / "work"
    (folder / OUT).mkdir(parents=True)
    shutil.copytree(shipped("grammars"), work / "room")
    settings = folder / SETTINGS
    settings.parent.mkdir(parents=True)
    settings.write_bytes(_SETTINGS)
    (work / "lines.tsv").write_text(_SAID)
    (work / "expect.tsv").write_text("file\ttext\tspeaker\nclip.wav\tirrigation line firm\tnurse\n")
    _sound(work)
    plan = "room/plans/{}.yaml"
    _command(folder, "run", plan.format(CLOSED), "--typed", typed="\n".join(WHOLE_CASE))
    _command(folder, "run", plan.format(STOPPED), "--typed", typed="what is next please")
    _command(folder, "record", "export", CLOSED, "--format", "journal", "-o", "case.jsonl")
    _command(folder, "record", "prove", CLOSED, "eye", "-o", "item.json")
    _command(folder, "record", "key", "site", "-o", "site.key")
    _command(folder, "record", "sign", CLOSED, "--key", "site.key", "-o", "case.signed")
    _command(folder, "record", "sound-key", "-o", "sound.key")
    _command(folder, "checklist", "new", "-o", "room/checklists/ours.yaml")
    reader = Reader(f"sqlite:///{folder / STORE}")
    return Ground(folder, {case: reader.entries(case)[-1].hash for case in reader.codes()})


def _sound(work: Path) -> None:
    """An utterance, and a room of two channels."""
    (said,) = (shipped("audio_fixtures_synthetic") / "demo").glob("02-*.flac")
    samples, rate = soundfile.read(said, dtype="int16")
    assert rate == RATE_HZ
    soundfile.write(work / "clip.wav", samples, rate)
    soundfile.write(work / "clip.flac", samples, rate)
    quiet = np.zeros((2 * RATE_HZ, 2), np.int16)
    quiet[: min(len(samples), len(quiet)), 0] = samples[: len(quiet)]
    soundfile.write(work / "room.wav", quiet, rate)


def _command(folder: Path, *arguments: str, typed: str = "") -> None:
    ended = ended_after(arguments, folder, f"{typed}\n")
    assert ended.code == 0, f"{arguments}: {ended.text[-1000:]}"


def forged(bodies: list[tuple[str, Any]], pattern: tuple[Entry, ...]) -> bytes:
    """A store whose links all hold and whose events say what they like: kinds and bodies. Raises
    RecordError for what no journal can hold."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "records.sqlite3"
        with writing_engine(place_of(f"sqlite:///{file}", False)).connect() as connection:
            prepare(connection)
            with connection.begin():
                for entry, text in rechained(bodies, pattern):
                    row = {**entry.fields(), "body": text}
                    connection.exec_driver_sql(_INSERT, tuple(row.values()))
        return file.read_bytes()


def rechained(bodies: list[tuple[str, Any]], pattern: tuple[Entry, ...]) -> list[tuple[Entry, str]]:
    """Events with these kinds and bodies, at the times of `pattern`, linked as they should be."""
    made: list[tuple[Entry, str]] = []
    for place, (kind, body) in enumerate(bodies):
        like = pattern[min(place, len(pattern) - 1)]
        before = made[-1][0] if made else None
        made.append(
            chain_line(
                before,
                case=like.case,
                at=like.at,
                run=like.run,
                mono_ms=like.mono_ms,
                kind=kind,
                body=body,
            )
        )
    return made


def state_of(folder: Path) -> dict[str, str]:
    """Every file that nobody asked to be written, and what is in it."""
    found: dict[str, str] = {}
    for one in sorted(folder.rglob("*")):
        name = str(one.relative_to(folder))
        if one.is_file() and not name.startswith(OUT):
            found[name] = hashlib.sha256(one.read_bytes()).hexdigest()
    return found


def as_lines(entries: list[tuple[Entry, str]]) -> bytes:
    """A journal file of them."""
    return b"".join(entry.line() + b"\n" for entry, _ in entries)


def plain(entries: tuple[Entry, ...]) -> list[tuple[str, Any]]:
    """Kinds and bodies, free to be changed."""
    return [(one.kind, json.loads(json.dumps(dict(one.body)))) for one in entries]
