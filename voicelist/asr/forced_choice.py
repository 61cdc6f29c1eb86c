"""A sound decoded once more where nothing but some sentences is permitted, or the word pairs of
phrases."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from voicelist.asr.recogniser import Recogniser
from voicelist.asr.redecoding import Past
from voicelist.understanding.hypothesis import NBest, Words
from voicelist.understanding.questions import Scores

_PIECE_SAMPLES = 1_600
_ANYTHING = "[unk]"


@dataclass(frozen=True, slots=True)
class _Alone:
    """What may be heard; nothing else, in one pass."""

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
    texts = [" ".join(one) for one in sentences]
    scores = {one.words: one.score for one in decoded_under(recogniser, past, texts, beat)}
    return tuple(scores.get(one, -math.inf) for one in sentences)


def decoded_under(
    recogniser: Recogniser,
    past: Past,
    phrases: Sequence[str],
    beat: Callable[[], None] = lambda: None,
) -> NBest:
    """What is heard where the word pairs of those phrases are permitted whose words are known."""
    words = {word for one in phrases for word in one.split()}
    known = {word for word in words if recogniser.vocabulary_has(word)}
    look = recogniser.look(_Alone(tuple(one for one in phrases if known.issuperset(one.split()))))
    sound = past.fed()
    for at in range(0, len(sound), _PIECE_SAMPLES):
        look.feed(sound[at : at + _PIECE_SAMPLES])
        beat()
    found, _, _ = look.finish(0)
    return found
