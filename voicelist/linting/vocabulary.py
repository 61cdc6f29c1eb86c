"""Words that the speech model does not know: they can never be heard, so nobody could answer."""

from __future__ import annotations

import string
from collections.abc import Callable, Collection, Iterator

from voicelist.documents.lexicon import Lexicon
from voicelist.documents.marks import Places
from voicelist.documents.wording import quoted
from voicelist.errors import Problem
from voicelist.grammar.ruleset import RuleSet
from voicelist.grammar.syntax import Choice, Node, Repeat, Sequence, Token
from voicelist.phonetics.phones import PhoneTable
from voicelist.phonetics.respelling import respellings
from voicelist.understanding.plain_speech import is_read_along

Knows = Callable[[str], bool]

_LETTERS = string.ascii_lowercase + "'"
_SHORTEST_PART = 2
_HINTS_AT_MOST = 2
_RESPELLINGS_AT_MOST = 3


def tokens(node: Node) -> Iterator[Token]:
    """Every word of a phrase, without the rules that it refers to."""
    match node:
        case Token():
            yield node
        case Sequence() | Choice():
            for part in node.parts:
                yield from tokens(part)
        case Repeat():
            yield from tokens(node.part)


def unknown_words(
    node: Node, respelled: Collection[str], knows: Knows, table: PhoneTable
) -> Iterator[Problem]:
    """A problem for each word of a phrase that is neither known nor respelled; `table` has the
    phones by which respellings are proposed."""
    for token in tokens(node):
        if token.text in respelled or knows(token.text):
            continue
        found = f"the word {quoted(token.text)}, which the speech model does not know"
        expected = "expected a word that it knows, or an entry of the lexicon"
        expected += _hint(token, knows) + _by_sound(token, knows, table)
        yield Problem(token.place.file, token.place.line, token.place.column, found, expected)


def unknown_words_of_rules(
    rules: RuleSet, respelled: Collection[str], knows: Knows, table: PhoneTable
) -> Iterator[Problem]:
    for file in rules.files:
        for rule in file.rules if not is_read_along(file.file) else ():
            yield from unknown_words(rule.body, respelled, knows, table)


def lint_lexicon(lexicon: Lexicon, places: Places, knows: Knows | None) -> Iterator[Problem]:
    """Respellings by unknown words, and those of which no phrase will ever make use."""
    for number, word in enumerate(lexicon.words):
        if word.hear and len(word.written.split()) > 1:
            place = places.of(("words", number, "written"))
            found = f"{quoted(word.written)}, several words with one way to hear them"
            yield place.problem(found, "expected an entry for each word: phrases are heard so")
        for way, heard in enumerate(word.hear):
            for part in heard.split():
                if knows is None or knows(part):
                    continue
                place = places.of(("words", number, "hear", way))
                found = f"the word {quoted(part)}, which the speech model does not know"
                yield place.problem(found, "expected a spelling by words that it knows")


def _hint(token: Token, knows: Knows) -> str:
    ways = [*split_in_two(token.text, knows), *nearly(token.text, knows)][:_HINTS_AT_MOST]
    return f"; near it are {' and '.join(map(quoted, ways))}" if ways else ""


def _by_sound(token: Token, knows: Knows, table: PhoneTable) -> str:
    """Words for the lexicon's `hear`. They are proposals: whether they are heard, sound decides."""
    known = {word: phones for word, phones in table.words.items() if knows(word)}
    ways = respellings(table.of_word(token.text), known, _RESPELLINGS_AT_MOST)
    return f"; it sounds like {' or '.join(map(quoted, ways))}" if ways else ""


def split_in_two(word: str, knows: Knows) -> list[str]:
    """Two known words that spell the word, the most even split first."""
    cuts = range(_SHORTEST_PART, len(word) - _SHORTEST_PART + 1)
    parts = [(word[:cut], word[cut:]) for cut in cuts]
    known = [pair for pair in parts if knows(pair[0]) and knows(pair[1])]
    return [" ".join(pair) for pair in sorted(known, key=lambda pair: -min(map(len, pair)))]


def nearly(word: str, knows: Knows) -> list[str]:
    """Known words one letter, or one exchange of neighbours, away."""
    found: dict[str, None] = {}
    for at in range(len(word) + 1):
        before, after = word[:at], word[at:]
        candidates = [before + letter + after for letter in _LETTERS]
        if after:
            candidates.append(before + after[1:])
            candidates += [before + letter + after[1:] for letter in _LETTERS]
        if len(after) > 1:
            candidates.append(before + after[1] + after[0] + after[2:])
        found.update(dict.fromkeys(one for one in candidates if one != word and knows(one)))
    return list(found)
