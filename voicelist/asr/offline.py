"""Sound files heard in this very process: one file as one utterance, or as a stream of them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

import numpy as np

from voicelist.asr.edges import is_in_noise, loudness_of, with_edges
from voicelist.asr.forced_choice import Nearness, Sentence, heard_among
from voicelist.asr.recogniser import HearingGrammar, Recogniser
from voicelist.asr.redecoding import Past, heard_again
from voicelist.asr.streaming import ChannelEar
from voicelist.asr.utterance import Utterance
from voicelist.asr.verifier import OnCall
from voicelist.audio.endpoint import CHUNK_SAMPLES, EndpointRules
from voicelist.audio.samples import Samples
from voicelist.audio.sound_files import quiet
from voicelist.audio.voice_activity import VoiceActivity
from voicelist.understanding.evidence import Evidence

PADDING_SAMPLES = 6_400  # 0.4 s
_PIECE_SAMPLES = 1_600


def decode_whole(recogniser: Recogniser, samples: Samples, grammar: HearingGrammar) -> Utterance:
    """All of `samples` (one channel, 16 kHz) as one utterance, which ends with the file.

    Quiet is put before and behind, because files are often cut tightly.
    """
    look = recogniser.look(grammar)
    padded = np.concatenate([quiet(PADDING_SAMPLES), samples, quiet(PADDING_SAMPLES)])
    for at in range(0, len(padded), _PIECE_SAMPLES):
        look.feed(padded[at : at + _PIECE_SAMPLES])
    alternatives, second_look, decode_s = look.finish(-PADDING_SAMPLES)
    speech = _speech_in(samples)
    levels = loudness_of(samples)
    first, second = (with_edges(one, levels, 0, speech) for one in (alternatives, second_look))
    noisy = is_in_noise(levels)
    return Utterance(0, 0, *speech, len(samples), first, second, decode_s, noisy)


def decode_whole_again(
    recogniser: Recogniser,
    samples: Samples,
    grammar: HearingGrammar,
    heard: Utterance,
    speed: float,
) -> Utterance:
    """What `decode_whole` made of these samples, heard once more."""
    past = Past(grammar, samples, 0, (PADDING_SAMPLES, PADDING_SAMPLES))
    return heard_again(recogniser, heard, past, speed)


class Whole:
    """What else can be asked of a sound that `decode_whole` heard."""

    def __init__(
        self, recogniser: Recogniser, samples: Samples, grammar: HearingGrammar, witness: OnCall
    ) -> None:
        self._recogniser, self._samples, self._grammar = recogniser, samples, grammar
        self._witness = witness

    def again(self, heard: Utterance, speed: float) -> Utterance:
        """It is heard once more."""
        return decode_whole_again(self._recogniser, self._samples, self._grammar, heard, speed)

    def evidence(self, _: Utterance, sentences: Sequence[str], freely: bool) -> Evidence | None:
        """What the witness says of it."""
        return self._witness.hear(self._samples, sentences, freely)

    def among(self, _: Utterance, sentences: Sequence[Sentence]) -> Nearness:
        """How near sentences are to it."""
        past = Past(self._grammar, self._samples, 0, (PADDING_SAMPLES, PADDING_SAMPLES))
        return heard_among(self._recogniser, past, sentences)


def decode_stream(
    ear: ChannelEar, samples: Samples, grammar: HearingGrammar
) -> Iterator[Utterance]:
    """The utterances that an ear's endpointing finds in its channel's samples, as each is
    decided."""
    return decode_blocks(ear, [samples], grammar)


def decode_blocks(
    ear: ChannelEar, blocks: Iterable[Samples], grammar: HearingGrammar
) -> Iterator[Utterance]:
    """The same for samples that come a block at a time."""
    ear.listen(0, grammar)
    for samples in blocks:
        for at in range(0, len(samples), _PIECE_SAMPLES):
            told = ear.hear(samples[at : at + _PIECE_SAMPLES], ear.position)
            yield from (one for one in told if isinstance(one, Utterance))
    yield from (one for one in ear.finish() if isinstance(one, Utterance))


def _speech_in(samples: Samples) -> tuple[int, int]:
    """Where speech begins and ends, to a chunk; all of it where none is found."""
    judge, threshold = VoiceActivity(), EndpointRules().off_probability
    starts = range(0, len(samples) - CHUNK_SAMPLES + 1, CHUNK_SAMPLES)
    voiced = [
        at for at in starts if judge.probability(samples[at : at + CHUNK_SAMPLES]) >= threshold
    ]
    return (voiced[0], voiced[-1] + CHUNK_SAMPLES) if voiced else (0, len(samples))
