"""Words as they are read: shortened forms in full, without hesitations, begun again only once."""

from __future__ import annotations

import re
from collections.abc import Container, Iterator, Mapping, Sequence

from voicelist.grammar.ruleset import RuleSet
from voicelist.grammar.syntax import Choice, Node, Tag, Token, Void
from voicelist.grammar.syntax import Sequence as Row

Words = tuple[str, ...]
_SHORTENED = re.compile(r"(\w+?)(n't|'\w+)")
# So many words are said twice when somebody begins again: "they're they're firm".
_SAID_TWICE_AT_MOST = 4


class WritingOut:
    """Words written out under a rule set."""

    def __init__(self, rules: RuleSet) -> None:
        self._endings = dict(tagged(rules, "shortened"))
        self._whole = dict(tagged(rules, "shortened_word"))
        self._hesitations = frozenset(rules.words("hesitations"))
        self._fillers = self._hesitations | frozenset(rules.words("fillers"))

    def out(self, words: Sequence[str]) -> Words:
        """The words without fillers and what was said twice, with shortened forms in full."""
        return said_once(tuple(self._out(words, self._fillers)))

    def without_hesitations(self, words: Sequence[str]) -> Words:
        """The words with shortened forms in full and without hesitations; other fillers may belong
        to a value ("oh" is a nought)."""
        return tuple(self._out(words, self._hesitations))

    def _out(self, words: Sequence[str], left_out: frozenset[str]) -> Iterator[str]:
        for word in words:
            if word in left_out:
                continue
            if word in self._whole:
                yield from self._whole[word]
                continue
            shortened = _SHORTENED.fullmatch(word)
            if shortened is not None and shortened[2] in self._endings:
                yield shortened[1]
                yield from self._endings[shortened[2]]
            else:
                yield word


def said_once(words: Words, kept: Container[str] = ()) -> Words:
    """The words where somebody who began again ("it's it's firm") began once. Words of `kept`, such
    as numbers, may well be meant twice."""
    for count in range(1, _SAID_TWICE_AT_MOST + 1):
        start = 0
        while start + 2 * count <= len(words):
            one, other = words[start : start + count], words[start + count : start + 2 * count]
            if one == other and not any(word in kept for word in one):
                words = words[:start] + words[start + count :]
            else:
                start += 1
    return words


def tagged(rules: RuleSet, name: str) -> Iterator[tuple[str, Words]]:
    """The alternatives of a rule by their tags."""
    rule = rules.find(name, None)
    body = rule.body if rule is not None else Void()
    for one in body.parts if isinstance(body, Choice) else (body,):
        parts: Mapping[bool, list[Node]] = {True: [], False: []}
        for part in one.parts if isinstance(one, Row) else (one,):
            parts[isinstance(part, Tag)].append(part)
        for tag in parts[True]:
            if isinstance(tag, Tag):
                yield tag.text, tuple(t.text for t in parts[False] if isinstance(t, Token))
