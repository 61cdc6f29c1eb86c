"""Documents use one spelling of a word whose other spellings are understood: the lexicon's."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping

from voicelist.documents.lexicon import Lexicon
from voicelist.documents.marks import Place, Places
from voicelist.documents.sentences import Sentences
from voicelist.documents.wording import quoted
from voicelist.errors import Problem
from voicelist.grammar.ruleset import RuleSet
from voicelist.linting.material import Compiled, Material
from voicelist.linting.vocabulary import tokens
from voicelist.understanding.plain_speech import is_read_along

_WORD = re.compile(r"[a-z][a-z']*")
_ITEM_TEXTS = ("name", "call", "longer call", "again", "read from", "why")
_PHRASES = ("done", "fault", "value", "stated", "choice", "details", "does not apply")


def lint_spelling(compiled: Compiled) -> Iterator[Problem]:
    """Other spellings in the checklist, in its phrases and in the rules."""
    listed = listed_spellings(compiled.material.lexicon)
    if listed:
        for place, text in _texts(compiled.material):
            yield from _other_spellings(place, text, listed)
        yield from _in_rules(compiled.rules, listed)


def lint_spelling_of_sentences(
    sentences: Sentences, places: Places, lexicon: Lexicon
) -> Iterator[Problem]:
    """Other spellings in the catalogue of what is said and shown."""
    listed = listed_spellings(lexicon)
    for key, text in sentences.sentences.items():
        yield from _other_spellings(places.of(("sentences", key)), text, listed)


def listed_spellings(lexicon: Lexicon) -> dict[str, str]:
    """Each other spelling with the one that the lexicon lists it under."""
    return {other: word.written.lower() for word in lexicon.words for other in word.also}


def _other_spellings(place: Place, text: str, listed: Mapping[str, str]) -> Iterator[Problem]:
    for word in dict.fromkeys(_WORD.findall(text.lower())):
        if word in listed:
            yield place.problem(*_told(word, listed))


def _in_rules(rules: RuleSet, listed: Mapping[str, str]) -> Iterator[Problem]:
    for file in rules.files:
        for rule in file.rules if not is_read_along(file.file) else ():
            for token in tokens(rule.body):
                if token.text in listed:
                    place = Place(token.place.file, token.place.line, token.place.column)
                    yield place.problem(*_told(token.text, listed))


def _told(word: str, listed: Mapping[str, str]) -> tuple[str, str]:
    found = f"the spelling {quoted(word)}"
    return found, f"expected {quoted(listed[word])}, as the lexicon has it: documents use one"


def _texts(material: Material) -> Iterator[tuple[Place, str]]:
    places, checklist = material.places["checklist"], material.checklist
    yield places.of(("title",)), checklist.title
    for s, section in enumerate(checklist.sections):
        yield places.of(("sections", s, "name")), section.name
        yield places.of(("sections", s, "start")), section.start or ""
    for m, milestone in enumerate(checklist.milestones):
        yield places.of(("milestones", m, "said")), milestone.said
    for path, item in material.items():
        for key in (*_ITEM_TEXTS, *_PHRASES):
            text = getattr(item, key.replace(" ", "_"))
            if text is not None:
                yield places.of((*path, key)), text
