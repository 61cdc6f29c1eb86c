"""What the recogniser listens for where no permitted sentence was understood: the asked item's own
words, good and bad, and what people say around them.

The recogniser makes a word-pair model of it. What it hears is only a guess at what was said, is
read strictly and put to both models.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from voicelist.grammar.ruleset import RuleSet
from voicelist.grammar.syntax import Choice, Node, PhrasePlace, Reference, Token
from voicelist.grammar.word_pairs import WordPairs, sentences_of
from voicelist.understanding.hypothesis import Words
from voicelist.understanding.plain_speech import About
from voicelist.understanding.written_out import tagged

_AROUND, _SHORTENED = "heard_", "shortened"
_AT = PhrasePlace("heard", 1, 1)
_SETTINGS = Reference("heard_settings", _AT)


@dataclass(slots=True)
class PlainPhrases:
    """The phrases of items under a rule set; each item's are worked out once."""

    rules: RuleSet
    _made: dict[int, tuple[object, tuple[str, ...]]] = field(default_factory=dict)

    def of(self, about: About) -> tuple[str, ...]:
        """Those of an item."""
        if id(about) not in self._made:
            endings = {
                full: end for end, (full, *more) in tagged(self.rules, _SHORTENED) if not more
            }
            said = [one for words in self._of(about) for one in _shortened(words, endings)]
            self._made[id(about)] = about, tuple(dict.fromkeys(map(" ".join, said)))
        return self._made[id(about)][1]

    def of_value(self, value: Node, source: Sequence[str]) -> tuple[str, ...]:
        """Those of a value and what is said around it; `source` are the words for what it is read
        from."""
        names = Choice(tuple(Token(word, _AT) for word in source), (1.0,) * len(source))
        return self._of_pairs(value, "heard_value", {"value": value, "source": names})

    def of_settings(self) -> tuple[str, ...]:
        """Those of machine settings, one after the other."""
        return self._of_pairs(_SETTINGS, "heard_settings", {})

    def _of_pairs(self, key: Node, rule: str, bound: Mapping[str, Node]) -> tuple[str, ...]:
        if id(key) not in self._made:
            pairs = WordPairs(self.rules, bound).of(Reference(rule, _AT))
            self._made[id(key)] = key, sentences_of(pairs)
        return self._made[id(key)][1]

    def _of(self, about: About) -> Iterator[Words]:
        pairs = WordPairs(self.rules, {"thing": about.thing, "object": about.thing})

        def phrases(node: Node) -> list[Words]:
            return [tuple(one.split()) for one in sentences_of(pairs.of(node))]

        states = [*phrases(about.good), *phrases(about.bad)]
        things, deeds = phrases(about.thing), phrases(about.deed)
        yield from (*states, *deeds, *self._around("alone"))
        yield from _beside(states, self._around("before_state"), self._around("behind_state"))
        yield from _beside(things, self._around("before_thing"), self._around("behind_thing"))
        yield from _beside(deeds, self._around("before_deed"), self._around("behind_state"))
        yield from _beside(states, list({one[-1]: one for one in things}.values()), ())

    def _around(self, where: str) -> list[Words]:
        return [tuple(one.split()) for one in self.rules.wordings(_AROUND + where)]


def _shortened(words: Words, endings: Mapping[str, str]) -> Iterator[Words]:
    """As they are, and with a word drawn to the one before it: "tip is" to "tip's"."""
    yield words
    for full, ending in endings.items():
        if full in words[1:]:
            at = words.index(full, 1)
            yield (*words[: at - 1], words[at - 1] + ending, *words[at + 1 :])


def _beside(
    words: Sequence[Words], before: Sequence[Words], behind: Sequence[Words]
) -> Iterator[Words]:
    """Everything before each word that the item's words begin with, and behind each that they end
    with."""
    begins = {one[0]: one for one in words}
    ends = {one[-1]: one for one in words}
    yield from ((*one, *other) for one in before for other in begins.values())
    yield from ((*one, *other) for one in ends.values() for other in behind)
