"""The verifier: another speech model, of another make, which is asked how likely sentences are, and
what it hears of its own accord.

The recogniser follows phrases and knows which are permitted; this one knows nothing of them, and
errs otherwise. It comes with a package of its maintainers and is optional; only the very files that
were measured are used. What it says is weighed in `voicelist.understanding.verification`.
"""

from __future__ import annotations

import contextlib
import importlib.util
import itertools
import logging
import re
import threading
from collections.abc import Callable, Iterator, Sequence
from functools import cached_property
from pathlib import Path
from typing import Any, TypeVar

import numpy as np
import numpy.typing as npt

from voicelist.asr.manifest import FileMark, ModelManifest, sha256_of
from voicelist.audio.samples import SAMPLE_RATE_HZ, Samples
from voicelist.inference import frugal_session
from voicelist.understanding.questions import DeadlinePassed, Scores, Transcript

# The package whose wheel holds the model, and where in it. Read there, never imported.
_PACKAGE, _FOLDER = "moonshine_voice", "assets/tiny-en"
_ENCODER, _DECODER, _TOKENS = "encoder_model.ort", "decoder_model_merged.ort", "tokenizer.bin"
VERIFIER = "moonshine-voice 0.1.0 tiny-en"
VERIFIER_REQUIREMENT = "moonshine-voice==0.1.0"
# Its files as measured (tests/benchmarks/).
_MEASURED = ModelManifest(
    VERIFIER,
    (
        FileMark(
            _DECODER,
            30_412_256,
            "cf524c4862d36e9e5ab032eddc73637efd822d70e868ac575cf1a46e1e4708a0",
        ),
        FileMark(
            _ENCODER,
            13_281_600,
            "94e90a4654fc45cdfedb77c4c08e1739f48862998e58fada384b25118134f221",
        ),
        FileMark(
            _TOKENS,
            249_974,
            "6884b35fd6377d4c4d32336a0bc152f36b64d1e45b6503683cdc238250a8472d",
        ),
    ),
)
# The shape of the model.
_LAYERS, _HEADS, _HEAD_SIZE = 6, 8, 36
_BEGIN, _END = 1, 2
_FIRST_OF_TEXT, _FIRST_OF_CONTROL = 259, 32_000
_TOKENS_A_SECOND, _TOKENS_MORE = 6.5, 8
# It takes no less and was trained on no more at once.
_LEAST_S, _MOST_S = 0.5, 30.0
_NEVER = -1e4
_SPACE = "\u2581"
_TENS = "twenty|thirty|forty|fifty|sixty|seventy|eighty|ninety"
_UNITS = "one|two|three|four|five|six|seven|eight|nine"

Floats = npt.NDArray[np.float32]
Beat = Callable[[], None]
_Told = TypeVar("_Told")

_log = logging.getLogger(__name__)


def verifier_folder() -> Path | None:
    """Where the model's files lie, if they are installed (their sizes are looked at)."""
    spec = importlib.util.find_spec(_PACKAGE)
    if spec is None or spec.origin is None:
        return None
    folder = Path(spec.origin).parent / _FOLDER
    return folder if _MEASURED.sizes_fit(folder) else None


def verifier_words() -> str:
    """Whether it is there, for people."""
    if verifier_folder() is not None:
        return f"Second speech model: {VERIFIER}"
    return (
        f"The second speech model is not here (pip install {VERIFIER_REQUIREMENT}): "
        "what is doubtful is asked about more often."
    )


def _is_as_measured(folder: Path) -> bool:
    for mark in _MEASURED.files:
        if sha256_of(folder / mark.path) != mark.sha256:
            _log.warning("%s is not the file that was measured; it is not used", folder / mark.path)
            return False
    return True


class Verifier:
    """The model, loaded; it listens to one sound at a time. `beat` is called now and then during
    longer work."""

    def __init__(self, folder: Path, beat: Beat) -> None:
        beat()
        self._encoder = frugal_session(folder / _ENCODER, prepacked=False)
        beat()
        self._decoder = frugal_session(folder / _DECODER, prepacked=False)
        self._tokens = Tokens((folder / _TOKENS).read_bytes())
        self._encoded: tuple[Samples, dict[str, Any]] | None = None

    def scores(self, samples: Samples, sentences: Sequence[str], beat: Beat) -> Scores:
        """How likely each sentence is for this sound: logarithms."""
        inputs = self._inputs(samples, beat)
        likely = []
        for sentence in sentences:
            beat()
            likely.append(self._likely(inputs, sentence))
        return tuple(likely)

    def transcript(self, samples: Samples, beat: Beat) -> Transcript:
        """What it hears of its own accord."""
        inputs = self._inputs(samples, beat)
        seconds = inputs["encoder_attention_mask"].shape[1] / SAMPLE_RATE_HZ
        text, found = self._freely(inputs, seconds, beat)
        if "  " in f"{text} ":
            # Figures, which are not written, follow a space of their own.
            text, _ = self._freely(inputs, seconds, beat, spaces=False)
        own = plain_words(text)
        if own:
            found = max(found, self._likely(inputs, " ".join(own)))
        return Transcript(own, found)

    def _inputs(self, samples: Samples, beat: Beat) -> dict[str, Any]:
        """What the decoder is given of a sound. Of the last sound it is kept: several questions are
        asked about it."""
        if self._encoded is not None and np.array_equal(self._encoded[0], samples):
            return self._encoded[1]
        heard = samples[: int(_MOST_S * SAMPLE_RATE_HZ)].astype(np.float32)[None] / 32_768
        lacking = int(_LEAST_S * SAMPLE_RATE_HZ) - heard.shape[1]
        sound = np.pad(heard, ((0, 0), (0, max(0, lacking))))
        mask = np.ones_like(sound, np.int64)
        beat()
        states = self._encoder.run(None, {"input_values": sound, "attention_mask": mask})[0]
        inputs = {"encoder_hidden_states": states, "encoder_attention_mask": mask}
        self._encoded = samples, inputs
        return inputs

    def _freely(
        self, inputs: dict[str, Any], seconds: float, beat: Beat, *, spaces: bool = True
    ) -> tuple[str, float]:
        """What it hears if nothing is given, and how likely that is; with or without `spaces` of
        their own."""
        past = _nothing_before()
        tokens, likely = [_BEGIN], 0.0
        for count in range(int(seconds * _TOKENS_A_SECOND) + _TOKENS_MORE):
            told = self._decoder.run(None, self._given(inputs, tokens[-1:], past, begun=count > 0))
            scores = self._allowed(told[0][0, -1])
            if not spaces:
                scores[self._tokens.space] = _NEVER
            tokens.append(int(scores.argmax()))
            likely += float(scores[tokens[-1]])
            beat()
            if tokens[-1] == _END:
                break
            for name, value in zip(past, told[1:], strict=True):
                if not count or ".decoder." in name:
                    past[name] = value
        return self._tokens.text(tokens), likely

    def _likely(self, inputs: dict[str, Any], sentence: str) -> float:
        """How likely a sentence is, in the likeliest of the ways in which it may be written."""
        return max(self._as_written(inputs, one) for one in ways_to_write(sentence))

    def _as_written(self, inputs: dict[str, Any], text: str) -> float:
        """How likely a text is as a sentence or as a question, whichever is likelier; what ends
        after a full stop would end after a question mark."""
        tokens = [_BEGIN, *self._tokens.of(text), self._tokens.full_stop]
        given = self._given(inputs, tokens, _nothing_before(), begun=False)
        scores = self._allowed(self._decoder.run(["logits"], given)[0][0])
        *_, closing, behind = scores
        words = scores[np.arange(len(tokens) - 2), tokens[1:-1]].sum()
        mark = max(closing[self._tokens.full_stop], closing[self._tokens.question_mark])
        return float(words + mark + behind[_END])

    def _allowed(self, logits: Floats) -> Floats:
        """Logarithms of likelihood, without what is never written: figures and signs, so that
        numbers stand in words."""
        scores = np.where(self._tokens.unwritten, np.float32(_NEVER), logits)
        top = scores.max(axis=-1, keepdims=True)
        total = np.log(np.exp(scores - top).sum(axis=-1, keepdims=True))
        allowed: Floats = scores - top - total
        return allowed

    @staticmethod
    def _given(
        inputs: dict[str, Any], tokens: list[int], past: dict[str, Floats], *, begun: bool
    ) -> dict[str, Any]:
        return {
            "input_ids": np.array([tokens], np.int64),
            "use_cache_branch": np.array([begun]),
            **inputs,
            **past,
        }


def _nothing_before() -> dict[str, Floats]:
    nothing = np.zeros((0, _HEADS, 1, _HEAD_SIZE), np.float32)
    return {
        f"past_key_values.{layer}.{side}.{kind}": nothing
        for layer in range(_LAYERS)
        for side in ("decoder", "encoder")
        for kind in ("key", "value")
    }


class VerifierOnCall:
    """The verifier, loaded when it is first asked. Where it is not installed, or fails, it says
    nothing, and hearing goes on without it. Whoever asks while it listens waits."""

    def __init__(self) -> None:
        self._listening = threading.Lock()
        self._looked_for = False
        self._verifier: Verifier | None = None

    def scores(
        self, samples: Samples, sentences: Sequence[str], beat: Beat = lambda: None
    ) -> Scores | None:
        """How likely each sentence is for a sound: logarithms. Raises what `beat` raises to give
        up."""
        return self._asked(lambda verifier: verifier.scores(samples, sentences, beat), beat)

    def transcript(self, samples: Samples, beat: Beat = lambda: None) -> Transcript | None:
        """What it hears of its own accord in a sound. Raises as `scores`."""
        return self._asked(lambda verifier: verifier.transcript(samples, beat), beat)

    def _asked(self, ask: Callable[[Verifier], _Told], beat: Beat) -> _Told | None:
        try:
            with self._listening:
                verifier = self._loaded(beat)
                return None if verifier is None else ask(verifier)
        except DeadlinePassed:
            raise
        except Exception as error:  # a native library may fail in any way
            _log.warning("the verifier is not asked any more: %s", error)
            self._verifier = None
            return None

    def _loaded(self, beat: Beat) -> Verifier | None:
        """Loading is not given up: the next question needs it."""

        def patient() -> None:
            with contextlib.suppress(DeadlinePassed):
                beat()

        if not self._looked_for:
            self._looked_for = True
            folder = verifier_folder()
            if folder is not None and _is_as_measured(folder):
                self._verifier = Verifier(folder, patient)
        return self._verifier


class Tokens:
    """The pieces of words that the model writes with: for each a length (of one byte, or of two
    from 128 on) and its bytes, in the order of their numbers."""

    def __init__(self, data: bytes) -> None:
        self._pieces = list(_pieces(data))
        texts = self._pieces[_FIRST_OF_TEXT:_FIRST_OF_CONTROL]
        self._number = {
            piece.decode(): number for number, piece in enumerate(texts, _FIRST_OF_TEXT) if piece
        }

    def of(self, text: str) -> list[int]:
        """The numbers of a text's pieces: of two that make up a piece the one with the lowest
        number is joined first (byte pair encoding)."""
        parts = list(_SPACE + text.replace(" ", _SPACE))
        while True:
            pairs = (
                (self._number[one + other], at)
                for at, (one, other) in enumerate(itertools.pairwise(parts))
                if one + other in self._number
            )
            _, at = min(pairs, default=(0, -1))
            if at < 0:
                return [self._number.get(part, 0) for part in parts]
            parts[at : at + 2] = [parts[at] + parts[at + 1]]

    def text(self, numbers: Sequence[int]) -> str:
        """What the pieces spell."""
        spelt = b"".join(self._pieces[one] for one in numbers if one not in (_BEGIN, _END))
        return spelt.decode(errors="replace").replace(_SPACE, " ").removeprefix(" ")

    @property
    def space(self) -> int:
        """A space of its own."""
        return self._number[_SPACE]

    @property
    def full_stop(self) -> int:
        return self._number["."]

    @property
    def question_mark(self) -> int:
        return self._number["?"]

    @cached_property
    def unwritten(self) -> npt.NDArray[np.bool_]:
        """Which pieces are none of words in plain letters."""
        plain = re.compile(rf"[{_SPACE}A-Za-z' .,?!;:-]+")
        return np.array(
            [
                number != _END and not plain.fullmatch(piece.decode(errors="replace"))
                for number, piece in enumerate(self._pieces)
            ]
        )


def _pieces(data: bytes) -> Iterator[bytes]:
    at = 0
    while at < len(data):
        length = data[at]
        at += 1
        if length >= 128:
            length += (data[at] - 1) * 128
            at += 1
        yield data[at : at + length]
        at += length


def plain_words(text: str) -> tuple[str, ...]:
    """The words of a written text, as a recogniser gives them."""
    return tuple(re.sub("[^a-z']", " ", text.lower()).split())


def ways_to_write(sentence: str) -> list[str]:
    """A spoken sentence as the model may write it, without what ends it: no piece of a word holds a
    full stop or a question mark."""
    begun = sentence[:1].upper() + sentence[1:]
    joined = re.sub(rf"\b({_TENS}) ({_UNITS})\b", r"\1-\2", begun)
    return list(dict.fromkeys([begun, joined]))
