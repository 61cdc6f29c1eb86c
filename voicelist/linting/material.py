"""The documents that are linted together, and the phrases of them that compile."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from itertools import chain
from pathlib import Path

from voicelist.documents.checklist import Checklist, Item
from voicelist.documents.embedded import Bundle
from voicelist.documents.finding import Shelves
from voicelist.documents.joining import joined_for
from voicelist.documents.lexicon import Lexicon
from voicelist.documents.loading import read_file_as
from voicelist.documents.marks import Place, Places, YamlPath
from voicelist.documents.sentences import Sentences
from voicelist.errors import DocumentError, Problem
from voicelist.grammar.budget import BUDGET, Meter, TooLarge
from voicelist.grammar.grammar import Grammar
from voicelist.grammar.match import Match
from voicelist.grammar.ruleset import RuleSet
from voicelist.grammar.syntax import Node, Reference, Sequence, Token
from voicelist.listening.typed import typed_words
from voicelist.session.case import (
    COMMANDS,
    CORRECTION,
    LATER_COMMANDS,
    PLAN_SOURCE,
    correction_phrase,
    item_phrases,
)
from voicelist.session.flow_phrases import CLOCK_TIME, FRAMES, MINUTES_AGO, flow_phrases
from voicelist.session.profile import settings_said
from voicelist.session.statements import SPEAKER
from voicelist.session.wording import spoken

# Rules that the session reads the room's words from (`phrases.understanding.Room`).
TEAM_RULES = (CORRECTION, SPEAKER, PLAN_SOURCE, *FRAMES, CLOCK_TIME, MINUTES_AGO)
ROOM_RULES = ("negations", "questions", "doubts", "function_words", "talk")


@dataclass(frozen=True, slots=True)
class Material:
    """A checklist and what it is spoken and heard with. `places` are by kind of document,
    `rule_files` the paths of the rules by name; not `whole`, entries with something wrong in them
    are left out."""

    checklist: Checklist
    rules: Mapping[str, str]
    lexicon: Lexicon
    sentences: Sentences
    places: Mapping[str, Places]
    rule_files: Mapping[str, str]
    notes: tuple[Problem, ...] = ()
    whole: bool = True

    @classmethod
    def of_bundle(cls, bundle: Bundle) -> Material:
        places = {
            kind: bundle.places.get(kind) or Places(f"the embedded {kind}")
            for kind in ("checklist", "lexicon", "sentences")
        }
        files = {name: bundle.place_of("rules", (name,)).file for name in bundle.rules}
        return cls(
            bundle.checklist,
            bundle.rules,
            bundle.lexicon,
            bundle.sentences,
            places,
            files,
            bundle.notes,
        )

    @classmethod
    def beside(cls, path: Path) -> tuple[Material | None, list[Problem]]:
        """A checklist's file, or what is left of it, with what lies beside it or ships; and what is
        wrong in them."""
        read = read_file_as(Checklist, path)
        problems = list(read.problems)
        checklist = read.loaded
        if checklist is None:
            return None, problems
        joined = joined_for(Shelves.beside(path), checklist, checklist, problems)
        if joined is None:
            return None, problems
        places = {
            "checklist": checklist.places,
            "lexicon": joined.lexicon.places,
            "sentences": joined.sentences.places,
        }
        lexicon, sentences = joined.lexicon.document, joined.sentences.document
        document, rules, files = checklist.document, joined.rules, joined.rule_files
        material = cls(document, rules, lexicon, sentences, places, files, joined.notes)
        return replace(material, whole=read.whole), problems

    def items(self) -> Iterator[tuple[YamlPath, Item]]:
        """Every item with its path in the checklist."""
        for s, section in enumerate(self.checklist.sections):
            for i, item in enumerate(section.items):
                yield ("sections", s, "items", i), item

    def files(self) -> tuple[str, ...]:
        """The paths of all its documents."""
        return (*(places.file for places in self.places.values()), *self.rule_files.values())

    def spoken_words(self, text: str) -> tuple[tuple[str, ...], ...]:
        """The words of a text as the voice says them, numbers digit by digit: as they are written
        and with what the lexicon puts in their place."""
        language = self.sentences.language.partition("-")[0]
        without_words = self.lexicon.model_copy(update={"words": ()})
        ways = (spoken(self.sentences, one, text) for one in (without_words, self.lexicon))
        return tuple(dict.fromkeys(typed_words(way, language) for way in ways))


@dataclass(frozen=True, slots=True)
class PermittedAnswer:
    """A phrase of an item, or a command (`item` None); `place` is where it is written."""

    name: str
    place: Place
    node: Node
    item: Item | None = None
    in_any_order: bool = False


@dataclass(frozen=True, slots=True)
class Compiled:
    """The phrases that compile: all in one grammar, and each by itself. `readings` are those of
    sentences that together hold every word pair of a phrase that asks for a value."""

    material: Material
    rules: RuleSet
    answers: tuple[PermittedAnswer, ...]
    grammar: Grammar
    parts: Mapping[str, Grammar]
    readings: Mapping[str, tuple[Match, ...]]
    _sayable: dict[str, frozenset[str]] = field(default_factory=dict, init=False, compare=False)

    def readings_of(self, item: Item) -> tuple[Match, ...]:
        """Those of an item's value; of items told apart by name the first stands for all."""
        items = (other for _, other in self.material.items() if other.value == item.value)
        names = (f"{one.id}.value" for one in (item, *items))
        return next((self.readings[name] for name in names if name in self.readings), ())

    def settings_sayable(self, item: Item) -> frozenset[str]:
        """The quantities that the phrase of an item has words for: the same in all plans."""
        if item.id not in self._sayable:
            said = (settings_said(match) for match in self.readings_of(item))
            self._sayable[item.id] = frozenset(chain.from_iterable(said))
        return self._sayable[item.id]

    def meter(self, what: str) -> Meter:
        """For a search through all of them; what is largest is to be made smaller."""
        return Meter(BUDGET.lint_steps, what, self.grammar.place)


def compile_material(material: Material) -> tuple[Compiled | None, list[Problem]]:
    """What compiles, and the problems of the rest; nothing compiles while a rules file is
    broken."""
    problems: list[Problem] = []
    answers = list(_item_answers(material, problems))
    try:
        rules = RuleSet.from_texts(
            (material.rule_files[name], text) for name, text in material.rules.items()
        )
    except DocumentError as error:
        return None, [*problems, *error.problems]
    problems += _missing_rules(material, rules)
    answers += _commands(rules)
    answers += _corrections(material, rules)
    places = material.places["checklist"].of
    for name, place, node in flow_phrases(material.checklist, places, rules, problems):
        answers.append(PermittedAnswer(name, place, node))
    respellings = material.lexicon.respellings()
    parts: dict[str, Grammar] = {}
    budget = BUDGET
    for answer in answers:
        try:
            part = Grammar({answer.name: answer.node}, rules, respellings, budget=budget)
        except TooLarge as error:
            return None, [*problems, *error.problems]
        except DocumentError as error:
            if answer.item is None or not answer.item.says_itself:  # told where it is written
                problems += error.problems
        else:
            parts[answer.name] = part
            budget = replace(budget, states=budget.states - part.spent, roots=budget.roots - 1)
    good = tuple(answer for answer in answers if answer.name in parts)
    grammar = Grammar({one.name: one.node for one in good}, rules, respellings, parts=parts)
    readings = {
        one.name: _readings(parts[one.name])
        for one in good
        if one.item is not None and _has_readings(one.item, one.name)
    }
    return Compiled(material, rules, good, grammar, parts, readings), problems


def _has_readings(item: Item, name: str) -> bool:
    """Whether more than that it was said is taken from the answer."""
    kind = name.rpartition(".")[2]
    return (
        (item.compare is not None and kind != "by_name")
        or kind in ("choice", "details", "does_not_apply")
        or (kind == "done" and item.each_role)
    )


def _readings(part: Grammar) -> tuple[Match, ...]:
    sentences = (sentence.split() for sentence in part.phrase_list())
    return tuple(match for words in sentences for match in part.parses(words))


def _item_answers(material: Material, problems: list[Problem]) -> Iterator[PermittedAnswer]:
    """The answers that are compared with one another. Of items that are told apart by name, what
    follows the name is the same and is looked at once."""
    seen: set[str] = set()
    for path, item in material.items():
        section = material.checklist.sections[int(path[1])]
        in_any_order = section.order == "any" and not item.stop
        # Thing and states are looked at by themselves, where they are written.
        told = [] if item.says_itself else problems
        for name, place, node in item_phrases(item, path, material.places["checklist"].of, told):
            kind = name.rpartition(".")[2]
            if item.by_name is not None and kind == "value":
                if str(item.value) in seen:
                    continue
                seen.add(str(item.value))
            said = _name_alone(node) if kind == "by_name" else node
            yield PermittedAnswer(name, place, said, item, in_any_order)


def _name_alone(node: Node) -> Node:
    """A phrase that names an item, with one word for the rule that follows the name."""
    last = node.parts[-1] if isinstance(node, Sequence) else node
    if not isinstance(node, Sequence) or not isinstance(last, Reference):
        return node
    return Sequence((*node.parts[:-1], Token(last.name, last.place)))


def _missing_rules(material: Material, rules: RuleSet) -> Iterator[Problem]:
    """Rules that the session knows by name."""
    place = material.places["checklist"].of(())
    for name in (*COMMANDS, *LATER_COMMANDS, *TEAM_RULES, *ROOM_RULES):
        if rules.find(name, None) is None:
            expected = f"expected public ${name} in one of its .abnf files"
            yield place.problem(f"no public rule ${name} beside this checklist", expected)


def _corrections(material: Material, rules: RuleSet) -> Iterator[PermittedAnswer]:
    """An answer is corrected later by its item's name, which has to be sayable for that."""
    for path, item in material.items():
        place = material.places["checklist"].of((*path, "name"))
        for name, node in correction_phrase(item, place, rules).items():
            yield PermittedAnswer(name, place, node)


def _commands(rules: RuleSet) -> Iterator[PermittedAnswer]:
    for name in (*COMMANDS, *LATER_COMMANDS):
        rule = rules.find(name, None)
        if rule is not None:
            at = rule.place
            place = Place(at.file, at.line, at.column)
            yield PermittedAnswer(f"command.{name}", place, Reference(name, at))
