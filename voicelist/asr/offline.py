"""Sound files heard in this very process: one file as one utterance, or as a stream of them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from voicelist.asr.edges import passes_with_edges
from voicelist.asr.recogniser import PhraseLists, Recogniser
from voicelist.asr.redecoding import Past
from voicelist.asr.streaming import ChannelStream
from voicelist.asr.utterance import DecodedUtterance
from voicelist.audio.endpoint import CHUNK_SAMPLES, EndpointRules
from voicelist.audio.samples import Samples
from voicelist.audio.voice_activity import VoiceActivity

PADDING_SAMPLES = 6_400  # 0.4 s
_PIECE_SAMPLES = 1_600


def decode_whole(
    recogniser: Recogniser, samples: Samples, grammar: PhraseLists
) -> DecodedUtterance:
    """All of `samples` (one channel, 16 kHz) as one utterance, which ends with the file.

    Quiet is put before and behind, because files are often cut tightly.
    """
    past = past_of(samples, grammar)
    look = recogniser.look(grammar)
    sound = past.fed()
    for at in range(0, len(sound), _PIECE_SAMPLES):
        look.feed(sound[at : at + _PIECE_SAMPLES])
    first, second, decode_s = look.finish(-PADDING_SAMPLES)
    passes = passes_with_edges(first, second, samples, 0, past.speech)
    return DecodedUtterance(0, 0, *past.speech, len(samples), passes, decode_s)


def past_of(samples: Samples, grammar: PhraseLists) -> Past:
    """The sound that `decode_whole` takes as one utterance, to be asked about."""
    return Past(grammar, samples, 0, _speech_in(samples), (PADDING_SAMPLES, PADDING_SAMPLES))


def decode_stream(
    stream: ChannelStream, samples: Samples, grammar: PhraseLists
) -> Iterator[DecodedUtterance]:
    """The utterances that endpointing finds in its channel's samples, as each is
    decided."""
    return decode_blocks(stream, [samples], grammar)


def decode_blocks(
    stream: ChannelStream, blocks: Iterable[Samples], grammar: PhraseLists
) -> Iterator[DecodedUtterance]:
    """The same for samples that come a block at a time."""
    stream.listen(0, grammar)
    for samples in blocks:
        for at in range(0, len(samples), _PIECE_SAMPLES):
            told = stream.hear(samples[at : at + _PIECE_SAMPLES], stream.position)
            yield from (one for one in told if isinstance(one, DecodedUtterance))
    yield from (one for one in stream.finish() if isinstance(one, DecodedUtterance))


def _speech_in(samples: Samples) -> tuple[int, int]:
    """Where speech begins and ends, to a chunk; all of it where none is found."""
    judge, threshold = VoiceActivity(), EndpointRules().off_probability
    starts = range(0, len(samples) - CHUNK_SAMPLES + 1, CHUNK_SAMPLES)
    voiced = [
        at for at in starts if judge.probability(samples[at : at + CHUNK_SAMPLES]) >= threshold
    ]
    return (voiced[0], voiced[-1] + CHUNK_SAMPLES) if voiced else (0, len(samples))
