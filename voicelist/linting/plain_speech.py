"""Plain speech: what an item says of itself compiles, its states do not contradict each other, and
nothing that the assistant says of it is an answer."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from voicelist.documents.checklist import Item
from voicelist.documents.marks import Place
from voicelist.documents.wording import quoted
from voicelist.errors import DocumentError, Problem
from voicelist.grammar.abnf import parse_expansion
from voicelist.grammar.ruleset import RuleSet
from voicelist.grammar.syntax import Choice, Node, PhrasePlace, Reference, Repeat, RuleFile
from voicelist.grammar.syntax import Sequence as Row
from voicelist.linting.material import Compiled, Material
from voicelist.linting.plain_states import lint_plain_states, word_sets
from voicelist.session.asking_again import by_example, shorter
from voicelist.session.case import sentence
from voicelist.session.catalogue import REQUIRED
from voicelist.session.natural import Natural
from voicelist.understanding.plain_speech import BOUND, Amounts, is_read_along

_KEYS = ("thing", "good", "bad", "deed", "short_value")
_ANSWERS = (Amounts.FULL, Amounts.SHORT, Amounts.LOOSE, Amounts.FAULT)
# Sentences that name an item, with what else is in them.
_NAMING: Mapping[str, Mapping[str, object]] = {
    "prompt-open": {},
    "prompt-waiting": {},
    "comes-later": {},
    "taken-back": {},
    "report-thing": {},
    "here-we-are": {"section": "the list", "count": 3},
}
# Sentences that list names; one name stands for all.
_LISTING = ("still-open", "plan-changed-open", "hand-over-open", "hand-over-deferred")


def lint_frames(compiled: Compiled) -> Iterator[Problem]:
    """Phrases that do not compile or refer to nothing; frames that refer to nothing; states that
    contradict each other; what would answer itself."""
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
        yield from _across_frames(compiled)


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
        case Row(parts) | Choice(parts, _):
            for part in parts:
                yield from _unknown_rules(part, rules, scope)
        case Repeat(part, _, _):
            yield from _unknown_rules(part, rules, scope)


def _across_frames(compiled: Compiled) -> Iterator[Problem]:
    material = compiled.material
    items = {item.id: item for _, item in material.items()}
    natural = Natural(items, compiled.rules, material.lexicon.respellings())
    yield from lint_plain_states(compiled, natural)
    if not material.sentences.problems_with(REQUIRED):  # else its sentences cannot be filled
        yield from _texts_that_answer(compiled, natural)


def _texts_that_answer(compiled: Compiled, natural: Natural) -> Iterator[Problem]:
    """What the assistant says of an item, heard while that item is asked, is no answer to it; nor
    is it an answer to another item of the section, which it would have to name."""
    material = compiled.material
    for section_number, section in enumerate(material.checklist.sections):
        heard = {one.id: _Heard.of(compiled, natural, one) for one in section.items}
        for item_number, item in enumerate(section.items):
            path = ("sections", section_number, "items", item_number)
            for key, text in spoken_of(material, item):
                ways = material.spoken_words(text)
                found = next((id for id, one in heard.items() if one.answered(ways, item)), "")
                if found:
                    place = material.places["checklist"].of((*path, key) if key else path)
                    expected = "expected words that are no answer: the assistant would hear itself"
                    told = f"{quoted(text)}, which answers {found} in plain speech"
                    yield place.problem(told, expected)


@dataclass(frozen=True, slots=True)
class _Heard:
    """An item that may be answered, with the words that an answer has to have some of."""

    item: Item
    natural: Natural
    thing: frozenset[frozenset[str]]
    states: frozenset[frozenset[str]]

    @classmethod
    def of(cls, compiled: Compiled, natural: Natural, item: Item) -> _Heard:
        about, rules = natural.about(item.id), compiled.rules
        if about is None:
            return cls(item, natural, frozenset(), frozenset())
        well = Reference("all_well", PhrasePlace("", 1, 1))
        states = word_sets((about.good, about.bad, about.deed, well), rules)
        return cls(item, natural, word_sets((about.thing,), rules), states)

    def answered(self, ways: Sequence[tuple[str, ...]], of: Item) -> bool:
        """Whether a text about an item answers this one. Most are told from their words alone."""
        about, own = self.natural.about(self.item.id), of.id == self.item.id
        if about is None:
            return False
        told = [words for words in ways if _holds(self.states, words)]
        answers = self.natural.answers
        if own:
            return any(answers.read(words, about) in _ANSWERS for words in told)
        named = (words for words in told if _holds(self.thing, words))
        return any(answers.is_in_full(words, about) for words in named)


def _holds(sets: frozenset[frozenset[str]], words: tuple[str, ...]) -> bool:
    """Whether all words of one set are among the words."""
    said = frozenset(words)
    return any(one <= said for one in sets)


def spoken_of(material: Material, item: Item) -> Iterator[tuple[str, str]]:
    """All that is spoken of an item by its name or its call, with the key where that is written."""
    catalogue = material.sentences
    yield "call", item.call
    yield "why", item.why
    if item.longer_call is not None:
        yield "longer call", item.longer_call
    if item.again is not None:
        yield "again", item.again
    yield "", shorter(catalogue, item)
    yield "", by_example(catalogue, item)
    for key, values in _NAMING.items():
        if key in catalogue.sentences:
            yield "name", sentence(catalogue, key, name=item.name, **values)
    for key in _LISTING:
        if key in catalogue.sentences:
            yield "name", sentence(catalogue, key, names=item.name)
