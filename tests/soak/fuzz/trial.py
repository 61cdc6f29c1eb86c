"""One input, given to the real command, and what is amiss about how it ended."""

from __future__ import annotations

import os
import shutil
import signal
import unicodedata
from collections.abc import Iterator, Mapping
from pathlib import Path

from tests.soak.fuzz.ground import FORGED, OUT, STORE, Ground, state_of
from tests.soak.fuzz.inputs import Input
from tests.soak.fuzz.started import CLOCK_S, COMPUTING_S, MEMORY_BYTES, Ended, ended_after
from voicelist.errors import VoicelistError
from voicelist.record.store import Reader

_OUTPUT_BYTES = 2_000_000
_SHOWN = 400
_CODES = (0, 1, 2, 3)


class Room:
    """A copy of the good ground, in which one input after the other is tried."""

    def __init__(self, ground: Ground, folder: Path) -> None:
        self._ground, self._folder = ground, folder
        self._before: Mapping[str, str] = {}

    def tried(self, given: Input) -> tuple[Ended, list[str]]:
        """How it ended, and what is amiss."""
        self._make_good()
        for name, data in given.files.items():
            (self._folder / name).write_bytes(data)
        before = state_of(self._folder)
        ended = ended_after(given.arguments, self._folder, given.typed, whole=given.whole)
        after = state_of(self._folder)
        self._before = {} if after != self._before else self._before
        amiss = [*_ending(ended), *_printed(ended)]
        changed = {
            name
            for name in before.keys() | after.keys()
            if before.get(name) != after.get(name) and not _asked_for(given, name)
        }
        if "resume" in given.arguments:  # takes the lock of the store, whatever is in it
            changed -= {f"{FORGED}.lock"}
        if given.writes:
            changed = {name for name in changed if not name.startswith("home/data/voicelist/")}
            amiss += self._records(given)
        if changed:
            amiss.append(f"changed {', '.join(sorted(changed))}")
        for name in given.files:
            self._restore(name)
        return ended, amiss

    def _make_good(self) -> None:
        if not self._before:
            shutil.rmtree(self._folder, ignore_errors=True)
            shutil.copytree(self._ground.folder, self._folder)
            self._before = state_of(self._folder)
        for one in (self._folder / OUT).iterdir():
            shutil.rmtree(one) if one.is_dir() else one.unlink()

    def _restore(self, name: str) -> None:
        if not self._before:
            return
        if (self._ground.folder / name).exists():
            shutil.copy(self._ground.folder / name, self._folder / name)
        else:
            (self._folder / name).unlink(missing_ok=True)
        self._before = state_of(self._folder)

    def _records(self, given: Input) -> Iterator[str]:
        """What was recorded before is as it was; what came, verifies."""
        reader = Reader(f"sqlite:///{self._folder / STORE}")
        try:
            cases = set(reader.codes())
            for case, verdict in reader.verify_all():
                if not verdict.ok:
                    yield f"{case} does not verify: {verdict.problems[0]}"
                head = self._ground.heads.get(case)
                if head is not None and head not in {one.hash for one in reader.entries(case)}:
                    yield f"events of {case} are gone"
        except VoicelistError as error:
            yield f"the records cannot be read: {error}"
            return
        if "erase" not in given.arguments and self._ground.heads.keys() - cases:
            yield "a case is gone"


def _asked_for(given: Input, name: str) -> bool:
    """Whether a file is what the command line itself names as its output."""
    pairs = zip(given.arguments, given.arguments[1:], strict=False)
    named = [value for option, value in pairs if option in ("-o", "--output")]
    paths = (os.path.normpath(f"work/{one}") for one in named if one)
    return any(name == path or name.startswith(f"{path}/") for path in paths)


def _ending(ended: Ended) -> Iterator[str]:
    if ended.code == -signal.SIGXCPU or ended.computing_s > COMPUTING_S:
        yield f"took more than {COMPUTING_S} s"
    elif ended.code == -signal.SIGKILL:
        yield f"did not end within {CLOCK_S} s"
    elif ended.code not in _CODES:
        yield f"ended with {ended.code}"
    if ended.peak_bytes > MEMORY_BYTES:
        yield f"took {ended.peak_bytes >> 20} MB"
    if ended.left_over:
        yield f"left {ended.left_over} processes behind"


def _printed(ended: Ended) -> Iterator[str]:
    text = ended.text
    if "Traceback" in text or "did not expect" in text:
        at = max(text.find("did not expect"), text.rfind("\n", 0, len(text) - 2))
        yield f"no clear sentence: {text[max(at - 40, 0) :][:_SHOWN]}"
    elif ended.code and not text.strip():
        yield "said nothing"
    steering = {one for one in text if unicodedata.category(one) in {"Cc", "Cf"}} - set("\n\t")
    if steering:
        yield f"printed what steers a terminal: {sorted(map(ascii, steering))}"
    if len(text) > _OUTPUT_BYTES:
        yield f"printed {len(text)} characters"
