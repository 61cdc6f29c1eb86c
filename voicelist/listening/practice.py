"""The practice team: people from sound files who answer when they are asked.

An actor knows what the assistant asks for and says its next line for that, as a person would. What
its words amount to is decided by what is heard, never by the script.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import yaml

from voicelist.audio.samples import SAMPLE_RATE_HZ, Samples
from voicelist.audio.sound_files import read_sound
from voicelist.errors import SoundError
from voicelist.listening.sound import PIECE_SAMPLES, Piece
from voicelist.places import shipped
from voicelist.session.state import State

# A person takes a moment before answering (turn gaps of about 200 ms; Levinson & Torreira 2015).
_MOMENT_SAMPLES = int(0.2 * SAMPLE_RATE_HZ)
_AFTER_TALK_SAMPLES = int(1.2 * SAMPLE_RATE_HZ)
_TRIES = 4
# The cue of what is said while nothing is asked.
UNDER_WAY = "under-way"
_CHANNEL_OF = {"surgeon": 1}


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the script and its sound."""

    cue: str
    speaker: str
    text: str
    talk: bool
    file: Path


@dataclass(frozen=True, slots=True)
class Script:
    """A practice case: which plan, and who says what when asked for what."""

    plan: str
    lines: tuple[Line, ...]


def load_script(folder: Path | None = None) -> Script:
    """The shipped practice case, or the one in `folder` (its `script.yaml` and sound files)."""
    place = folder or shipped("audio_fixtures_synthetic") / "demo"
    try:
        data = yaml.safe_load((place / "script.yaml").read_text(encoding="utf-8"))
    except OSError as error:
        raise SoundError(f"The practice case is not in {place}: {error.strerror}.") from error
    lines = tuple(
        Line(
            one["to"],
            one["speaker"],
            one["say"],
            bool(one.get("talk")),
            place / clip_name(number, one["to"]),
        )
        for number, one in enumerate(data["lines"], start=1)
    )
    return Script(data["plan"], lines)


def clip_name(number: int, cue: str) -> str:
    """The file of a script line: its number and cue."""
    return f"{number:02d}-{cue.strip('/').replace('/', '-')}.flac"


@dataclass(slots=True)
class PracticeTeam:
    """A sound source of two channels (nurse and room, surgeon) that answers the assistant.

    `read` gives silence while nobody has anything to say, and None when the team gives up because
    its line was not taken several times over.
    """

    script: Script
    channels: int = 2
    spoken_s: float = 0.0
    playing: Line | None = None
    _left: dict[str, list[Line]] = field(default_factory=lambda: defaultdict(list))
    _last: dict[str, Line] = field(default_factory=dict)
    _tries: dict[str, int] = field(default_factory=lambda: defaultdict(int))
    _sounds: dict[Path, Samples] = field(default_factory=dict)
    _queue: Samples = field(default_factory=lambda: np.zeros((2, 0), np.int16))
    _cue: str = ""
    _position: int = 0
    _gives_up: bool = False

    def __post_init__(self) -> None:
        for line in self.script.lines:
            self._left[line.cue].append(line)
            self._sounds[line.file] = read_sound(line.file).samples[0]

    def cue(self, state: State) -> None:
        """The assistant listens: say the next line for what it asks."""
        asked = UNDER_WAY if state.under_way else state.current
        if state.pending is not None:
            asked = f"{state.pending.item}/{state.pending.about}"
        if asked != self._cue or not self._queue.shape[1]:
            self._cue = asked
            self._begin()

    def answered(self) -> None:
        """What was said has had its effect; nothing of it is left to say."""
        self._queue = np.zeros((2, 0), np.int16)

    def _begin(self) -> None:
        lines = self._left[self._cue]
        line = lines.pop(0) if lines else self._last.get(self._cue)
        if line is None or self._tries[self._cue] >= _TRIES:
            self._gives_up = self._tries[self._cue] >= _TRIES
            self.playing = None
            return
        if line is self._last.get(self._cue):
            self._tries[self._cue] += 1
        self._last[self._cue] = line
        self.playing = line
        self._queue = self._sound_of(line)

    def _sound_of(self, line: Line) -> Samples:
        sound = self._sounds[line.file]
        self.spoken_s += sound.size / SAMPLE_RATE_HZ
        after = _AFTER_TALK_SAMPLES if line.talk else 0
        queue = np.zeros((2, _MOMENT_SAMPLES + sound.size + after), np.int16)
        channel = _CHANNEL_OF.get(line.speaker, 0)
        queue[channel, _MOMENT_SAMPLES : _MOMENT_SAMPLES + sound.size] = sound
        return queue

    def read(self) -> Piece | None:
        """The next 32 ms, or None when the team has given up."""
        if not self._queue.shape[1] and self.playing is not None and self.playing.talk:
            self._begin()
        if self._gives_up:
            return None
        samples, self._queue = self._queue[:, :PIECE_SAMPLES], self._queue[:, PIECE_SAMPLES:]
        samples = np.pad(samples, ((0, 0), (0, PIECE_SAMPLES - samples.shape[1])))
        first_sample, self._position = self._position, self._position + PIECE_SAMPLES
        return Piece(first_sample, samples)
