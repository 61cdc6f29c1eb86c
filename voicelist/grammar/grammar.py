"""A compiled grammar: the strict parse and the recogniser's phrase list."""

from __future__ import annotations

import itertools
from collections import OrderedDict
from collections.abc import Iterator, Mapping, Sequence

from voicelist.grammar.bigram_cover import covering_phrases
from voicelist.grammar.budget import BUDGET, GrammarBudget, Meter, TooLarge
from voicelist.grammar.compiler import (
    Drawn,
    Label,
    SpokenWord,
    drawn,
    head_of,
    shared_tails,
    where_stands,
)
from voicelist.grammar.match import Match, read_trail
from voicelist.grammar.ruleset import RuleSet
from voicelist.grammar.syntax import Node
from voicelist.grammar.wordgraph import Words, word_graph

UNKNOWN = "[unk]"
# In the place of a word: speech at an edge that a hypothesis leaves without one.
UNHEARD = "[unheard]"
NO_WORDS = frozenset((UNHEARD, UNKNOWN))
_MOST_PARSES = 64

_Trail = tuple["_Trail", Label] | None


class Grammar:
    """Named phrases ("roots") as one loop-free automaton.

    `roots` maps a name to its phrase; `scopes` says in which rule file a root stands (checklist
    phrases in none). `respellings` come from the lexicon. `parts` are grammars of single roots that
    are there already. Immutable after construction. Raises TooLarge where the phrases go beyond the
    `budget`; `place` is where the largest stands.
    """

    def __init__(
        self,
        roots: Mapping[str, Node],
        rules: RuleSet | None = None,
        respellings: Mapping[str, Sequence[Words]] | None = None,
        scopes: Mapping[str, str | None] | None = None,
        budget: GrammarBudget = BUDGET,
        parts: Mapping[str, Grammar] | None = None,
        automaton: Drawn | None = None,
    ) -> None:
        self._budget = budget
        self.names = tuple(roots)
        self._source = (roots, rules, respellings, scopes)
        self._parts = dict(parts or {})
        self._examples: dict[str, tuple[str, ...]] = {}
        self._phrase_lists: dict[frozenset[str] | None, tuple[str, ...]] = {}
        self._respelled: dict[str, list[tuple[Words, str]]] = {}
        for written, ways in (respellings or {}).items():
            for heard in ways:
                self._respelled.setdefault(heard[0], []).append((tuple(heard), written))
        self._alone = _said_alone(roots, scopes or {})
        if automaton is None:
            automaton = drawn(roots, rules or RuleSet(), respellings or {}, scopes or {}, budget)
        self._draft, self._final = automaton.draft, automaton.final
        self.place, self.spent = automaton.place, automaton.spent
        self._arcs = self._draft.arcs
        self.graph, self._node_of = word_graph(self._draft, self._final, self.place, budget)
        self._words: dict[str, frozenset[str]] = {}
        self._steps_by_word: dict[str, list[tuple[int, int]]] = {}
        for node, steps in enumerate(self.graph.steps):
            for step in steps:
                self._steps_by_word.setdefault(step.word, []).append((node, step.target))

    def only(self, name: str) -> Grammar:
        """The grammar of one root alone, made of the states that it has here."""
        if name not in self._parts:
            roots, rules, respellings, scopes = self._source
            one, scope = {name: roots[name]}, (scopes or {}).get(name)
            place = where_stands(roots[name], rules or RuleSet(), scope) or self.place
            own, final = self._draft.only(name, self._final)
            automaton = Drawn(own, final, place, len(own.arcs))
            self._parts[name] = Grammar(
                one, rules, respellings, scopes, self._budget, automaton=automaton
            )
        return self._parts[name]

    def sentences(self, name: str, known: frozenset[str] | None = None) -> tuple[str, ...]:
        """Sentences of one root that hold its word pairs, of the `known` words alone. Where another
        root is what this one ends with, that one's sentences hold the rest: here are those that
        lead into it."""
        tail = self._alone.get(name, name)
        if tail == name:
            return self.only(name).phrase_list(known)
        roots, rules, respellings, scopes = self._source
        head = head_of(roots[name])
        if not head.parts:
            return ()
        led = Grammar({name: head}, rules, respellings, scopes, self._budget).phrase_list(known)
        ends = tuple(self.only(tail).graph.shortest_from_each_word(known))
        return tuple(f"{one} {end}" for one in led for end in ends)

    def parses(self, words: Words) -> tuple[Match, ...]:
        """Every way to read the whole sentence; more than one means that it is ambiguous. None
        where reading takes more steps than the budget has: an answer is never half read."""
        if len(words) >= len(self.graph.steps):  # each word leads to another node
            return ()
        found: dict[Match, None] = {}
        try:
            for trail in self._trails(tuple(words)):
                found[read_trail(trail)] = None
        except TooLarge:
            return ()
        return tuple(found)

    def _trails(self, words: tuple[str, ...]) -> Iterator[list[Label]]:
        """The label sequences that spell `words`, at most `_MOST_PARSES` of each root, so that one
        with many readings hides no other."""
        meter = Meter(self._budget.parse_steps, "steps to read one sentence", self.place)
        finishing = self._finishing_nodes(words, meter)
        for label, target in self._arcs[0]:
            if self._node_of[target] in finishing[0]:
                trails = self._trails_from(target, (None, label), words, finishing, meter)
                yield from itertools.islice(trails, _MOST_PARSES)

    def _trails_from(
        self,
        start: int,
        begun: _Trail,
        words: tuple[str, ...],
        finishing: Sequence[set[int]],
        meter: Meter,
    ) -> Iterator[list[Label]]:
        stack: list[tuple[int, int, _Trail]] = [(start, 0, begun)]
        while stack:
            state, position, trail = stack.pop()
            meter.spend(1 + len(self._arcs[state]))
            if position == len(words) and state == self._final:
                yield _unlink(trail)
            for label, target in reversed(self._arcs[state]):
                at = position
                if isinstance(label, SpokenWord):
                    if position == len(words) or label.heard != words[position]:
                        continue
                    at += 1
                if self._node_of[target] in finishing[at]:
                    stack.append((target, at, (trail, label)))

    def _finishing_nodes(self, words: tuple[str, ...], meter: Meter) -> list[set[int]]:
        """Per position, the nodes from which the rest of the words ends a sentence."""
        finishing = [{node for node, ends in enumerate(self.graph.ends) if ends}]
        for word in reversed(words):
            after = finishing[-1]
            steps = self._steps_by_word.get(word, ())
            meter.spend(len(steps))
            finishing.append({node for node, target in steps if target in after})
        return finishing[::-1]

    def words_of(self, name: str) -> frozenset[str]:
        """The words of one root as they are heard or typed."""
        if name not in self._words:
            self._words[name] = frozenset(
                label.heard
                for state in self._draft.behind(name)
                for label, target in self._arcs[state]
                if isinstance(label, SpokenWord) and self._node_of[target] >= 0
            )
        return self._words[name]

    def as_written(self, words: Words) -> str:
        """Heard words as anybody would write them; they need not be a sentence of it."""
        left, written = tuple(words), []
        while left:
            ways = self._respelled.get(left[0], ())
            found = (way for way in ways if left[: len(way[0])] == way[0])
            heard, word = next(found, (left[:1], left[0]))
            written.append(word)
            left = left[len(heard) :]
        return " ".join(written)

    def examples(self, name: str) -> tuple[str, ...]:
        """Sentences of one root that hold all its word pairs, as written."""
        if name not in self._examples:
            found = (self.as_written(one.split()) for one in self.only(name).phrase_list())
            self._examples[name] = tuple(dict.fromkeys(found))
        return self._examples[name]

    def vocabulary(self) -> frozenset[str]:
        """Every word that the speech model must know."""
        return frozenset(
            step.word for steps in self.graph.steps for step in steps if not step.typed_only
        )

    def phrase_list(self, known: frozenset[str] | None = None) -> tuple[str, ...]:
        """Sentences that hold every word pair of the grammar, of the `known` words alone."""
        if known not in self._phrase_lists:
            found = covering_phrases(self.graph, known, self.place, self._budget)
            self._phrase_lists[known] = found
        return self._phrase_lists[known]


# So many grammars are kept for whoever asks for the same phrases again. Project choice: a case, and
# what is asked beside it.
KEPT_AT_MOST = 2
_kept: OrderedDict[tuple[object, ...], Grammar] = OrderedDict()


def grammar_of(
    roots: Mapping[str, Node],
    rules: RuleSet,
    respellings: Mapping[str, Sequence[Words]] | None = None,
) -> Grammar:
    """The grammar of phrases; the one that was made before where these are the same."""
    heard = tuple((one, tuple(map(tuple, ways))) for one, ways in (respellings or {}).items())
    key = (tuple(roots.items()), rules, heard)
    if key not in _kept:
        _kept[key] = Grammar(roots, rules, respellings)
    _kept.move_to_end(key)
    while len(_kept) > KEPT_AT_MOST:
        _kept.popitem(last=False)
    return _kept[key]


def _said_alone(roots: Mapping[str, Node], scopes: Mapping[str, str | None]) -> dict[str, str]:
    """By root, the first one that is nothing but the rule with which both end."""
    tails = shared_tails(roots, scopes)
    alone: dict[str, str] = {}
    for name, tail in tails.items():
        if not head_of(roots[name]).parts:
            alone.setdefault(tail.name, name)
    return {name: alone[tail.name] for name, tail in tails.items() if tail.name in alone}


def _unlink(trail: _Trail) -> list[Label]:
    labels: list[Label] = []
    while trail is not None:
        trail, label = trail
        labels.append(label)
    return labels[::-1]
