"""What the recogniser is to listen for: the phrases for the first look at a sound, with the room's
words unless an answer has but one word, and for the second those beside what they are easily
confused with.

Under a grammar of permitted phrases and single filler words the recogniser bends "irrigation line
isn't firm" towards the answer, because no phrase leads from "line" to "isn't". In the second look
each answer stands beside its denials, doubts and questions with equal right.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass

from voicelist.grammar.budget import BUDGET, Meter
from voicelist.grammar.grammar import UNKNOWN, Grammar
from voicelist.grammar.wordgraph import WordGraph, Words
from voicelist.understanding.room_words import Room

_FEW_SENTENCES = 6


@dataclass(frozen=True, slots=True)
class HearingGrammar:
    """What the recogniser's process needs of a grammar."""

    phrases: tuple[str, ...]
    second_phrases: tuple[str, ...]
    graph: WordGraph

    def phrase_list(self) -> tuple[str, ...]:
        """Phrases, filler words and the unknown word."""
        return self.phrases

    def second_phrase_list(self) -> tuple[str, ...]:
        """The same and what is no answer but sounds nearly like one; () for no second look."""
        return self.second_phrases

    def can_grow(self, words: Words) -> bool:
        """Whether a speaker who has said `words` may be about to go on."""
        return self.graph.can_grow(words)


def hearing_grammar(
    grammar: Grammar,
    room: Room | None = None,
    known: frozenset[str] | None = None,
    roots: Sequence[str] | None = None,
    plain: Callable[[str], bool] = lambda name: False,
) -> HearingGrammar:
    """For the recogniser: the `roots` (all if None), the room's words, all limited to what the
    speech model knows. In the second look those that are `plain` stand without their denials:
    what does nothing that a denial could undo. Raises TooLarge where that are too many words."""
    names = grammar.names if roots is None else roots
    said = {name: grammar.sentences(name, known) for name in names}
    fillers = room.fillers if room is not None else ()
    single = (word for word in fillers if known is None or word in known)
    every = tuple(itertools.chain.from_iterable(said.values()))
    with_room = tuple(dict.fromkeys((*every, *single, UNKNOWN)))
    # Among all words of the room an answer of one word drowns, and what else it may have been.
    alone = any(" " not in sentence for sentence in every)
    phrases = tuple(dict.fromkeys((*every, UNKNOWN))) if alone else with_room
    if room is None:
        return HearingGrammar(phrases, (), grammar.graph)
    heavy = (sentences for name, sentences in said.items() if not plain(name))
    words = Meter(BUDGET.listed_words, "words of answers, denials and doubts", grammar.place)
    turned = (one for sentences in heavy for one in _turned(sentences, room, words))
    second = tuple(dict.fromkeys((*with_room, *_of_known(turned, known))))
    return HearingGrammar(phrases, second, grammar.graph)


def _turned(sentences: Sequence[str], room: Room, meter: Meter) -> Iterator[str]:
    """The sentences of one root with something before, inside or behind that makes them no answer.

    A root with many sentences (numbers) has each turned in one way only, by turns: more would drown
    the sentences themselves.
    """
    every = len(sentences) <= _FEW_SENTENCES
    for number, sentence in enumerate(sentences):
        words = sentence.split()
        ways = _ways(words, room, meter)
        for at, turn in ways if every else ways[number % len(ways) :][:1] if ways else ():
            meter.spend(len(words) + 1)
            yield " ".join((*words[:at], turn, *words[at:]))


def _ways(words: Sequence[str], room: Room, meter: Meter) -> list[tuple[int, str]]:
    """How a sentence can be turned: by what, and before which of its words."""
    # Nobody says "this does not not apply".
    places = () if room.turns(words, ()) else range(1, len(words))
    meter.spend(len(places))
    return [
        *((0, turn) for turn in room.before),
        *((len(words), turn) for turn in room.behind),
        *((at, turn) for at in places for turn in room.inside),
    ]


def _of_known(sentences: Iterable[str], known: frozenset[str] | None) -> Iterator[str]:
    return (one for one in sentences if known is None or known.issuperset(one.split()))
