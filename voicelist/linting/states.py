"""What must hold of the words for states: one is never nearly its opposite, and means the same in
a whole list; a stop item does not apply for a reason alone."""

from __future__ import annotations

import re
from collections.abc import Iterator

from voicelist.documents.wording import quoted
from voicelist.errors import Problem
from voicelist.linting.material import Compiled
from voicelist.session.offers import KINDS, Telling, own_words, telling_words

# "complete" and "incomplete", "clear" and "unclear": half a syllable apart.
_DENIED = re.compile(r"(?:in|im|un|non-?|dis)(?P<rest>[a-z]{3,})")
_DENIALS = ("not", "no", "isn't", "aren't")
# They say nothing of a state by themselves.
_SMALL = frozenset(("and", "or", "the", "a", "no", "not", "is", "are", "still", "of", "to", "on"))


def lint_states(compiled: Compiled) -> Iterator[Problem]:
    """All three."""
    material = compiled.material
    places = material.places["checklist"]
    good: dict[str, str] = {}
    bad: dict[str, str] = {}
    for path, item in material.items():
        place = places.of(path)
        if item.stop and item.not_applicable:
            found = f"the stop item {item.id} may be said not to apply without a reason"
            yield place.problem(found, 'expected "does not apply": a phrase with reasons as tags')
        telling = _telling(compiled, item.id)
        if item.stop:
            for one, other in _opposites(telling):
                found = f"{quoted(one)} and {quoted(other)} for opposite states of a stop item"
                yield place.problem(found, "expected words that differ by more than a denial")
        for words, kind in ((good, "done"), (bad, "fault")):
            for word in _own_words(telling, kind):
                words.setdefault(word, item.id)
    for word in sorted(good.keys() & bad.keys()):
        found = f"{quoted(word)} is good for {good[word]} and not for {bad[word]}"
        yield places.of(()).problem(found, "expected one meaning of a word in a whole list")


def _telling(compiled: Compiled, item_id: str) -> Telling:
    names = {kind: f"{item_id}.{kind}" for kind in KINDS}
    parts = compiled.parts
    return telling_words(
        {kind: parts[name].examples(name) for kind, name in names.items() if name in parts}
    )


def _own_words(telling: Telling, kind: str) -> set[str]:
    """The words of one kind's states that no other kind of the item has."""
    if not all(telling.get(one) for one in KINDS):
        return set()
    said = [own_words(telling, kind, words) for words, _ in telling[kind]]
    return {word for words in said for word in words} - _SMALL


def _opposites(telling: Telling) -> Iterator[tuple[str, str]]:
    """A word and the same one denied, in one answer and in its opposite."""
    done = {word for words, _ in telling.get("done", ()) for word in words}
    fault = {word for words, _ in telling.get("fault", ()) for word in words}
    for these, those in ((done, fault), (fault, done)):
        for word in sorted(these):
            match = _DENIED.fullmatch(word)
            if match and match["rest"] in those:
                yield match["rest"], word
    for words, _ in telling.get("fault", ()):
        for denial in set(_DENIALS).intersection(words):
            after = words[words.index(denial) + 1 :]
            if after and after[0] in done:
                yield after[0], f"{denial} {after[0]}"
