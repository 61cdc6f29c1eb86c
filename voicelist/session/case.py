"""A case compiled from its documents: items, phrases, what plan and card expect.

Made once from the bundle that the journal's first event embeds; immutable after that.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

from voicelist.clinical.profile import SpokenGrade
from voicelist.clinical.settings import CardSetting
from voicelist.documents.card import Settings
from voicelist.documents.checklist import Item, Section
from voicelist.documents.embedded import Bundle
from voicelist.documents.marks import Place, YamlPath
from voicelist.documents.sentences import Sentences
from voicelist.errors import DocumentError, Problem
from voicelist.grammar.abnf import parse_expansion
from voicelist.grammar.grammar import Grammar, grammar_of
from voicelist.grammar.ruleset import RuleSet
from voicelist.grammar.syntax import Node, PhrasePlace, Reference, Sequence, Token
from voicelist.session.flow_phrases import flow_phrases, name_words
from voicelist.session.natural import Natural
from voicelist.session.planned import PLANNED, Band, words_planned
from voicelist.session.presence import away, can_be_answered
from voicelist.understanding.room_words import Room

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
# What came after version 0.1.0: the documents of an older record do without.
LATER_ANYTIME = (
    "hand_over",
    "change_of_plan",
    "change_plan",
    "equipment_changed",
    "slower",
    "faster",
    "louder",
    "softer",
    "cancel",
    "leave_list",
    "role_away",
    "role_here",
    "what_may_be_said",
)
LATER_READ_BACK_ANSWERS = ("agree_to_change", "keep_plan", "begin_now", "not_yet")
LATER_COMMANDS = LATER_ANYTIME + LATER_READ_BACK_ANSWERS
# Commands that pass, accept and end nothing; nor does a correction.
_HARMLESS = (
    *("say_again", "where_are_we", "what_is_open", "why_asked", "undo", "defer"),
    *("hold_on", "carry_on", "silence", "slower", "faster", "louder", "softer"),
    *("hand_over", "change_of_plan", "equipment_changed", "what_may_be_said"),
)
PLAN_SOURCE = "plan_source"
# "correction for" and an item's name: `correct:` and its id.
CORRECT = "correct:"
CORRECTION = "correction"
ANSWER_KINDS = (
    "done",
    "fault",
    "value",
    "stated",
    "choice",
    "details",
    "does_not_apply",
    "by_name",
)

_IN_RULES = PhrasePlace("rules", 1, 1)


@dataclass(frozen=True, slots=True)
class Case:
    """`first_section` is where the case starts; earlier sections are not due."""

    bundle: Bundle
    grammar: Grammar
    room: Room
    items: Mapping[str, Item]
    section_of: Mapping[str, Section]
    natural: Natural
    first_section: str = ""

    def sections(self) -> tuple[Section, ...]:
        """The sections that are due, in order; short lists, which are due only when they are
        started, are not among them. A case that starts with one goes on where sections wait."""
        every = tuple(one for one in self.bundle.checklist.sections if not one.goes_back)
        if self.first_section and self.section(self.first_section).goes_back:
            start = next((i for i, one in enumerate(every) if one.waits), len(every))
        else:
            start = next((i for i, one in enumerate(every) if one.id == self.first_section), 0)
        return every[start:]

    @property
    def asks_for_number(self) -> bool:
        """Whether the case number is an answer, which no display may give before it."""
        return any(item.compare == "case-number" for item in self.items.values())

    def section(self, section_id: str) -> Section:
        return next(one for one in self.bundle.checklist.sections if one.id == section_id)

    def text(self, key: str, /, **values: object) -> str:
        """A sentence of the catalogue, its first letter a capital."""
        return sentence(self.bundle.sentences, key, **values)

    def quantity_name(self, quantity: str) -> str:
        """How a quantity (with its unit in the name) is spoken: vacuum_mmHg is "vacuum"."""
        return quantity_name(self.bundle.sentences, quantity)

    def call_text(self, item: Item) -> str:
        """The words that ask for an item: longer ones for a team's first cases."""
        if not self.bundle.plan.new_team:
            return item.call
        return item.longer_call or f"{item.call} {item.why}"

    def with_plan(self, changes: Mapping[str, Any]) -> Case:
        """The case under a plan in which these fields were changed."""
        if not changes:
            return self
        plan = self.bundle.plan.with_changes(changes)
        return replace(self, bundle=replace(self.bundle, plan=plan))

    def card_bands(self) -> tuple[Band, ...]:
        """The bands of grades that the card has settings for."""
        return tuple(
            (str(one.scale), one.from_value, one.to_value, tuple(map(str, one.phases)))
            for one in self.bundle.card.grades
        )

    def card_settings(self, phase: str, grade: SpokenGrade | None = None) -> dict[str, CardSetting]:
        """What the card says for a grade, or else the plan's, in a phase, by quantity."""
        planned = self.bundle.plan.grade
        grade = grade or SpokenGrade(planned.scale, planned.value)
        return settings_by_quantity(self.bundle.card.settings_for(grade.scale, grade.value, phase))


def is_harmless(root: str) -> bool:
    """Whether what is said under this root can pass, accept or end nothing."""
    kind, _, name = root.partition(".")
    return kind == "command" and (name in _HARMLESS or name.startswith(CORRECT))


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
            path: YamlPath = ("sections", s, "items", i)
            phrases = item_phrases(item, path, place_of, problems)
            roots.update((name, node) for name, _, node in phrases)
            roots.update(correction_phrase(item, place_of((*path, "name")), rules))
    for name in COMMANDS:
        if rules.find(name, None) is None:
            problems.append(Problem("rules", 1, 1, f"no public rule ${name}", "expected one"))
        roots[f"command.{name}"] = Reference(name, _IN_RULES)
    for name in LATER_COMMANDS:
        if rules.find(name, None) is not None:
            roots[f"command.{name}"] = Reference(name, _IN_RULES)
    flow = flow_phrases(bundle.checklist, place_of, rules, problems)
    roots.update((name, node) for name, _, node in flow)
    problems.extend(_plan_problems(bundle))
    if problems:
        raise DocumentError(tuple(problems))
    grammar = grammar_of(roots, rules, bundle.lexicon.respellings())
    natural = Natural(items, rules, bundle.lexicon.respellings())
    return Case(bundle, grammar, Room.from_rules(rules), items, section_of, natural, first_section)


def correction_phrase(item: Item, place: Place, rules: RuleSet) -> dict[str, Node]:
    """How an answer is corrected later, by the item's short name; nothing where the rules do not
    say how a correction begins."""
    if rules.find(CORRECTION, None) is None:
        return {}
    at = PhrasePlace(place.file, place.line, place.column)
    words = (Token(word, at) for word in name_words(item.name))
    return {f"command.{CORRECT}{item.id}": Sequence((Reference(CORRECTION, at), *words))}


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
        place = place_of((*path, kind.replace("_", " ")))
        if item.says_itself and kind in ("done", "fault"):  # made of the thing, in brackets
            place = place_of((*path, "thing"))
            place = replace(place, column=place.column - 1)
        try:
            node = parse_expansion(phrase, place.file, place.line, place.column)
        except DocumentError as error:
            problems.extend(error.problems)
        else:
            yield f"{item.id}.{kind}", place, node


def _plan_problems(bundle: Bundle) -> Iterator[Problem]:
    """What the checklist compares has to be in the plan, and a profile on its card."""
    plan = bundle.plan
    whole = bundle.place_of("plan", ())
    needs: dict[str, str] = {}
    for _, item in bundle.checklist.all_items():
        if item.compare == "eye" and not plan.side:
            needs.setdefault("eye", f"{item.id} compares it: left or right")
        elif item.compare in ("grade", "profile") and plan.planned_grade is None:
            needs.setdefault("grade", f"{item.id} compares it: scale and value")
        elif item.compare == "profile":
            yield from _no_settings(bundle, item)
        elif item.compare in ("lens-power", "lens-model", "axis") and plan.planned_lens is None:
            needs.setdefault("lens", f"{item.id} compares it: model and power_D")
        elif item.compare == "case-number" and plan.number is None:
            told = "nothing binds the plan to the patient: digits that end the case, or this key"
            needs.setdefault("case number", f"{item.id} compares it, and without it {told}")
        elif item.compare == "planned" and item.when != PLANNED and not _words(bundle, item):
            needs.setdefault(f"also: {item.planned}", f"{item.id} compares it: its words")
        if item.stop or item.each_role or item.asks_for_value:
            yield from _nobody_to_answer(bundle, item)
    for key, expected in needs.items():
        yield whole.problem(f"a plan without {key}", f"expected {key}, for {expected}")


def _words(bundle: Bundle, item: Item) -> str | None:
    return words_planned(str(item.planned), bundle.plan.also, bundle.card.also)


def _nobody_to_answer(bundle: Bundle, item: Item) -> Iterator[Problem]:
    absent = away(item.answered_by, bundle.plan.present, {})
    if not can_be_answered(item.answered_by, absent, each_role=item.each_role):
        place = bundle.place_of("plan", ("present",))
        found = f"present without {', '.join(absent)}, and {item.id} is answered by nobody else"
        yield place.problem(found, "expected those who answer it, or others in its answered by")


def _no_settings(bundle: Bundle, item: Item) -> Iterator[Problem]:
    grade = bundle.plan.grade
    holds = any(one.holds(grade.scale, grade.value) for one in bundle.card.grades)
    if item.when == PLANNED and holds:
        return
    if not bundle.card.settings_for(grade.scale, grade.value, str(item.phase)):
        place = bundle.place_of("plan", ("grade",))
        found = f"{grade.scale} grade {grade.value:g}"
        expected = f"expected a grade for which card {bundle.card.id} has {item.phase} settings"
        yield Problem(place.file, place.line, place.column, found, expected)
