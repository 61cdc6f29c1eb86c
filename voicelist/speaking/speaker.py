"""The mouth: says sentences aloud, into a file, or both, and never holds a case up for long.

Whatever fails (no voice, no loudspeaker, a voice that hangs), `say` returns with a sentence for
people and the case goes on in text.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable
from pathlib import Path
from types import TracebackType

from voicelist.errors import SoundError, UsageError
from voicelist.speaking.playing import Loudspeaker
from voicelist.speaking.rendering import RENDER_DEADLINE_S, Failure, Renderer
from voicelist.speaking.speech import Sound, Speech, Spoken
from voicelist.speaking.tone import SPACING_S, soft_tone
from voicelist.speaking.voice_file import GAP_S, VoiceFile
from voicelist.speaking.voices import AUTOMATIC, FASTEST, SLOWEST, VoiceChoice, voice_named

# Between the sentences of one text: the room's echo dies away (0.25 s), and nobody takes the pause
# for their turn, which comes after about as long (Levinson & Torreira 2015; turn gaps of some 200
# ms): behind a gate an answer would not be heard there. Project choice.
SENTENCE_GAP_S = 0.25

# One step of "slower" or "faster"; project choice.
PACE_STEP = 1.15

_GLANCE_S = 0.02


def never() -> bool:
    """Nothing interrupts."""
    return False


def as_written(text: str) -> str:
    """Text that needs no respelling to be spoken."""
    return text


def ignore_sound(_: bool) -> None:
    """Nobody needs to know when there is sound in the room."""


class SpeechOutput:
    """Speaks, for one thread at a time. Close it when done; it is a context manager.

    `play`: through the loudspeaker, waiting until each sound is over; without it nothing waits, and
    `Spoken.seconds` tells how long speaking would have taken. `out`: a .wav or .flac file for all
    that is said. `spell` turns written into speakable text. `rate`: 0.5 (slow) to 2.0; 1.0 is the
    voice's usual pace. `on_sound` is called with True just before sound reaches the room and with
    False just after, so that a microphone can be gated.

    Raises UsageError for an unknown voice, a pace out of range or a wrong file name, SoundError for
    a file that cannot be written, MissingPart for a voice by name that is not installed.
    """

    def __init__(
        self,
        voice: str | VoiceChoice | None = None,
        *,
        play: bool,
        out: Path | None,
        spell: Callable[[str], str] = as_written,
        rate: float = 1.0,
        device: str | None = None,
        on_sound: Callable[[bool], None] = ignore_sound,
        render_deadline_s: float = RENDER_DEADLINE_S,
    ) -> None:
        if not SLOWEST <= rate <= FASTEST:
            raise UsageError(f"The pace {rate:g} is out of range; give {SLOWEST:g} to {FASTEST:g}.")
        choice = voice if isinstance(voice, VoiceChoice) else voice_named(voice)
        self.seconds_spoken = 0.0
        self._spell = spell
        self._on_sound = on_sound
        self._automatic = choice is AUTOMATIC
        self._choice, self._rate, self._deadline_s = choice, rate, render_deadline_s
        self._pace = self._level = 0
        self._notes: list[str] = []
        self._file = VoiceFile(out) if out is not None else None
        self._renderer = (
            None if choice.is_silent else Renderer(choice, rate=rate, deadline_s=render_deadline_s)
        )
        self._loudspeaker = Loudspeaker(device) if play else None
        self._tone_at_s = -SPACING_S
        self._tone_at_file_s = -SPACING_S

    def __enter__(self) -> SpeechOutput:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        at: TracebackType | None,
    ) -> None:
        self.close()

    @property
    def notes(self) -> tuple[str, ...]:
        """What people should know about the voice and the loudspeaker; each once."""
        renderer, loudspeaker = self._renderer, self._loudspeaker
        for sentence in (
            renderer.given_up if renderer else None,
            self._substitute(),
            loudspeaker.absent if loudspeaker else None,
        ):
            if sentence and sentence not in self._notes:
                self._notes.append(sentence)
        return tuple(self._notes)

    @property
    def voice_name(self) -> str | None:
        """The voice that speaks, engine first ("hibari heart"); None until it is ready."""
        ready = self._renderer.voice if self._renderer else None
        return f"{ready.engine} {ready.name}" if ready else None

    @property
    def child_pids(self) -> dict[str, int]:
        """The processes at work, by name: "voice", "loudspeaker"."""
        pids = {
            "voice": self._renderer.pid if self._renderer else None,
            "loudspeaker": self._loudspeaker.pid if self._loudspeaker else None,
        }
        return {name: pid for name, pid in pids.items() if pid is not None}

    def prepare(self, texts: Iterable[str]) -> None:
        """Render these in the background, so that saying them later starts at once."""
        if self._renderer is not None:
            self._renderer.prepare(part for text in texts for part in self._parts(text))

    @property
    def preparing(self) -> int:
        """How many prepared sentences are not rendered yet."""
        return self._renderer.pending if self._renderer else 0

    def say(self, text: str, interrupted: Callable[[], bool] = never) -> Spoken:
        """Say the text, sentence by sentence; returns when the sound is over.

        `interrupted` is asked at least every 50 ms; once it is true the sound stops at once. Raises
        ValueError for text that cannot be spoken (empty, over 500 characters, control characters).
        """
        parts = self._parts(text)
        if self._renderer is None:
            return Spoken(text, 0.0, False, None)
        self._renderer.prepare(parts[1:])
        seconds, all_played = 0.0, True
        for number, part in enumerate(parts):
            if number and not self._gap(SENTENCE_GAP_S, interrupted):
                return self._spoken(text, seconds, False, None)
            seconds += SENTENCE_GAP_S if number else 0.0
            known = self._renderer.given_up is not None
            sound = self._renderer.sound_of(part, interrupted)
            if not isinstance(sound, Sound):
                problem = sound.sentence if isinstance(sound, Failure) and not known else None
                return self._spoken(text, seconds, False, problem)
            sound = self._raised(sound)
            last = number == len(parts) - 1
            part_s, complete, problem = self._emit(
                sound, interrupted, GAP_S if last else SENTENCE_GAP_S
            )
            seconds += part_s
            all_played = all_played and complete
            if problem or (not complete and interrupted()):
                return self._spoken(text, seconds, False, problem)
        return self._spoken(text, seconds, all_played, None)

    def tone(self) -> Spoken:
        """The one soft tone. Left out (not played, no length) within a second of the last one."""
        sound = soft_tone()
        now_s = time.monotonic()
        if self._loudspeaker is not None and now_s - self._tone_at_s < SPACING_S:
            return Spoken("", 0.0, False, None)
        self._tone_at_s = now_s
        if self._file is not None:
            self._space_tones(self._file)
        return Spoken("", *self._emit(sound, never, GAP_S))

    def adjust(self, pace: int, level: int) -> None:
        """Speak so many steps faster (slower if below 0) and louder than usual from now on."""
        self._level = level
        if pace == self._pace or self._renderer is None:
            return
        self._pace = pace
        self._renderer.close()
        rate = min(max(self._rate * PACE_STEP**pace, SLOWEST), FASTEST)
        self._renderer = Renderer(self._choice, rate=rate, deadline_s=self._deadline_s)

    def close(self) -> None:
        """End the children and finish the file."""
        if self._loudspeaker is not None:
            self._loudspeaker.close()
        if self._renderer is not None:
            self._renderer.close()
        if self._file is not None:
            self._file.close()
            self._file = None

    def _raised(self, sound: Sound) -> Sound:
        if not self._level:
            return sound
        from voicelist.speaking.louder import raised

        return raised(sound, self._level)

    def _parts(self, text: str) -> tuple[str, ...]:
        return Speech.of(self._spell(Speech.of(text).text)).sentences()

    def _spoken(self, text: str, seconds: float, played: bool, problem: str | None) -> Spoken:
        self.seconds_spoken += seconds
        return Spoken(text, seconds, played, problem)

    def _substitute(self) -> str | None:
        ready = self._renderer.voice if self._renderer else None
        if self._automatic and ready is not None and ready.engine != "hibari":
            return f"The voice hibari does not start; the system's voice {ready.name} speaks."
        return None

    def _emit(
        self, sound: Sound, interrupted: Callable[[], bool], gap_s: float
    ) -> tuple[float, bool, str | None]:
        """Play and write one sound: its seconds, whether all of it was played, a problem."""
        if self._loudspeaker is None or not self._loudspeaker.wait_ready():
            self._write(sound, gap_s)
            return sound.seconds, False, None
        self._on_sound(True)
        try:
            played = self._loudspeaker.play(sound, interrupted)
        finally:
            self._on_sound(False)
        if played.seconds > 0.0:
            self._write(sound.first(played.seconds), gap_s)
        return played.seconds, played.complete, played.problem

    def _write(self, sound: Sound, gap_s: float) -> None:
        if self._file is None:
            return
        try:
            self._file.add(sound, gap_s)
        except SoundError as error:
            self._notes.append(str(error))
            self._file = None

    def _space_tones(self, file: VoiceFile) -> None:
        """In a file time runs faster than in the room: keep tones a second apart there too."""
        too_soon_s = self._tone_at_file_s + SPACING_S - file.seconds
        if too_soon_s > 0.0:
            self._write(Sound(b""), too_soon_s)
        self._tone_at_file_s = file.seconds

    def _gap(self, seconds: float, interrupted: Callable[[], bool]) -> bool:
        """Be silent between two sentences; False if that was interrupted."""
        end_s = time.monotonic() + (seconds if self._is_heard else 0.0)
        while not interrupted():
            left_s = end_s - time.monotonic()
            if left_s <= 0.0:
                return True
            time.sleep(min(left_s, _GLANCE_S))
        return False

    @property
    def _is_heard(self) -> bool:
        return self._loudspeaker is not None and self._loudspeaker.absent is None
