"""An ear without a grammar: which words does the speech model make out at all?

Used to say how well a voice is understood. The model knows nothing here of what may be said.
"""

from __future__ import annotations

import functools
import json
import re
from collections.abc import Sequence
from pathlib import Path

import jiwer
import numpy as np
import numpy.typing as npt
import vosk

_RATE_HZ = 16_000
# No ear can tell these apart without knowing what is talked about.
_SOUND_THE_SAME = {"i": "eye", "hi": "high", "centimeters": "centimetres"}


@functools.cache
def _model(path: Path) -> vosk.Model:
    vosk.SetLogLevel(-1)
    return vosk.Model(str(path))


def words_in(samples: npt.NDArray[np.int16], model: Path) -> list[str]:
    """The words of mono 16 kHz sound, half a second of silence put at both ends."""
    edge = np.zeros(_RATE_HZ // 2, np.int16)
    recogniser = vosk.KaldiRecognizer(_model(model), _RATE_HZ)
    heard = []
    for piece in np.array_split(np.concatenate([edge, samples, edge]), 1 + len(samples) // 4_000):
        if recogniser.AcceptWaveform(piece.tobytes()):
            heard.append(json.loads(recogniser.Result())["text"])
    heard.append(json.loads(recogniser.FinalResult())["text"])
    return plain(" ".join(heard)).split()


def plain(text: str) -> str:
    """Words only, one spelling for words that sound the same."""
    words = re.sub(r"[^a-z' ]", " ", text.lower()).split()
    return " ".join(_SOUND_THE_SAME.get(word, word) for word in words)


def word_error_rate(said: Sequence[str], heard: Sequence[Sequence[str]]) -> float:
    """Substitutions, omissions and insertions over the words said."""
    return float(jiwer.wer([plain(text) for text in said], [" ".join(words) for words in heard]))
