"""A sound heard once more where nothing but some sentences is permitted: which is nearest to it?"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from voicelist.asr.recogniser import Recogniser
from voicelist.asr.redecoding import Past

_PIECE_SAMPLES = 1_600
_ANYTHING = "[unk]"

Sentence = tuple[str, ...]
Nearness = tuple[float | None, ...]


@dataclass(frozen=True, slots=True)
class _Sentences:
    """What may be heard."""

    texts: tuple[str, ...]

    def phrase_list(self) -> tuple[str, ...]:
        return (*self.texts, _ANYTHING)

    def second_phrase_list(self) -> tuple[str, ...]:
        return ()

    def can_grow(self, words: Sentence) -> bool:
        return False


def heard_among(
    recogniser: Recogniser,
    past: Past,
    sentences: Sequence[Sentence],
    beat: Callable[[], None] = lambda: None,
) -> Nearness:
    """How near each sentence is to the sound (the recogniser's score), None for one that it does
    not find or know."""
    known = {word for one in sentences for word in one if recogniser.vocabulary_has(word)}
    texts = tuple(" ".join(one) for one in sentences if known.issuperset(one))
    look = recogniser.look(_Sentences(texts))
    sound = past.fed()
    for at in range(0, len(sound), _PIECE_SAMPLES):
        look.feed(sound[at : at + _PIECE_SAMPLES])
        beat()
    found, _, _ = look.finish(0)
    near = {tuple(word.text for word in one.words): one.score for one in found}
    return tuple(near.get(one) for one in sentences)
