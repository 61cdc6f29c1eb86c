"""Plain speech across items: no state is good and bad at once, none is another item's thing, and
one sentence does not tell good of one item and bad of another that may be answered with it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import islice, product

from voicelist.documents.checklist import Item, Section
from voicelist.documents.wording import quoted
from voicelist.errors import Problem
from voicelist.grammar.ruleset import RuleSet
from voicelist.grammar.syntax import Choice, Node, Reference, Repeat, Token, Void
from voicelist.grammar.syntax import Sequence as Row
from voicelist.linting.material import Compiled
from voicelist.session.natural import Natural
from voicelist.understanding.plain_speech import About

Words = tuple[str, ...]
# So many sentences of a phrase are compared with those of others.
_SENTENCES_AT_MOST = 3000
_GOOD, _BAD = "good", "bad"


@dataclass(frozen=True, slots=True)
class _SaidState:
    """How an item, its good and its bad states are called."""

    item: Item
    about: About
    thing: frozenset[Words]
    good: frozenset[Words]
    bad: frozenset[Words]


def lint_plain_states(compiled: Compiled, natural: Natural) -> Iterator[Problem]:
    """Items by themselves, then those of a section beside each other."""
    said = dict(_said(compiled, natural))
    for one in said.values():
        yield from _both_good_and_bad(compiled, one, natural)
    for section in compiled.material.checklist.sections:
        yield from _of_section(compiled, section, said)


def _said(compiled: Compiled, natural: Natural) -> Iterator[tuple[str, _SaidState]]:
    for _, item in compiled.material.items():
        about = natural.about(item.id)
        if about is not None:
            nodes = (about.thing, about.good, about.bad)
            thing, good, bad = (frozenset(_first_of(node, compiled.rules)) for node in nodes)
            yield item.id, _SaidState(item, about, thing, good, bad)


def _first_of(node: Node, rules: RuleSet) -> Iterator[Words]:
    return islice(sentences(node, rules), _SENTENCES_AT_MOST)


def sentences(
    node: Node, rules: RuleSet, scope: str | None = None, bound: Sequence[Words] = ()
) -> Iterator[Words]:
    """The sentences of a phrase; `bound` stands for what an item binds."""
    match node:
        case Token(text):
            yield (text,)
        case Row(parts):
            yield from _in_a_row(parts, rules, scope, bound)
        case Choice(parts, _):
            for part in parts:
                yield from sentences(part, rules, scope, bound)
        case Repeat(part, least, most):
            for times in range(least, most + 1):
                yield from _in_a_row((part,) * times, rules, scope, bound)
        case Reference(name):
            rule = rules.find(name, scope)
            if rule is None:
                yield from bound
            else:
                yield from sentences(rule.body, rules, rule.place.file, bound)
        case Void():
            return
        case _:
            yield ()


def _in_a_row(
    parts: tuple[Node, ...], rules: RuleSet, scope: str | None, bound: Sequence[Words]
) -> Iterator[Words]:
    each = [tuple(islice(sentences(one, rules, scope, bound), _SENTENCES_AT_MOST)) for one in parts]
    for row in product(*each):
        yield tuple(word for words in row for word in words)


def word_sets(nodes: Iterable[Node], rules: RuleSet) -> frozenset[frozenset[str]]:
    """The words of each sentence, without what an item binds; all of one have to stand in a text
    that holds one of them. Of a phrase with very many sentences only "no words" is told."""
    found: set[frozenset[str]] = set()
    for node in nodes:
        said = tuple(islice(sentences(node, rules, bound=((),)), _SENTENCES_AT_MOST))
        found |= {frozenset(words) for words in said}
        if len(said) == _SENTENCES_AT_MOST:
            found.add(frozenset())
    return frozenset(found)


def _both_good_and_bad(compiled: Compiled, one: _SaidState, natural: Natural) -> Iterator[Problem]:
    frames = natural.answers.with_bound({"state": one.about.good, "thing": one.about.thing})
    both = [words for words in sorted(one.bad) if words and frames.holds("state", words)]
    if both:
        found = f"{quoted(' '.join(both[0]))} among the good and the bad states"
        yield _at(compiled, one, _BAD, found, "expected a state that is good or bad, not both")


def _of_section(
    compiled: Compiled, section: Section, said: Mapping[str, _SaidState]
) -> Iterator[Problem]:
    here = [said[item.id] for item in section.items if item.id in said]
    for one, other in product(here, here):
        if one is other:
            continue
        named = sorted(words for words in one.good & other.thing if words)
        if named:
            found = f"{quoted(' '.join(named[0]))}, which is the thing of {other.item.id}"
            yield _at(compiled, one, _GOOD, found, "expected a state that names no other item")
        if section.order == "any":
            yield from _opposite(compiled, one, other)


def _opposite(compiled: Compiled, one: _SaidState, other: _SaidState) -> Iterator[Problem]:
    """One sentence that passes one item and tells that another is not so."""
    things, states = one.thing & other.thing, one.good & other.bad
    if things and states:
        sentence = " ".join((*min(things), *min(states)))
        found = f"{quoted(sentence)}, which is bad for {other.item.id}"
        yield _at(compiled, one, _GOOD, found, "expected another thing or another state")


def _at(compiled: Compiled, one: _SaidState, key: str, found: str, expected: str) -> Problem:
    paths = {item.id: path for path, item in compiled.material.items()}
    place = compiled.material.places["checklist"].of((*paths[one.item.id], key))
    return place.problem(found, expected)
