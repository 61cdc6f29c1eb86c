"""The words that "did you mean" offers: those by which an item's answers differ. They are never
the opposite of what was heard, and never a whole answer, or the assistant would answer itself."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from voicelist.grammar.grammar import Grammar
from voicelist.session.turn import Turn
from voicelist.understanding.interpretation import NotUnderstood

KINDS = ("done", "fault")
_STATE_WORDS_AT_MOST = 1

# By kind of answer: each of its sentences, and the words that tell it from the item's others.
Telling = Mapping[str, tuple[tuple[tuple[str, ...], tuple[str, ...]], ...]]


def telling_words(sentences: Mapping[str, Sequence[str]]) -> Telling:
    """What tells the sentences of an item apart, by kind: the words that not all of them have."""
    split = {kind: [tuple(text.split()) for text in texts] for kind, texts in sentences.items()}
    every = [set(words) for texts in split.values() for words in texts]
    common = set.intersection(*every) if every else set()
    return {
        kind: tuple((words, tuple(one for one in words if one not in common)) for words in texts)
        for kind, texts in split.items()
    }


def own_words(telling: Telling, kind: str, words: Sequence[str]) -> tuple[str, ...]:
    """Those of the words that no other kind of answer has."""
    others = {
        word
        for other, sentences in telling.items()
        if other != kind
        for said, _ in sentences
        for word in said
    }
    return tuple(word for word in words if word not in others)


def state_of(telling: Telling, kind: str) -> tuple[str, ...]:
    """The shortest words that one kind of answer has alone; () if they are long."""
    states = (own_words(telling, kind, words) for _, words in telling.get(kind, ()))
    shortest = min((one for one in states if one), key=len, default=())
    return shortest if len(shortest) <= _STATE_WORDS_AT_MOST else ()


def _short(telling: Telling, kind: str, words: Sequence[str]) -> tuple[str, ...]:
    own = own_words(telling, kind, words)
    return own if 0 < len(own) <= _STATE_WORDS_AT_MOST else state_of(telling, kind)


def offer(turn: Turn, item_id: str, heard: NotUnderstood) -> str:
    """The nearest state, both where both are near, or "". Who denied or doubted that something is
    so did not mean that it is."""
    grammar, room = turn.case.grammar, turn.case.room
    item = turn.item(item_id)
    kinds = [kind for kind in KINDS if getattr(item, kind) is not None]
    telling = telling_words({kind: grammar.examples(f"{item_id}.{kind}") for kind in kinds})
    near: dict[str, tuple[str, ...]] = {}
    doubted = False
    for offered in (tuple(one.split()) for one in heard.offers):
        for kind, words, tells in _flat(telling):
            if words == offered:
                doubted = doubted or (kind == "done" and bool(room.turns(heard.words, words)))
                near.setdefault(kind, tells)
    if not near:
        return ""
    near = {**near, **_heard(telling, heard.words)}
    if set(near) == {"done"} and doubted:
        return ""
    if len(near) > 1:
        near = {kind: _short(telling, kind, words) for kind, words in near.items()}
    return _named(turn, grammar, [near[kind] for kind in KINDS if kind in near])


def _flat(telling: Telling) -> Iterator[tuple[str, tuple[str, ...], tuple[str, ...]]]:
    return ((kind, *one) for kind, sentences in telling.items() for one in sentences)


def _heard(telling: Telling, words: Sequence[str]) -> dict[str, tuple[str, ...]]:
    """The states whose own words were heard, whatever was said around them."""
    return {kind: tells for kind, _, tells in _flat(telling) if tells and set(tells) <= set(words)}


def _named(turn: Turn, grammar: Grammar, states: Sequence[tuple[str, ...]]) -> str:
    if not all(states) or any(grammar.graph.accepts(state) for state in states):
        return ""
    first, *more = (" ".join(state) for state in states)
    return turn.case.text("either-or", first=first, second=more[0]).lower() if more else first
