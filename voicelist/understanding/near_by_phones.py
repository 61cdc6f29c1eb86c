"""What was heard a little wrong, brought near by its sound to answers as people put them: "hose
leather" to "holes level".

A phrase of the item, or a word of the frames, may stand for words that sound nearly like it. Words
that deny, doubt, ask or put off stay as they were heard, and no phrase is put in their place. What
is found is only a guess at what was said: it has to be put to both models.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from voicelist.grammar.budget import Meter, TooLarge
from voicelist.grammar.lattice import Lattice, Way, cheapest
from voicelist.grammar.ruleset import RuleSet
from voicelist.grammar.syntax import Choice, Node, PhrasePlace, Reference, Repeat, Token, Void
from voicelist.grammar.syntax import Sequence as Row
from voicelist.phonetics.phones import Phones, PhoneTable, apart_within, distance
from voicelist.phonetics.spelling import by_spelling
from voicelist.understanding.plain_phrases import PlainPhrases
from voicelist.understanding.plain_speech import BOUND, About, NaturalAnswers

Words = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class NearnessPolicy:
    """How far what was heard may be from what it is taken for (0 the same, 1 nothing in common):
    a phrase of the item, a word of the frames, the whole; how much nearer a bad state may not be.
    Project choice, 27 November 2026, on the development half of
    tests/benchmarks/studies/plain_speech.py."""

    phrase: float = 0.36
    word: float = 0.2
    whole: float = 0.25
    bad_behind: float = 0.5
    span_words: int = 4
    words: int = 16
    phrases: int = 3_000


POLICY = NearnessPolicy()
# What is never taken for something else.
_FIRM = ("negated", "doubtful", "later", "reported")
_FRAMES = ("answer", "full", "short", "none")
_AT = PhrasePlace("frames", 1, 1)
# Where a phrase may stand for what was heard, and how far off that is.
_Near = tuple[int, int, Words, float]
_Phrases = tuple[tuple[Words, Phones], ...]


@dataclass(frozen=True, slots=True)
class NearAnswer:
    """An answer that what was heard sounds like, how far off, and whether it names the thing."""

    words: Words
    apart: float
    full: bool


def _parts(about: About) -> tuple[Node, ...]:
    return about.thing, about.good, about.bad, about.deed


@dataclass(slots=True)
class NearByPhones:
    """The frames of a rule set, and what their words sound like."""

    answers: NaturalAnswers
    rules: RuleSet
    table: PhoneTable
    policy: NearnessPolicy = POLICY
    phrases: PlainPhrases = field(init=False)
    _phrases: dict[int, _Phrases] = field(default_factory=dict)
    _alike: dict[str, tuple[tuple[str, float], ...]] = field(default_factory=dict)
    _framing: dict[str, Phones] = field(default_factory=dict)
    _firm: frozenset[str] = frozenset()
    _kept: list[Node] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.phrases = PlainPhrases(self.rules)

    def answer(self, heard: Sequence[str], about: About) -> NearAnswer | None:
        """The one answer that is nearest to what was heard; None where that is none, or a bad
        state is about as near."""
        written = (self.answers.written_out(heard), self.answers.without_hesitations(heard))
        try:
            found = [self._answer(said, about) for said in dict.fromkeys(written) if said]
        except TooLarge:
            return None
        near = (one for one in found if one is not None)
        return min(near, key=lambda one: one.apart, default=None)

    def _answer(self, said: Words, about: About) -> NearAnswer | None:
        if len(said) > self.policy.words or self.is_turned(said):
            return None
        near = {id(node): self._near_phrases(said, node, about) for node in _parts(about)}
        states = self._of(about.good, about)
        if states and not near[id(about.good)] and not near[id(about.deed)]:
            return None
        length = len(self._sound(said))
        lattice = self._lattice(said, [one for found in near.values() for one in found])
        good = self._nearest(lattice, about, about.good, self.policy.whole * length)
        if good is None or self.is_turned(good[0].words):
            return None
        at_most = good[0].cost + self.policy.bad_behind
        if self._nearest(lattice, about, about.bad, at_most) is not None:
            return None
        return NearAnswer(good[0].words, good[0].cost / max(1, length), good[1])

    def _sound(self, words: Words) -> Phones:
        known = self.table.words
        return tuple(phone for one in words for phone in known.get(one) or by_spelling(one))

    def is_turned(self, said: Words) -> bool:
        """Whether it denies, asks or orders."""
        denied = not self.answers.small.denying.isdisjoint(said)
        return denied or self.answers.asks_or_orders(said)

    def bad_states(self, about: About) -> tuple[Words, ...]:
        """The words for what would be amiss."""
        return tuple(words for words, _ in self._of(about.bad, about))

    def good_states(self, about: About) -> tuple[Words, ...]:
        """The words for what is asked."""
        return tuple(words for words, _ in self._of(about.good, about))

    def _nearest(
        self, lattice: Lattice, about: About, state: Node, at_most: float
    ) -> tuple[Way, bool] | None:
        found = []
        for named in (True, False):
            frames = self.answers.frames(about, state, named=named)
            way = cheapest(frames, "answer", lattice, at_most)
            if way is not None:
                found.append((way, named))
        return min(found, key=lambda one: one[0].cost, default=None)

    def _near_phrases(self, said: Words, node: Node, about: About) -> list[_Near]:
        """Where phrases stand, or what sounds nearly like them, and how nearly."""
        firm = self._firm_words()
        return [
            (start, end, words, distance(span, phones))
            for start, end, span in self._spans(said)
            for words, phones in self._of(node, about)
            if words == said[start:end]
            or (firm.isdisjoint(said[start:end]) and self._is_near(span, phones))
        ]

    def _lattice(self, said: Words, near: Sequence[_Near]) -> Lattice:
        lattice = Lattice.of(said)
        for at, word in enumerate(said):
            firm = word in self._firm_words()
            if firm and not self._opens(said, at):
                continue
            for other, cost in self._words_like(word):
                if not firm or other in self._opening:
                    lattice.add(at, at + 1, (other,), cost)
        for start, end, words, cost in near:
            if words != said[start:end]:
                lattice.add(start, end, words, cost)
        return lattice

    def _opens(self, said: Words, at: int) -> bool:
        """Whether it is "yet", which opens nothing but "yet to be done" and "yet another"."""
        small = self.answers.small
        if at or said[at] not in small.beside_a_denial or len(said) == 1:
            return False
        return said[1] not in small.behind_an_opening

    def _spans(self, said: Words) -> Iterator[tuple[int, int, Phones]]:
        for start in range(len(said)):
            for end in range(start + 1, min(len(said), start + self.policy.span_words) + 1):
                yield start, end, self._sound(said[start:end])

    def _is_near(self, ours: Phones, theirs: Phones) -> bool:
        return apart_within(ours, theirs, self.policy.phrase) is not None

    def _words_like(self, word: str) -> tuple[tuple[str, float], ...]:
        if word not in self._alike:
            ours = self._sound((word,))
            self._alike[word] = tuple(
                (other, distance(ours, phones))
                for other, phones in self._frame_words().items()
                if other != word and apart_within(ours, phones, self.policy.word) is not None
            )
        return self._alike[word]

    def _firm_words(self) -> frozenset[str]:
        if not self._firm:
            every = (self._expanded(Reference(rule, _AT), {}) for rule in _FIRM)
            firm = (words[0] for row in every for words in row if len(words) == 1)
            self._firm = frozenset((*firm, *self.answers.small.there_is_some))
        return self._firm

    @property
    def _opening(self) -> frozenset[str]:
        return frozenset(self.rules.words("openings"))

    def _frame_words(self) -> Mapping[str, Phones]:
        if not self._framing:
            words = {word for rule in _FRAMES for word in self._tokens(Reference(rule, _AT))}
            self._framing = {word: self._sound((word,)) for word in sorted(words)}
        return self._framing

    def _of(self, node: Node, about: About) -> _Phrases:
        if id(node) not in self._phrases:
            every = self._expanded(node, {"thing": about.thing, "object": about.thing})
            self._kept.append(node)
            self._phrases[id(node)] = tuple((words, self._sound(words)) for words in every)
        return self._phrases[id(node)]

    def _expanded(self, node: Node, bound: Mapping[str, Node]) -> list[Words]:
        """The different short sentences of a phrase; none where there are too many."""
        place = Meter(self.policy.phrases, "phrases of an item", _AT)
        try:
            return [words for words in self._sentences(node, None, bound, place) if words]
        except TooLarge:
            return []

    def _sentences(
        self, node: Node, scope: str | None, bound: Mapping[str, Node], meter: Meter
    ) -> list[Words]:
        match node:
            case Token():
                return [(node.text,)]
            case Row():
                said: list[Words] = [()]
                for part in node.parts:
                    said = self._followed(said, self._sentences(part, scope, bound, meter), meter)
                return said
            case Choice():
                every = (self._sentences(part, scope, bound, meter) for part in node.parts)
                return list(dict.fromkeys(words for row in every for words in row))
            case Repeat():
                once = self._sentences(node.part, scope, bound, meter)
                rows: list[list[Words]] = [[()]]
                for _ in range(node.most):
                    rows.append(self._followed(rows[-1], once, meter))
                return list(dict.fromkeys(words for row in rows[node.least :] for words in row))
            case Reference():
                return self._of_rule(node.name, scope, bound, meter)
            case Void():
                return []
            case _:
                return [()]

    def _of_rule(
        self, name: str, scope: str | None, bound: Mapping[str, Node], meter: Meter
    ) -> list[Words]:
        if name in bound:
            return self._sentences(bound[name], None, {}, meter)
        rule = self.rules.find(name, scope)
        if rule is None:
            return []
        return self._sentences(rule.body, rule.place.file, bound, meter)

    def _followed(self, said: list[Words], more: list[Words], meter: Meter) -> list[Words]:
        longest = self.policy.span_words
        pairs = (one + other for one in said for other in more)
        found = list(dict.fromkeys(words for words in pairs if len(words) <= longest))
        meter.spend(len(found))
        return found

    def _tokens(self, node: Node, scope: str | None = None) -> Iterator[str]:
        """The words of a phrase, without those of an item."""
        match node:
            case Token():
                yield node.text
            case Row() | Choice():
                for part in node.parts:
                    yield from self._tokens(part, scope)
            case Repeat():
                yield from self._tokens(node.part, scope)
            case Reference() if node.name not in BOUND:
                rule = self.rules.find(node.name, scope)
                if rule is not None:
                    yield from self._tokens(rule.body, rule.place.file)
