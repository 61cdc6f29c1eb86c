"""What recognition hands on: one endpointed utterance, decoded."""

from __future__ import annotations

from dataclasses import dataclass

from voicelist.audio.samples import SAMPLE_RATE_HZ
from voicelist.understanding.hypothesis import Passes


@dataclass(frozen=True, slots=True)
class DecodedUtterance:
    """Sound between two silences on one channel, decoded in two passes under grammar number
    `grammar_no`.

    Sample positions count the channel's 16 kHz samples since the stream began. `decode_s` is
    computing time.
    """

    channel: int
    grammar_no: int
    start_sample: int
    end_sample: int
    decided_sample: int
    passes: Passes
    decode_s: float = 0.0

    @property
    def speech_end_s(self) -> float:
        return self.end_sample / SAMPLE_RATE_HZ

    @property
    def decided_at_s(self) -> float:
        return self.decided_sample / SAMPLE_RATE_HZ
