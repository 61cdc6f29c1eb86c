"""Small random phrases that carry their own sentences, worked out beside the text and without the
code under test: what a phrase permits is a set of word sequences, and each operator is what the
specification says it does to such sets."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import product

from hypothesis import strategies as st

from voicelist.grammar.abnf import parse_expansion
from voicelist.grammar.grammar import Grammar

Sentence = tuple[str, ...]
WORDS = ("red", "blue", "green", "left")
MOST_SENTENCES = 400


@dataclass(frozen=True, slots=True)
class Phrase:
    """ABNF text, and every sentence that it permits."""

    text: str
    sentences: frozenset[Sentence]

    def grammar(self, name: str = "phrase") -> Grammar:
        return Grammar({name: parse_expansion(self.text, "phrase.abnf")})


def joined(left: Iterable[Sentence], right: Iterable[Sentence]) -> frozenset[Sentence]:
    return frozenset(one + other for one, other in product(left, right))


def _in_turn(parts: Iterable[Phrase]) -> Iterator[frozenset[Sentence]]:
    """The sentences of the first part, of the first two, and so on; ends with the first set that is
    too large. What is said before something else gets no fewer sentences by it, so the whole would
    be too large, too, and is not worked out: there may be no room for it."""
    sentences: frozenset[Sentence] = frozenset({()})
    for part in parts:
        sentences = joined(sentences, part.sentences)
        yield sentences
        if len(sentences) > MOST_SENTENCES:
            return


def _sequence(parts: list[Phrase]) -> Phrase:
    sayable = all(part.sentences for part in parts)
    sentences = list(_in_turn(parts))[-1] if sayable else frozenset()
    return Phrase("(" + " ".join(part.text for part in parts) + ")", sentences)


def _choice(parts: list[Phrase]) -> Phrase:
    text = "(" + " | ".join(part.text for part in parts) + ")"
    return Phrase(text, frozenset().union(*(part.sentences for part in parts)))


def _optional(part: Phrase) -> Phrase:
    return Phrase(f"[{part.text}]", part.sentences | {()})


def _repeated(part: Phrase, least: int, more: int) -> Phrase:
    times = [frozenset({()}), *_in_turn([part] * (least + more))]
    sentences = frozenset().union(*times[min(least, len(times) - 1) :])
    return Phrase(f"({part.text})<{least}-{least + more}>", sentences)


def _grown(inner: st.SearchStrategy[Phrase]) -> st.SearchStrategy[Phrase]:
    several = st.lists(inner, min_size=1, max_size=3)
    return st.one_of(
        several.map(_sequence),
        several.map(_choice),
        inner.map(_optional),
        st.builds(_repeated, inner, st.integers(0, 2), st.integers(0, 2)),
    ).filter(lambda phrase: len(phrase.sentences) <= MOST_SENTENCES)


_LEAVES = st.one_of(
    st.sampled_from(WORDS).map(lambda word: Phrase(word, frozenset({(word,)}))),
    st.just(Phrase('"red blue"', frozenset({("red", "blue")}))),
    st.just(Phrase("{tag}", frozenset({()}))),
    st.just(Phrase("$NULL", frozenset({()}))),
    st.just(Phrase("$VOID", frozenset())),
)
PHRASES: st.SearchStrategy[Phrase] = st.recursive(_LEAVES, _grown, max_leaves=8)
UTTERANCES = st.lists(st.sampled_from((*WORDS, "other")), max_size=6).map(tuple)


def beginnings(sentences: Iterable[Sentence]) -> set[Sentence]:
    """Every sentence and everything that one begins with."""
    return {one[:end] for one in sentences for end in range(len(one) + 1)}


def words_of(sentences: Iterable[str]) -> list[Sentence]:
    return [tuple(one.split()) for one in sentences]


def word_pairs(sentences: Iterable[Sentence]) -> set[tuple[str, str]]:
    """Neighbouring words; "" stands before the first and behind the last."""
    return {pair for one in sentences if one for pair in zip(("", *one), (*one, ""), strict=True)}
