"""The assistant's voice while a microphone listens: nothing that it says is taken for an answer.

With a loudspeaker the microphone is gated meanwhile. With a headset, or where the system cancels
the echo, it goes on listening, and whoever speaks makes the assistant fall silent.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

from voicelist.activity import DECIDING, SPEAKING, Activity
from voicelist.keys import Keys
from voicelist.speaking.speaker import SpeechOutput
from voicelist.stopping import StopRequests


class Ear(Protocol):
    """What becomes of the microphone while the assistant speaks."""

    def speech_begins(self, text: str) -> None:
        """It is about to be heard; `text` is "" for the tone."""

    def somebody_speaks(self) -> bool:
        """Asked again and again meanwhile: whether the assistant is to fall silent."""

    def speech_ended(self, *, broken_off: bool) -> None:
        """It is not heard any more."""


class NoEar:
    """Nobody listens, or a recording that rests meanwhile."""

    def speech_begins(self, text: str) -> None:
        """Nothing is to be done."""

    def somebody_speaks(self) -> bool:
        return False

    def speech_ended(self, *, broken_off: bool) -> None:
        """Nothing is to be done."""


@dataclass(slots=True)
class GatedMouth:
    """The assistant's voice, with an ear to the microphone. Any key stops it, and so does being
    asked to end."""

    mouth: SpeechOutput
    keys: Keys
    stopping: StopRequests
    activity: Activity
    ear: Ear

    def speak(self, text: str) -> tuple[float, str]:
        if self.stopping.urgent:
            return 0.0, ""
        self.activity.now(SPEAKING)
        self.ear.speech_begins(text)
        spoken = self.mouth.say(text, interrupted=self._interrupted)
        self.ear.speech_ended(broken_off=not spoken.played)
        self.activity.now(DECIDING)
        return spoken.seconds, spoken.problem or ""

    def _interrupted(self) -> bool:
        self.activity.sign()
        speaks = self.ear.somebody_speaks()
        return self.stopping.urgent or self.keys.pressed() or speaks

    def tone(self) -> None:
        self.ear.speech_begins("")
        self.mouth.tone()
        self.ear.speech_ended(broken_off=False)

    def adjust(self, pace: int, level: int) -> None:
        self.mouth.adjust(pace, level)
