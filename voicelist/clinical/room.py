"""Speech in a room: what a microphone gains by being near, and what an index of speech means."""

from __future__ import annotations

import math

from voicelist.clinical.sources import require

# Bands of the speech transmission index, 0 to 1 (a page on the index and an acoustics manual,
# p. 207); that the lower bound belongs to the band is a project choice.
_GOOD = 0.60
SPEECH_BANDS = ((0.75, "excellent"), (_GOOD, "good"), (0.45, "fair"), (0.30, "poor"), (0.0, "bad"))


def speech_band(index: float) -> str:
    """The band of a speech transmission index. Raises ValueError outside 0 to 1."""
    if not 0 <= index <= 1:
        raise ValueError(f"the speech transmission index is {index:g}: it goes from 0 to 1")
    return next(name for low, name in SPEECH_BANDS if index >= low)


def gain_of_distance_dB(far_m: float, near_m: float) -> float:
    """How much louder speech is nearer by, without walls. Source: derived, the inverse square."""
    far = require("far_m", far_m, above=True)
    return 20.0 * math.log10(far / require("near_m", near_m, above=True))


NEAR_IS_LOUD = (
    f"Near is loud: at 5 cm a microphone gets {gain_of_distance_dB(1, 0.05):.0f} dB more of "
    "a voice than at 1 m (derived, without walls)."
)


def room_words(index: float) -> str:
    """What a measured index of speech means for microphones; what to do is a project choice."""
    band = speech_band(index)
    advice = "" if index >= _GOOD else " Give each role a microphone of its own."
    about = f"Speech in this room: {band} (index {index:g}, bounds a project choice)."
    return f"{about}{advice} {NEAR_IS_LOUD}"
