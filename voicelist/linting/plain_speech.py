"""Plain speech: what an item says of itself compiles, and its own call is no answer."""

from __future__ import annotations

from collections.abc import Iterator

from voicelist.documents.marks import Place
from voicelist.errors import DocumentError, Problem
from voicelist.grammar.abnf import parse_expansion
from voicelist.grammar.ruleset import RuleSet
from voicelist.grammar.syntax import Choice, Node, Reference, Repeat, RuleFile, Sequence
from voicelist.linting.material import Compiled
from voicelist.session.natural import Natural
from voicelist.understanding.plain_speech import BOUND, Amounts, is_read_along

_KEYS = ("thing", "good", "bad", "deed", "short_value")
_ANSWERS = (Amounts.FULL, Amounts.SHORT, Amounts.LOOSE)


def lint_frames(compiled: Compiled) -> Iterator[Problem]:
    """Phrases that do not compile or refer to nothing; frames that refer to nothing; calls that
    would answer themselves."""
    rules, material = compiled.rules, compiled.material
    for file in rules.files:
        if is_read_along(file.file):
            yield from frame_problems(rules, file)
    sound = True
    for path, item in material.items():
        for key in _KEYS:
            phrase = getattr(item, key)
            if phrase is None:
                continue
            place = material.places["checklist"].of((*path, key.replace("_", " ")))
            problems = tuple(_of_phrase(phrase, place, rules))
            sound = sound and not problems
            yield from problems
    if sound:
        yield from _calls_that_answer(compiled)


def frame_problems(rules: RuleSet, file: RuleFile) -> Iterator[Problem]:
    """Frames that refer to nothing."""
    for rule in file.rules:
        yield from _unknown_rules(rule.body, rules, file.file)


def _of_phrase(phrase: str, place: Place, rules: RuleSet) -> Iterator[Problem]:
    try:
        node = parse_expansion(phrase, place.file, place.line, place.column)
    except DocumentError as error:
        yield from error.problems
        return
    yield from _unknown_rules(node, rules, None)


def _unknown_rules(node: Node, rules: RuleSet, scope: str | None) -> Iterator[Problem]:
    match node:
        case Reference(name, at):
            if name not in BOUND and rules.find(name, scope) is None:
                place = Place(at.file, at.line, at.column)
                known = ", ".join(f"${one}" for one in sorted(BOUND))
                yield place.problem(f"${name}", f"expected a rule, or one of {known}")
        case Sequence(parts) | Choice(parts, _):
            for part in parts:
                yield from _unknown_rules(part, rules, scope)
        case Repeat(part, _, _):
            yield from _unknown_rules(part, rules, scope)


def _calls_that_answer(compiled: Compiled) -> Iterator[Problem]:
    material = compiled.material
    items = {item.id: item for _, item in material.items()}
    natural = Natural(items, compiled.rules, material.lexicon.respellings())
    for path, item in material.items():
        about = natural.about(item.id)
        if about is None:
            continue
        for words in material.spoken_words(item.call):
            if natural.answers.read(words, about) in _ANSWERS:
                place = material.places["checklist"].of((*path, "call"))
                expected = "expected a call that offers a choice, so that it is no answer"
                yield place.problem("a call that answers itself in plain speech", expected)
