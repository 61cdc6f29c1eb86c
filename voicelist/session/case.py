"""A case compiled from its documents: items, phrases, what plan and card expect.

Made once from the bundle that the journal's first event embeds; immutable after that.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import partial

from voicelist.clinical.settings import CardSetting
from voicelist.documents.bundle import Bundle
from voicelist.documents.card import Settings
from voicelist.documents.checklist import Item, Section
from voicelist.documents.marks import Place, YamlPath
from voicelist.documents.sentences import Sentences
from voicelist.errors import DocumentError, Problem
from voicelist.phrases.abnf import parse_expansion
from voicelist.phrases.grammar import Grammar
from voicelist.phrases.room import Room
from voicelist.phrases.ruleset import RuleSet
from voicelist.phrases.syntax import Node, Reference
from voicelist.phrases.syntax import Place as PhrasePlace

ANYTIME = (
    "say_again",
    "where_are_we",
    "what_is_open",
    "why_asked",
    "undo",
    "defer",
    "not_applicable",
    "hold_on",
    "carry_on",
    "silence",
    "abandon",
)
READ_BACK_ANSWERS = (
    "report_it",
    "do_not_report",
    "correct",
    "confirm_profile",
    "accept",
    "abandon_now",
    "go_on_with_case",
)
COMMANDS = ANYTIME + READ_BACK_ANSWERS
ANSWER_KINDS = ("done", "fault", "value")


@dataclass(frozen=True, slots=True)
class Case:
    """`first_section` is where the case starts; earlier sections are not due."""

    bundle: Bundle
    grammar: Grammar
    room: Room
    items: Mapping[str, Item]
    section_of: Mapping[str, Section]
    first_section: str = ""

    def sections(self) -> tuple[Section, ...]:
        """The sections that are due, in order."""
        every = self.bundle.checklist.sections
        start = next((i for i, one in enumerate(every) if one.id == self.first_section), 0)
        return every[start:]

    def section(self, section_id: str) -> Section:
        return next(one for one in self.bundle.checklist.sections if one.id == section_id)

    def text(self, key: str, **values: object) -> str:
        """A sentence of the catalogue, its first letter a capital."""
        return sentence(self.bundle.sentences, key, **values)

    def quantity_name(self, quantity: str) -> str:
        """How a quantity (with its unit in the name) is spoken: vacuum_mmHg is "vacuum"."""
        return quantity_name(self.bundle.sentences, quantity)

    def card_settings(self, phase: str) -> dict[str, CardSetting]:
        """What the card says for the plan's grade in a phase, by quantity."""
        grade = self.bundle.plan.grade
        return settings_by_quantity(self.bundle.card.settings_for(grade.scale, grade.value, phase))


def sentence(sentences: Sentences, key: str, **values: object) -> str:
    """A sentence of the catalogue, its first letter a capital."""
    text = sentences.text(key, **values)
    return text[:1].upper() + text[1:]


def quantity_name(sentences: Sentences, quantity: str) -> str:
    """How a quantity (with its unit in the name) is spoken: vacuum_mmHg is "vacuum"."""
    return sentences.text(f"quantity.{quantity.partition('_')[0]}")


def settings_by_quantity(settings: Settings | None) -> dict[str, CardSetting]:
    """A card's settings of one phase, by quantity."""
    return dict(_card_settings(settings)) if settings is not None else {}


def _card_settings(settings: Settings) -> Iterator[tuple[str, CardSetting]]:
    for name in ("power_percent", "vacuum_mmHg", "flow_cc_per_min", "bottle_cm", "infusion_mmHg"):
        one = getattr(settings, name)
        if one is not None:
            yield name, CardSetting(one.value, one.control, one.tolerance, one.minimum)
    modulation = getattr(settings, "modulation", None)
    for name in ("pulses_per_s", "duty_percent", "on_time_ms", "off_time_ms"):
        value = getattr(modulation, name, None)
        if value is not None:
            yield name, CardSetting(value, "", 0.0)


def compile_case(bundle: Bundle, first_section: str = "") -> Case:
    """The case of a bundle. Raises DocumentError with every problem of its phrases and plan."""
    rules = RuleSet.from_texts(bundle.rules.items())
    problems: list[Problem] = []
    roots: dict[str, Node] = {}
    items: dict[str, Item] = {}
    section_of: dict[str, Section] = {}
    place_of = partial(bundle.place_of, "checklist")
    for s, section in enumerate(bundle.checklist.sections):
        for i, item in enumerate(section.items):
            items[item.id] = item
            section_of[item.id] = section
            phrases = item_phrases(item, ("sections", s, "items", i), place_of, problems)
            roots.update((name, node) for name, _, node in phrases)
    for name in COMMANDS:
        if rules.find(name, None) is None:
            problems.append(Problem("rules", 1, 1, f"no public rule ${name}", "expected one"))
        roots[f"command.{name}"] = Reference(name, PhrasePlace("rules", 1, 1))
    problems.extend(_plan_problems(bundle))
    if problems:
        raise DocumentError(tuple(problems))
    grammar = Grammar(roots, rules, bundle.lexicon.respellings())
    return Case(bundle, grammar, Room.from_rules(rules), items, section_of, first_section)


def item_phrases(
    item: Item, path: YamlPath, place_of: Callable[[YamlPath], Place], problems: list[Problem]
) -> Iterator[tuple[str, Place, Node]]:
    """The answers of an item that compile: the root's name, where it is written, the phrase.

    `path` is the item's in its checklist; the problems of the others are added to `problems`.
    """
    for kind in ANSWER_KINDS:
        phrase = getattr(item, kind)
        if phrase is None:
            continue
        place = place_of((*path, kind))
        try:
            node = parse_expansion(phrase, place.file, place.line, place.column)
        except DocumentError as error:
            problems.extend(error.problems)
        else:
            yield f"{item.id}.{kind}", place, node


def _plan_problems(bundle: Bundle) -> Iterator[Problem]:
    """A profile can only be checked if the card has settings for the declared grade."""
    grade = bundle.plan.grade
    for _, item in bundle.checklist.all_items():
        if item.compare == "profile" and not bundle.card.settings_for(
            grade.scale, grade.value, str(item.phase)
        ):
            place = bundle.place_of("plan", ("grade",))
            found = f"{grade.scale} grade {grade.value:g}"
            expected = f"expected a grade for which card {bundle.card.id} has {item.phase} settings"
            yield Problem(place.file, place.line, place.column, found, expected)
