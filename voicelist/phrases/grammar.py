"""A compiled grammar: the strict parse, what may come next, and the recogniser's phrase list."""

from __future__ import annotations

import random
from collections.abc import Iterator, Mapping, Sequence

from voicelist.phrases.compiler import Compiler, Enter, Label, Leave, Spoken
from voicelist.phrases.cover import covering_phrases
from voicelist.phrases.match import Match, read_trail
from voicelist.phrases.ruleset import RuleSet
from voicelist.phrases.syntax import Node

Words = Sequence[str]
_MOST_PARSES = 64


class Grammar:
    """Named phrases ("roots") as one loop-free automaton.

    `roots` maps a name to its phrase; `scopes` says in which rule file a root stands (checklist
    phrases in none). `respellings` come from the lexicon. Immutable after construction; pickles.
    """

    def __init__(
        self,
        roots: Mapping[str, Node],
        rules: RuleSet | None = None,
        respellings: Mapping[str, Sequence[Words]] | None = None,
        scopes: Mapping[str, str | None] | None = None,
    ) -> None:
        self.names = tuple(roots)
        self._source = (roots, rules, respellings, scopes)
        self._parts: dict[str, Grammar] = {}
        compiler = Compiler(rules or RuleSet(), respellings or {})
        self._final = compiler.compile(roots, scopes or {})
        self._arcs = compiler.draft.arcs
        self._ends, self._next = self._look_ahead()

    def _look_ahead(self) -> tuple[list[bool], list[dict[tuple[str, int], Spoken]]]:
        """Per state: may a sentence end here; which (word, state after it) may follow.

        States from which no sentence can be finished have no followers.
        """
        count = len(self._arcs)
        ends = [False] * count
        following: list[dict[tuple[str, int], Spoken]] = [{} for _ in range(count)]
        ends[self._final] = True
        for state in range(count - 1, -1, -1):
            for label, target in self._arcs[state]:
                if isinstance(label, Spoken):
                    if ends[target] or following[target]:
                        following[state][(label.heard, target)] = label
                else:
                    ends[state] = ends[state] or ends[target]
                    following[state].update(following[target])
        return ends, following

    def _after(self, words: Words) -> set[int]:
        states = {0}
        for word in words:
            states = {
                target for state in states for heard, target in self._next[state] if heard == word
            }
        return states

    def accepts(self, words: Words) -> bool:
        """Whether the words, whole, are a permitted sentence."""
        return any(self._ends[state] for state in self._after(words))

    def can_grow(self, words: Words) -> bool:
        """Whether the words are the beginning of a longer permitted sentence."""
        return any(self._next[state] for state in self._after(words))

    def is_prefix(self, words: Words) -> bool:
        """Whether some permitted sentence begins with the words (or is them)."""
        return bool(self._after(words))

    def parses(self, words: Words) -> tuple[Match, ...]:
        """Every way to read the whole sentence; more than one means that it is ambiguous."""
        found: dict[Match, None] = {}
        for trail in self._trails(tuple(words)):
            found[read_trail(trail)] = None
        return tuple(found)

    def _trails(self, words: tuple[str, ...]) -> Iterator[list[Label]]:
        """The label sequences that spell `words`, at most `_MOST_PARSES`."""
        goes_on = self._states_that_finish(words)
        stack: list[tuple[int, int, tuple[object, ...]]] = [(0, 0, ())]
        given = 0
        while stack and given < _MOST_PARSES:
            state, position, trail = stack.pop()
            if position == len(words) and state == self._final:
                given += 1
                yield _unlink(trail)
            for label, target in reversed(self._arcs[state]):
                if not isinstance(label, Spoken):
                    if self._lives(target, position, words, goes_on):
                        stack.append((target, position, (trail, label)))
                elif (
                    position < len(words)
                    and label.heard == words[position]
                    and target in goes_on[position + 1]
                ):
                    stack.append((target, position + 1, (trail, label)))

    def _states_that_finish(self, words: tuple[str, ...]) -> list[set[int]]:
        """Per position, the states reached by a word from which the rest can be finished."""
        reached: list[set[int]] = [{0}]
        for word in words:
            reached.append({t for s in reached[-1] for heard, t in self._next[s] if heard == word})
        reached[-1] = {state for state in reached[-1] if self._ends[state]}
        for position in range(len(words) - 1, 0, -1):
            word = words[position]
            reached[position] = {
                state
                for state in reached[position]
                if any(h == word and t in reached[position + 1] for h, t in self._next[state])
            }
        return reached

    def _lives(
        self, state: int, position: int, words: tuple[str, ...], goes_on: list[set[int]]
    ) -> bool:
        if position == len(words):
            return self._ends[state]
        word = words[position]
        return any(h == word and t in goes_on[position + 1] for h, t in self._next[state])

    def only(self, name: str) -> Grammar:
        """The grammar of one root alone."""
        if name not in self._parts:
            roots, rules, respellings, scopes = self._source
            self._parts[name] = Grammar({name: roots[name]}, rules, respellings, scopes)
        return self._parts[name]

    def words_of(self, name: str) -> frozenset[str]:
        """The words of one root as they are heard or typed."""
        return frozenset(
            label.heard
            for arcs in self.only(name)._arcs
            for label, _ in arcs
            if isinstance(label, Spoken)
        )

    def examples(self, name: str) -> tuple[str, ...]:
        """Sentences of one root that hold all its word pairs, as written."""
        part = self.only(name)
        return tuple(
            dict.fromkeys(
                match.text
                for phrase in part.phrase_list()
                for match in part.parses(phrase.split())[:1]
            )
        )

    def vocabulary(self) -> frozenset[str]:
        """Every word that the speech model must know."""
        return frozenset(
            label.heard
            for arcs in self._arcs
            for label, _ in arcs
            if isinstance(label, Spoken) and not label.typed_only
        )

    def phrase_list(self, known: frozenset[str] | None = None) -> tuple[str, ...]:
        """Sentences that hold every word pair of the grammar, for the recogniser.

        `known` limits them to the speech model's words.
        """
        return covering_phrases(self._ends, self._next, known)

    def samples(self, seed: int, count: int) -> list[tuple[str, ...]]:
        """Random permitted sentences (as heard), for tests and benchmarks."""
        chance = random.Random(seed)
        return [self._walk(chance) for _ in range(count)]

    def _walk(self, chance: random.Random) -> tuple[str, ...]:
        state = 0
        words: list[str] = []
        while True:
            options = [key for key, label in self._next[state].items() if not label.typed_only]
            if self._ends[state] and (not options or chance.random() < 0.5):
                return tuple(words)
            word, state = chance.choice(options)
            words.append(word)

    def shared_sentence(self, other: Grammar) -> tuple[str, ...] | None:
        """A sentence that both grammars permit, or None."""
        seen: dict[tuple[int, int], tuple[str, ...]] = {(0, 0): ()}
        queue = [(0, 0)]
        for pair in queue:
            ours, theirs = pair
            if self._ends[ours] and other._ends[theirs]:
                return seen[pair]
            for word, target in self._next[ours]:
                for their_word, their_target in other._next[theirs]:
                    step = (target, their_target)
                    if word == their_word and step not in seen:
                        seen[step] = (*seen[pair], word)
                        queue.append(step)
        return None

    def accepted_run(self, words: Words) -> tuple[str, ...] | None:
        """A run of words inside `words` that is a permitted sentence, or None."""
        for start in range(len(words)):
            for end in range(start + 1, len(words) + 1):
                if not self.is_prefix(words[start:end]):
                    break
                if self.accepts(words[start:end]):
                    return tuple(words[start:end])
        return None


def _unlink(trail: tuple[object, ...]) -> list[Label]:
    labels: list[Label] = []
    while trail:
        trail, label = trail  # type: ignore[assignment]  # a linked list of pairs, () at its end
        labels.append(label)  # type: ignore[arg-type]
    return labels[::-1]


__all__ = ["Enter", "Grammar", "Leave", "Match"]
