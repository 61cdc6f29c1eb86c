"""Text to sound in a child process, kept until it is needed.

A thread of the parent looks after the child: it hands texts over one at a time, those that are
waited for first, and ends and restarts a child that dies or does not answer in time. After three
losses in a row the voice is given up, so that a case is not held up at every sentence.
"""

from __future__ import annotations

import threading
import time
from collections import deque
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from voicelist.child import Child, ChildEnd, ChildLost, hush
from voicelist.speaking.desk import Desk
from voicelist.speaking.speech import Sound
from voicelist.speaking.voices import SpeakingVoice, VoiceChoice

RENDER_DEADLINE_S = 5.0
START_DEADLINE_S = 20.0
LOSSES_IN_A_ROW_AT_MOST = 3
KEPT_AT_MOST_S = 1800.0

_GLANCE_S = 0.02


@dataclass(frozen=True, slots=True)
class Render:
    number: int
    text: str


@dataclass(frozen=True, slots=True)
class Rendered:
    number: int
    sound: Sound


@dataclass(frozen=True, slots=True)
class NotRendered:
    number: int
    reason: str


@dataclass(frozen=True, slots=True)
class VoiceReady:
    name: str
    engine: str


@dataclass(frozen=True, slots=True)
class NoVoice:
    reason: str


@dataclass(frozen=True, slots=True)
class Failure:
    """Why there is no sound, as a sentence."""

    sentence: str


def render_loop(end: ChildEnd, choice: VoiceChoice, rate: float) -> None:
    """The child: makes the voice, then renders one text after the other."""
    hush()
    try:
        voice = choice.make(rate)
    except Exception as error:
        end.send(NoVoice(f"{type(error).__name__}: {error}"))
        return
    desk = Desk(end)
    desk.post(VoiceReady(voice.name, voice.engine))
    while True:
        desk.post(_answer(voice, desk.next()))


def _answer(voice: SpeakingVoice, wanted: Render) -> Rendered | NotRendered:
    from voicelist.speaking.levels import standard_sound

    try:
        sound = standard_sound(*voice.render(wanted.text))
    except Exception as error:
        return NotRendered(wanted.number, f"{type(error).__name__}: {error}")
    if not sound.pcm:
        return NotRendered(wanted.number, "it made no sound")
    return Rendered(wanted.number, sound)


class Renderer:
    """The parent's side. `sound_of` is for one thread at a time."""

    def __init__(
        self, choice: VoiceChoice, *, rate: float = 1.0, deadline_s: float = RENDER_DEADLINE_S
    ) -> None:
        self.voice: VoiceReady | None = None
        self.given_up: str | None = None
        self._name = choice.name
        self._deadline_s = deadline_s
        self._child = Child("voice", render_loop, (choice, rate))
        self._number = 0
        self._losses = 0
        self._running = False
        self._closing = False
        self._changed = threading.Condition()
        self._now: deque[str] = deque()
        self._later: deque[str] = deque()
        self._sounds: dict[str, Sound] = {}
        self._failures: dict[str, Failure] = {}
        self._keeper = threading.Thread(target=self._keep, name="voice keeper", daemon=True)
        self._keeper.start()

    @property
    def pid(self) -> int | None:
        """The child's process, while there is one."""
        return self._child.pid if self._running else None

    def prepare(self, texts: Iterable[str]) -> None:
        """Render these when nothing else is waited for."""
        with self._changed:
            self._later.extend(text for text in texts if text not in self._sounds)

    @property
    def pending(self) -> int:
        """How many prepared texts are not rendered yet."""
        with self._changed:
            return len(self._later)

    def sound_of(self, text: str, interrupted: Callable[[], bool]) -> Sound | Failure | None:
        """The text as sound, or why not; None if interrupted. Never waits much past the deadline,
        or past the start of the voice if that is still under way."""
        with self._changed:
            self._failures.pop(text, None)
            if text not in self._sounds:
                self._now.append(text)
        while True:
            with self._changed:
                found = self._sounds.get(text) or self._failures.pop(text, None)
                if found is None and self.given_up:
                    found = Failure(self.given_up)
                if found is not None:
                    return found
                self._changed.wait(_GLANCE_S)
            if interrupted():
                return None

    def close(self) -> None:
        """End the child and the thread that looks after it."""
        self._closing = True
        self._keeper.join(2.0)
        self._child.kill()

    def _keep(self) -> None:
        while not self._closing and self.given_up is None:
            if not self._running:
                self._start()
            elif (text := self._next_wanted()) is not None:
                self._settle(text, self._render(text))
            elif isinstance(self._child.poll(_GLANCE_S), ChildLost):
                self._lose()
        self._child.stop()

    def _next_wanted(self) -> str | None:
        with self._changed:
            while self._now or self._later:
                text = self._now.popleft() if self._now else self._later[0]
                if text not in self._sounds:
                    return text
                self._drop_later(text)
        return None

    def _drop_later(self, text: str) -> None:
        self._later = deque(one for one in self._later if one != text)

    def _settle(self, text: str, outcome: Sound | Failure) -> None:
        with self._changed:
            self._drop_later(text)
            if isinstance(outcome, Sound):
                self._sounds[text] = outcome
                self._forget_oldest()
            else:
                self._failures[text] = outcome
            self._changed.notify_all()

    def _forget_oldest(self) -> None:
        kept_s = sum(sound.seconds for sound in self._sounds.values())
        while kept_s > KEPT_AT_MOST_S and len(self._sounds) > 1:
            kept_s -= self._sounds.pop(next(iter(self._sounds))).seconds

    def _start(self) -> None:
        """Start the child and wait until its voice is ready."""
        self._child.start()
        match self._await(START_DEADLINE_S):
            case VoiceReady() as ready:
                self.voice, self._running = ready, True
            case NoVoice(reason):
                self._give_up(f"The voice {self._name} does not start ({reason})")
            case ChildLost():
                self._lose()
            case _:
                self._give_up(f"The voice {self._name} does not start in {START_DEADLINE_S:g} s")

    def _give_up(self, why: str) -> None:
        self._child.kill()
        with self._changed:
            self.given_up = f"{why}; everything is shown as text."
            self._changed.notify_all()

    def _render(self, text: str) -> Sound | Failure:
        self._number += 1
        self._child.send(Render(self._number, text))
        answer = self._await(self._deadline_s)
        while isinstance(answer, Rendered | NotRendered) and answer.number != self._number:
            answer = self._await(self._deadline_s)
        match answer:
            case Rendered():
                self._losses = 0
                return answer.sound
            case NotRendered():
                return Failure(f"The voice could not say this ({answer.reason}); read it here.")
            case ChildLost():
                why = f"was lost ({answer.reason})"
            case _:
                why = f"did not answer in {self._deadline_s:g} s"
        self._lose()
        return Failure(f"The voice {why} and is started again; read it here.")

    def _await(self, timeout_s: float) -> object | None:
        end_s = time.monotonic() + timeout_s
        while not self._closing:
            answer: object | None = self._child.poll(min(0.1, max(0.0, end_s - time.monotonic())))
            if answer is not None or time.monotonic() >= end_s:
                return answer
        return None

    def _lose(self) -> None:
        self._running = False
        self._losses += 1
        self._child.kill()
        if self._losses >= LOSSES_IN_A_ROW_AT_MOST:
            self._give_up(f"The voice {self._name} failed {self._losses} times in a row")
