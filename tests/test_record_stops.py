"""The record fails during a case: the room is told, and nothing after it is acknowledged."""

from __future__ import annotations

import contextlib
import os
import re
import resource
import shutil
import sqlite3
import subprocess
from pathlib import Path
from subprocess import PIPE, Popen

import pytest

from tests.command import CHECKLIST, GRAMMARS, PLAN, Command, voicelist
from tests.running_program import PROGRAM, entries_in, environment, fail_when, records_file
from tests.session.talk import WHOLE_CASE
from voicelist.asr.model import ModelPlace
from voicelist.documents.loading import load_checklist, load_sentences
from voicelist.hear import HeardUtterance, hear_files, prepare
from voicelist.record.space import REFUSED_BELOW_BYTES, TOLD_BELOW_BYTES
from voicelist.record.store import Reader

__all__ = ["voicelist"]

ANSWERS = WHOLE_CASE[:6]
CASE = "practice-007"
FIRST_ITEM, SECOND_ITEM = "irrigation line", "aspiration line"
TOLD = """#ABNF 1.0;
language en-US;
root $told;
public $told = the record stopped | not recorded irrigation line
    | please go on with the printed list;
"""


def run_typed(
    folder: Path, *more: object, typed: tuple[str, ...] = ANSWERS, voice: str = "none"
) -> subprocess.CompletedProcess[str]:
    """A typed case in a process of its own."""
    return subprocess.run(
        [*PROGRAM, "run", str(PLAN), "--typed", "--voice", voice, *map(str, more)],
        input="\n".join(typed) + "\n",
        env=environment(folder),
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )


def told_and_ended(done: subprocess.CompletedProcess[str], item: str) -> list[str]:
    """The lines shown; the last spoken one says that the record stopped, and where."""
    assert done.returncode == 1, done.stderr
    assert "Traceback" not in done.stdout + done.stderr
    shown = [line.strip() for line in done.stdout.splitlines() if line.strip()]
    spoken = [line for line in shown if line.startswith("voicelist  ")]
    at = f" Not recorded: {item}." if item else ""
    assert spoken[-1] == f"voicelist  The record stopped.{at} Please go on with the printed list."
    behind = shown[shown.index(spoken[-1]) + 1 :]
    assert not any("recorded" in line for line in behind), behind
    assert len(done.stderr.strip().splitlines()) == 1
    assert "Not recorded: " in done.stderr
    return shown


@pytest.mark.parametrize(
    ("condition", "item", "acknowledged"),
    [
        ("NEW.kind = 'answered' AND NEW.body LIKE '%aspiration-line%'", SECOND_ITEM, 1),
        ("NEW.kind = 'heard' AND NEW.seq > 8", SECOND_ITEM, 1),
        ("NEW.kind = 'said'", FIRST_ITEM, 0),
        ("NEW.kind = 'called' AND NEW.seq > 5", SECOND_ITEM, 1),
        ("NEW.kind = 'closed'", "", 6),
    ],
)
def test_the_room_is_told_at_which_item_the_record_stopped(
    tmp_path: Path, condition: str, item: str, acknowledged: int
) -> None:
    fail_when(tmp_path, condition)
    done = run_typed(tmp_path)
    if not item:
        item = re.findall(r"Not recorded: (.+?)\. Please", done.stdout)[-1]
    shown = told_and_ended(done, item)
    assert shown.count("· recorded") == acknowledged
    assert f"notice  Later: voicelist resume {CASE}, with the same options." in shown
    entries = entries_in(tmp_path, CASE)
    assert entries[-1].kind != "closed"
    assert sum(one.kind == "answered" for one in entries) == acknowledged


def test_a_case_that_cannot_be_opened_is_told_as_well(tmp_path: Path) -> None:
    fail_when(tmp_path, "NEW.kind = 'opened'")
    shown = told_and_ended(run_typed(tmp_path), "")
    assert "notice  Later: start it again with the same command." in shown
    assert not any(line.endswith("?") for line in shown), "nothing is called"


def test_what_stopped_goes_on_with_the_item_that_was_named(tmp_path: Path) -> None:
    fail_when(tmp_path, "NEW.kind = 'answered' AND NEW.body LIKE '%aspiration-line%'")
    told_and_ended(run_typed(tmp_path), SECOND_ITEM)
    database = records_file(tmp_path)
    with sqlite3.connect(database) as connection:
        connection.execute("DROP TRIGGER full_disk")
    resumed = subprocess.run(
        [*PROGRAM, "resume", CASE, "--typed", "--voice", "none"],
        input="aspiration line firm\n",
        env=environment(tmp_path),
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    questions = [line for line in resumed.stdout.splitlines() if "  voicelist  " in line]
    assert questions[0].endswith("the aspiration line?")


def test_a_file_that_may_not_grow_stops_the_record(tmp_path: Path) -> None:
    def no_room() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (200_000, 200_000))

    done = subprocess.run(
        [*PROGRAM, "run", str(PLAN), "--typed", "--voice", "none"],
        input="\n".join(WHOLE_CASE) + "\n",
        env=environment(tmp_path),
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
        preexec_fn=no_room,
    )
    item = re.findall(r"Not recorded: (.+?)\. Please", done.stdout)
    told_and_ended(done, item[0] if item else "")
    entries_in(tmp_path, CASE)


def all_told_in(sound: Path, folder: Path) -> list[str]:
    """Which of the sentences of a record that stopped are heard in a sound file, in order."""
    grammar = folder / "told.abnf"
    grammar.write_text(TOLD, encoding="utf-8")
    every = list(hear_files(prepare(grammar, None), [sound], stream=True, channel=0))
    heard = [one.as_json() for one in every if isinstance(one, HeardUtterance)]
    return [str(one["words"]) for one in heard if one["status"] == "understood"]


def a_voice() -> str:
    if shutil.which("espeak-ng") is None:
        pytest.skip("not installed: espeak-ng, a system voice")
    return "system"


@pytest.mark.parametrize("command", ["run", "demo"])
def test_it_is_really_spoken(tmp_path: Path, speech_model: ModelPlace, command: str) -> None:
    """By typed lines, and by the practice team; the voice's file is heard by the recogniser."""
    assert speech_model
    sound, practice = tmp_path / "said.wav", command == "demo"
    fail_when(tmp_path, "NEW.kind = 'answered'", practice=practice)
    if practice:
        done = subprocess.run(
            [*PROGRAM, "demo", "--voice", a_voice(), "--voice-out", str(sound)],
            env=environment(tmp_path),
            capture_output=True,
            text=True,
            timeout=240,
            check=False,
        )
    else:
        done = run_typed(tmp_path, "--voice-out", sound, voice=a_voice())
    told_and_ended(done, FIRST_ITEM)
    assert all_told_in(sound, tmp_path) == [
        "the record stopped",
        f"not recorded {FIRST_ITEM}",
        "please go on with the printed list",
    ]
    said = [one for one in entries_in(tmp_path, CASE, practice=practice) if one.kind == "said"]
    read_back = ["Was that firm?"] if practice else []  # the practice team says it in own words
    assert [one.body["text"] for one in said] == [
        "The lines.",
        "Firm or loose: the irrigation line?",
        *read_back,
    ]


def test_sentences_of_a_record_that_stopped_have_at_most_twelve_words() -> None:
    catalogue = load_sentences(GRAMMARS / "sentences.en.yaml").document
    checklist = load_checklist(CHECKLIST).document
    names = [item.name for section in checklist.sections for item in section.items]
    texts = [catalogue.text("record-stopped")]
    texts += [catalogue.text("record-stopped-at", name=name) for name in names]
    for text in texts:
        for sentence in text.split(". "):
            assert len(sentence.split()) <= 12, sentence


def test_little_room_on_the_disk_is_told_and_too_little_refused(
    voicelist: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    def with_free(count: int) -> None:
        usage = shutil.disk_usage("/")._replace(free=count)
        monkeypatch.setattr("voicelist.record.space.shutil.disk_usage", lambda _: usage)

    with_free(REFUSED_BELOW_BYTES - 1)
    refused = voicelist("run", PLAN, "--typed", "--voice", "none", typed="irrigation line firm\n")
    assert refused.code == 1
    assert refused.out == ""
    assert len(refused.err.strip().splitlines()) == 1
    assert "make room" in refused.err
    assert voicelist("record", "list", "--json").out.strip() == "[]"
    with_free(TOLD_BELOW_BYTES - 1)
    told = voicelist("run", PLAN, "--typed", "--voice", "none", typed="irrigation line firm\n")
    assert told.code == 0
    assert "100 MB left: make room soon." in told.out
    with_free(TOLD_BELOW_BYTES)
    silent = voicelist("resume", CASE, "--typed", "--voice", "none", typed="")
    assert silent.code == 0
    assert "make room" not in silent.out


def test_on_a_small_disk_that_fills_up_the_room_is_told(tmp_path: Path) -> None:
    disk = tmp_path / "disk"
    disk.mkdir()
    if shutil.which("mount") is None or os.geteuid() != 0:
        pytest.skip("a small disk needs the right to mount one")
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=11m", "tmpfs", str(disk)], check=False
    )
    if mounted.returncode:
        pytest.skip("a small disk cannot be mounted here")
    try:
        with Popen(
            [*PROGRAM, "run", str(PLAN), "--typed", "--voice", "none", "--store", store(disk)],
            stdin=PIPE,
            stdout=PIPE,
            stderr=PIPE,
            env=environment(tmp_path),
            text=True,
        ) as running:
            assert running.stdin is not None
            assert running.stdout is not None
            while "irrigation line?" not in running.stdout.readline():
                assert running.poll() is None
            fill_up(disk)
            out, err = running.communicate("\n".join(WHOLE_CASE) + "\n", timeout=120)
        assert running.returncode == 1
        assert re.search(r"The record stopped\..* Please go on with the printed list\.", out)
        assert len(err.strip().splitlines()) == 1
        refused = run_typed(tmp_path, "--store", store(disk))
        assert refused.returncode == 1
        assert "make room" in refused.stderr
        assert Reader(store(disk)).verify(CASE).ok
    finally:
        subprocess.run(["umount", str(disk)], check=True)


def fill_up(disk: Path) -> None:
    """Write until there is no room left."""
    with contextlib.suppress(OSError), (disk / "rest").open("wb", buffering=0) as rest:
        while rest.write(bytes(4096)):
            pass
    assert shutil.disk_usage(disk).free == 0


def store(folder: Path) -> str:
    return f"sqlite:///{folder / 'records.sqlite3'}"
