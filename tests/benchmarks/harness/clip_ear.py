"""Clips of the test sound, each heard at the place in the case that it belongs to.

Those of the manifest lie in the repository. The same texts can be spoken anew, by other voices and
with noise where there was none: such clips are made when they are needed, and kept in the cache.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

from tests.benchmarks.harness.fixtures import (
    FIXTURES,
    VOICES,
    Clip,
    clip_of,
    example_bundle,
    read_manifest,
    say,
    spoken_anew,
    state_at,
    write_flac,
)
from tests.benchmarks.harness.kept import KeptDecoder, kept_folder
from tests.benchmarks.harness.product import Product, strict_context
from voicelist.asr.utterance import DecodedUtterance
from voicelist.audio.samples import Samples
from voicelist.audio.sound_files import read_sound
from voicelist.documents.embedded import Bundle
from voicelist.session.case import compile_case
from voicelist.session.order import heard_here
from voicelist.understanding.context import Context
from voicelist.understanding.phrase_lists import HearingGrammar
from voicelist.understanding.room_words import Room

Shape = Callable[[HearingGrammar], HearingGrammar]


class ClipEar:
    """The product at the places of the example case. For comparison the words of the `room` that
    the recogniser listens for may be others, and its phrases of another `shape`."""

    def __init__(
        self,
        product: Product,
        room: Callable[[Room], Room] = lambda room: room,
        shape: Shape = lambda grammar: grammar,
    ) -> None:
        self._product, self._shape = product, shape
        self._case = compile_case(_bundle())
        self._room = room(self._case.room)
        self._grammars: dict[tuple[str, ...], HearingGrammar] = {}

    def hear(self, clip: Clip) -> tuple[DecodedUtterance, Context, KeptDecoder]:
        """A clip decoded, what may be said where it belongs, and what else can be asked."""
        state = state_at(self._case, clip.asked)
        roots = heard_here(self._case, state)
        if roots not in self._grammars:
            made = self._product.hearing(self._case.grammar, self._room, roots)
            self._grammars[roots] = self._shape(made)
        sound, grammar = sound_of(clip), self._grammars[roots]
        utterance = self._product.utterance(sound, grammar)
        context = strict_context(self._case, state)
        return utterance, context, self._product.decoder(sound, grammar)


def clips_of(turn: int) -> list[Clip]:
    """Answers and near misses: those of the manifest for turn 0, else spoken anew by voices so many
    further on."""
    clips = read_manifest() if turn == 0 else spoken_anew(_bundle(), turn)
    return [clip for clip in clips if clip.folder != "demo"]


def sound_of(clip: Clip) -> Samples:
    """A clip's samples, spoken now if it has no file. Raises EngineMissingError."""
    for folder in (FIXTURES, kept_folder() / "anew"):
        file = folder / clip.file
        if file.is_file():
            samples: Samples = read_sound(file).samples[0]
            return samples
    said = say(VOICES[clip.voice], _bundle().lexicon.to_speech(clip.text))
    snr_dB = float(clip.snr_dB) if clip.snr_dB else None
    # Written under another name first: several parts may run at once, and any may be cut.
    fresh = file.with_suffix(f".{id(said)}.flac")
    write_flac(fresh, clip_of(said, snr_dB, clip.seed))
    fresh.replace(file)
    spoken: Samples = read_sound(file).samples[0]
    return spoken


@cache
def _bundle() -> Bundle:
    return example_bundle()
