"""Questions about one utterance of a longer sound, answered once all before it was decoded."""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import cached_property

from voicelist.asr.decoder import DecoderHere
from voicelist.asr.offline import decode_stream
from voicelist.asr.recogniser import PhraseLists
from voicelist.asr.streaming import ChannelStream
from voicelist.audio.samples import Samples
from voicelist.understanding.questions import Question, Reply


class LaterInStream:
    """Answers about the utterance in a stream that begins at `start_sample`."""

    def __init__(
        self,
        new_stream: Callable[[], ChannelStream],
        samples: Samples,
        grammar: PhraseLists,
        start_sample: int,
    ) -> None:
        self._new_stream, self._sound = new_stream, (samples, grammar)
        self._start_sample = start_sample

    @cached_property
    def _decoder(self) -> DecoderHere:
        """Once everything up to there was decoded."""
        stream = self._new_stream()
        utterances = decode_stream(stream, *self._sound)
        next(one for one in utterances if one.start_sample == self._start_sample)
        decoder = stream.decoder(self._start_sample)
        assert decoder is not None, "what was heard just now is forgotten"
        return decoder

    def answer(self, question: Question) -> Reply | None:
        """The reply, however long it takes."""
        return self._decoder.ask(question, math.inf)
