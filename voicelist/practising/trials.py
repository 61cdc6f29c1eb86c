"""Proposed wordings tried: spoken by several voices and heard as a case would hear them, under the
list with the wordings in it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from voicelist.asr.decoder import DecoderHere
from voicelist.asr.model import find_model
from voicelist.asr.offline import decode_whole, past_of
from voicelist.asr.recogniser import Recogniser
from voicelist.asr.verifier import VerifierOnCall
from voicelist.asr.wide_beam import wide_search_model
from voicelist.audio.samples import SAMPLE_RATE_HZ, Samples
from voicelist.documents.checklist import Item
from voicelist.documents.embedded import Bundle
from voicelist.errors import DocumentError
from voicelist.listening.sound import context_by_sound
from voicelist.practice.better import Addition, Better, Tried, with_trials
from voicelist.session.case import Case, compile_case, is_harmless
from voicelist.session.order import heard_here
from voicelist.session.state import State
from voicelist.session.wording import spoken
from voicelist.speaking.rendering import Renderer
from voicelist.speaking.speaker import never
from voicelist.speaking.speech import Sound
from voicelist.speaking.voices import VoiceChoice
from voicelist.understanding.decision import decide
from voicelist.understanding.interpretation import Unconfirmed, Understood
from voicelist.understanding.phrase_lists import hearing_grammar
from voicelist.understanding.policy import POLICY

_EDGE_SAMPLES = int(0.5 * SAMPLE_RATE_HZ)


def tried_by_voices(
    case: Case, better: Sequence[Better], voices: Sequence[VoiceChoice]
) -> tuple[Better, ...]:
    """Each item's additions, said once by each voice. Voices that do not start are left out."""
    ears = _Ears()
    renderers = [(one.name, Renderer(one)) for one in voices]
    try:
        return tuple(
            with_trials(one, [*_trials(case, one, renderers, ears)]) if one.additions else one
            for one in better
        )
    finally:
        for _, renderer in renderers:
            renderer.close()


class _Ears:
    """The recogniser and the second model, started once."""

    def __init__(self) -> None:
        self._recogniser = Recogniser(wide_search_model(find_model()))
        self._verifier = VerifierOnCall()

    def understands(self, case: Case, item: str, samples: Samples) -> bool:
        """Whether a sentence is taken, or read back, as the good answer of the item that is
        asked."""
        state = State(section=case.section_of[item].id, current=item)
        words = case.grammar.vocabulary() | case.room.words()
        known = frozenset(one for one in words if self._recogniser.vocabulary_has(one))
        roots = heard_here(case, state)
        grammar = hearing_grammar(case.grammar, case.room, known, roots, is_harmless)
        decoder = DecoderHere(self._recogniser, self._verifier, past_of(samples, grammar))
        utterance = decode_whole(self._recogniser, samples, grammar)
        found = decide(utterance.passes, context_by_sound(case, state), decoder, POLICY)
        return isinstance(found, Understood | Unconfirmed) and found.match.rule == f"{item}.done"


def _trials(
    case: Case, better: Better, renderers: Sequence[tuple[str, Renderer]], ears: _Ears
) -> Iterator[tuple[str, Tried]]:
    for addition in better.additions:
        try:
            changed = compile_case(with_addition(case.bundle, better.item, addition))
        except DocumentError:
            continue  # words that the list cannot have are no proposal that was tried
        for name, renderer in renderers:
            text = spoken(case.bundle.sentences, case.bundle.lexicon, addition.spoken)
            sound = renderer.sound_of(text, never)
            if isinstance(sound, Sound):
                samples = np.pad(np.frombuffer(sound.pcm, np.int16), _EDGE_SAMPLES)
                understood = ears.understands(changed, better.item, samples)
                yield addition.spoken, Tried(name, int(understood), 1)


def with_addition(bundle: Bundle, item_id: str, addition: Addition) -> Bundle:
    """The documents with the words in the checklist."""

    def changed(item: Item) -> Item:
        if item.id != item_id:
            return item
        return item.model_copy(
            update={
                key: " | ".join(filter(None, (getattr(item, key), words)))
                for key, words in addition.words
            }
        )

    sections = tuple(
        section.model_copy(update={"items": tuple(map(changed, section.items))})
        for section in bundle.checklist.sections
    )
    return replace(bundle, checklist=bundle.checklist.model_copy(update={"sections": sections}))
