"""The assistant's voice while a microphone listens: the two never sound into each other."""

from __future__ import annotations

from dataclasses import dataclass

from voicelist.activity import DECIDING, SPEAKING, Activity
from voicelist.keys import Keys
from voicelist.listening.room_sound import MicrophoneGate
from voicelist.speaking.speaker import SpeechOutput
from voicelist.stopping import StopRequests


@dataclass(slots=True)
class GatedMouth:
    """The assistant's voice; closes the microphone's gate behind every sound. Any key stops it, and
    so does being asked to end."""

    mouth: SpeechOutput
    gate: MicrophoneGate
    keys: Keys
    stopping: StopRequests
    activity: Activity

    def speak(self, text: str) -> tuple[float, str]:
        if self.stopping.urgent:
            return 0.0, ""
        self.activity.now(SPEAKING)
        spoken = self.mouth.say(text, interrupted=self._interrupted)
        self.gate.close_behind_speech()
        self.activity.now(DECIDING)
        return spoken.seconds, spoken.problem or ""

    def _interrupted(self) -> bool:
        self.activity.sign()
        return self.stopping.urgent or self.keys.pressed()

    def tone(self) -> None:
        self.mouth.tone()
        self.gate.close_behind_speech()

    def adjust(self, pace: int, level: int) -> None:
        self.mouth.adjust(pace, level)
