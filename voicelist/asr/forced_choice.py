"""A sound decoded where nothing but some sentences is permitted: which is nearest to it?"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from voicelist.asr.recogniser import Recogniser
from voicelist.asr.redecoding import Past
from voicelist.understanding.hypothesis import Words
from voicelist.understanding.questions import Scores

_PIECE_SAMPLES = 1_600
_ANYTHING = "[unk]"


@dataclass(frozen=True, slots=True)
class _SentencesAlone:
    """What may be heard."""

    texts: tuple[str, ...]

    def phrase_list(self) -> tuple[str, ...]:
        return (*self.texts, _ANYTHING)

    def second_phrase_list(self) -> tuple[str, ...]:
        return ()

    def can_grow(self, words: Words) -> bool:
        return False


def forced_choice(
    recogniser: Recogniser,
    past: Past,
    sentences: Sequence[Words],
    beat: Callable[[], None] = lambda: None,
) -> Scores:
    """How near each sentence is to the sound (the recogniser's score); minus infinity for one that
    it does not find or know."""
    known = {word for one in sentences for word in one if recogniser.vocabulary_has(word)}
    texts = tuple(" ".join(one) for one in sentences if known.issuperset(one))
    look = recogniser.look(_SentencesAlone(texts))
    sound = past.fed()
    for at in range(0, len(sound), _PIECE_SAMPLES):
        look.feed(sound[at : at + _PIECE_SAMPLES])
        beat()
    found, _, _ = look.finish(0)
    scores = {one.words: one.score for one in found}
    return tuple(scores.get(one, -math.inf) for one in sentences)
