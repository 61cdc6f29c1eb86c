"""What must hold of a plan and its card beside the checklist."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

from voicelist.clinical.profile import Finding, Incision, Profile, Situation
from voicelist.clinical.rules import findings
from voicelist.documents.card import Card
from voicelist.documents.case_codes import looks_identifying
from voicelist.documents.checklist import Item
from voicelist.documents.embedded import Bundle
from voicelist.documents.marks import Places, YamlPath
from voicelist.documents.plan import HIGHEST_NUMBER
from voicelist.documents.wording import number, quoted
from voicelist.errors import DocumentError, Problem
from voicelist.grammar.grammar import Grammar
from voicelist.grammar.syntax import PhrasePlace, Reference
from voicelist.linting.material import Compiled
from voicelist.linting.spoken import shown_before_the_answer
from voicelist.listening.typed import typed_words
from voicelist.session.case import compile_case
from voicelist.session.checked import card_profile, words_of_card

_LONGEST_NUMBER = 8  # words
_MODULATION = ("pulses_per_s", "duty_percent", "on_time_ms", "off_time_ms")
_IN_WORDS: Mapping[str, YamlPath] = {
    "modulation": ("modulation", "kind"),
    "trigger": ("modulation", "on_occlusion"),
    "pump": ("pump",),
}


def lint_plan(bundle: Bundle, compiled: Compiled) -> Iterator[Problem]:
    """Values that nobody could say, and texts that give an expected value away."""
    numbers = _reader(compiled, "decimal")
    yield from _code_that_identifies(bundle)
    yield from _incisions(bundle)
    yield from _axis_nobody_asks_for(bundle)
    yield from _planned_and_not_asked(bundle)
    for path, item in compiled.material.items():
        if item.compare == "lens-model":
            yield from _model_nobody_can_say(bundle, compiled)
        if item.compare == "case-number":
            yield from _number_of_two_plans(bundle)
        if item.compare == "planned":
            yield from _words_nobody_can_say(bundle, compiled, item)
        if item.compare == "axis" and not item.not_applicable and item.when != "toric lens":
            yield from _no_axis(bundle, item)
        if item.compare == "profile":
            yield from _setting_nobody_can_say(bundle, compiled, item)
        yield from _given_away(bundle, numbers, path, item)


def _code_that_identifies(bundle: Bundle) -> Iterator[Problem]:
    likeness = looks_identifying(bundle.plan.case)
    if likeness:
        found = f"a case code that looks like {likeness}"
        expected = "expected a number of your own: the code stands in every record and export"
        yield replace(bundle.place_of("plan", ("case",)).problem(found, expected), note=True)


def _incisions(bundle: Bundle) -> Iterator[Problem]:
    """Incisions that the plan puts nearer or further apart than its card allows, and a main
    incision on the side of the nose, which deserves a look."""
    planned, wanted = bundle.plan.incision, bundle.card.incision
    if planned is None:
        return
    incision = Incision(planned.main_deg, planned.side_port_deg, bundle.plan.side)
    if wanted is not None:
        incision = replace(
            incision, separation_deg=wanted.separation_deg, tolerance_deg=wanted.tolerance_deg
        )
    place = bundle.place_of("plan", ("incision",))
    for finding in findings(Situation(Profile(""), incision=incision)):
        heard = number(float(finding.heard))
        if finding.rule == "card-separation" and wanted is not None:
            apart = f"{number(wanted.separation_deg)}, give or take {number(wanted.tolerance_deg)}"
            expected = f"expected {apart}, as on the card {bundle.card.id}"
            yield place.problem(f"incisions {heard} degrees apart", expected)
        elif finding.rule == "nasal-incision":
            found = f"a main incision at {heard}, on the nasal side of the {bundle.plan.eye} eye"
            expected = "expected another side: see whether eye and place belong together"
            yield replace(place.problem(found, expected), note=True)


def case_problems(bundle: Bundle) -> tuple[Problem, ...]:
    """What keeps the case of a bundle from being compiled."""
    try:
        compile_case(bundle)
    except DocumentError as error:
        return error.problems
    return ()


def lint_card(card: Card, places: Places) -> Iterator[Problem]:
    """Settings that contradict themselves, whatever was heard. Unusual ones are the surgeon's."""
    for b, band in enumerate(card.grades):
        for phase, settings in band.phases.items():
            said = card_profile(settings).as_said(str(phase))
            for finding in findings(Situation(said)):
                if finding.severity == "stop" or finding.rule == "pulses-without-pause":
                    inner = _setting_path(finding.quantity, finding.rule)
                    place = places.of(("grades", b, "phases", str(phase), *inner))
                    found = f"{number(float(finding.heard))} {finding.unit} in {phase}"
                    yield place.problem(found, _expected(finding))


def _expected(finding: Finding) -> str:
    if finding.rule == "pulses-without-pause":
        return "expected a pause between pulses, or kind: continuous"
    if isinstance(finding.expected, str):
        return f"expected {finding.expected}, by the other settings of this phase"
    amount = f"{number(finding.expected)} {finding.unit}"
    if finding.rule == "timing-differs":
        return f"expected {amount}, which the other figures of the pulses give"
    return f"expected at most {amount}"


def _setting_path(quantity: str, rule: str = "") -> YamlPath:
    if quantity in _IN_WORDS:
        return _IN_WORDS[quantity]
    if quantity in _MODULATION:
        return "modulation", quantity
    return quantity, "minimum" if "minimum" in rule else "value"


def _model_nobody_can_say(bundle: Bundle, compiled: Compiled) -> Iterator[Problem]:
    if bundle.plan.planned_lens is None:
        return  # told by the case
    model = bundle.plan.lens.model
    models = _reader(compiled, "lens_model")
    if models is None or models.parses(model.lower().split()):
        return
    place = bundle.place_of("plan", ("lens", "model"))
    found = f"the lens model {quoted(model)}, which $lens_model does not permit"
    yield place.problem(found, "expected a model as it can be said, or the model in $lens_model")


def _number_of_two_plans(bundle: Bundle) -> Iterator[Problem]:
    """The number that is to tell the plans of a day apart, and does not."""
    ours = bundle.plan.number
    same = [code for code, other in bundle.others.items() if other == ours]
    place = bundle.place_of("plan", ("case",))
    if same:
        found = f"the case number {ours}, which {', '.join(same)} has too"
        yield place.problem(found, "expected one for each plan of the day: it tells them apart")
    if ours is not None and ours > HIGHEST_NUMBER:
        found = f"the case number {ours}, which nobody can say"
        yield place.problem(found, 'expected at most 8 digits, or a shorter "case number"')


def _words_nobody_can_say(bundle: Bundle, compiled: Compiled, item: Item) -> Iterator[Problem]:
    planned = bundle.plan.also.get(str(item.planned), "")
    readings = compiled.readings.get(f"{item.id}.value", ())
    if planned and planned.lower() not in {one.inside[0].text for one in readings if one.inside}:
        place = bundle.place_of("plan", ("also", str(item.planned)))
        found = f"{quoted(planned)}, which the phrase of {item.id} does not permit"
        yield place.problem(found, "expected words that can be said, or a phrase that has them")


def _no_axis(bundle: Bundle, item: Item) -> Iterator[Problem]:
    if bundle.plan.planned_lens is not None and bundle.plan.lens.axis_deg is None:
        place = bundle.place_of("plan", ("lens",))
        found = f"a lens without axis_deg, which the item {item.id} compares"
        yield place.problem(found, 'expected axis_deg, or "when: toric lens" in the item')


def _axis_nobody_asks_for(bundle: Bundle) -> Iterator[Problem]:
    if bundle.plan.is_toric and all(
        item.compare != "axis" for _, item in bundle.checklist.all_items()
    ):
        place = bundle.place_of("plan", ("lens", "axis_deg"))
        found = f"an axis that no item of the checklist {bundle.checklist.id} compares"
        yield place.problem(found, 'expected an item with "compare: axis"')


def _planned_and_not_asked(bundle: Bundle) -> Iterator[Problem]:
    """What the plan names and no item of its checklist asks for: a slip of the pen, by which the
    item that was meant would not be due."""
    items = [item for _, item in bundle.checklist.all_items()]
    asked = {str(item.planned) for item in items if item.compare == "planned"}
    for key in bundle.plan.also:
        if key not in asked:
            place = bundle.place_of("plan", ("also", key))
            found = f"{quoted(key)}, which no item of the checklist {bundle.checklist.id} compares"
            known = ", ".join(sorted(asked)) or "no key at all"
            yield place.problem(found, f"expected one of {known}")
    phases = {str(item.phase) for item in items if item.compare == "profile"}
    for at, phase in enumerate(bundle.plan.phases or ()):
        if str(phase) not in phases or not _on_card(bundle, str(phase)):
            place = bundle.place_of("plan", ("phases", at))
            found = f"{phase}, for which checklist or card has nothing at this grade"
            yield place.problem(found, "expected phases that the card has and the checklist asks")


def _on_card(bundle: Bundle, phase: str) -> bool:
    grade = bundle.plan.planned_grade
    return grade is None or bool(bundle.card.settings_for(grade.scale, grade.value, phase))


def _setting_nobody_can_say(bundle: Bundle, compiled: Compiled, item: Item) -> Iterator[Problem]:
    """A profile passes only when all that the card has was said."""
    sayable = compiled.settings_sayable(item)
    if not sayable:
        return  # reported by the lint of phrases
    if bundle.plan.planned_grade is None:
        return  # told by the case
    grade, phase = bundle.plan.grade, str(item.phase)
    for b, band in enumerate(bundle.card.grades):
        if not band.holds(grade.scale, grade.value):
            continue
        card = card_profile(bundle.card.settings_for(grade.scale, grade.value, phase))
        for quantity in (*card.settings, *words_of_card(card)):
            if quantity not in sayable:
                inner = _setting_path(quantity)
                place = bundle.place_of("card", ("grades", b, "phases", phase, *inner))
                found = f"{quantity}, which the phrase of {item.id} has no words for"
                yield place.problem(found, "expected a setting that can be said, or words for it")


def _given_away(
    bundle: Bundle, numbers: Grammar | None, path: YamlPath, item: Item
) -> Iterator[Problem]:
    """Where a value must come from the world, nothing before the answer may hold it."""
    language = bundle.sentences.language.partition("-")[0]
    for key, text in shown_before_the_answer(item):
        words = typed_words(text, language)
        if _holds_expected(bundle, numbers, item, words):
            place = bundle.place_of("checklist", (*path, key))
            found = f"the expected {str(item.compare).replace('-', ' ')} in {quoted(text)}"
            yield place.problem(
                found, "expected no value before the answer: it is read, not prompted"
            )


def _holds_expected(
    bundle: Bundle, numbers: Grammar | None, item: Item, words: tuple[str, ...]
) -> bool:
    lens, grade = bundle.plan.planned_lens, bundle.plan.planned_grade
    if item.compare == "planned":
        run = bundle.plan.also.get(str(item.planned), "").lower().split()
        return bool(run) and _has_run(words, tuple(run))
    if item.compare == "lens-model":
        return lens is not None and _has_run(words, tuple(lens.model.lower().split()))
    expected = {
        "case-number": bundle.plan.number,
        "lens-power": abs(lens.power_D) if lens else None,
        "axis": lens.axis_deg if lens else None,
        "grade": grade.value if grade else None,
    }.get(str(item.compare))
    return expected is not None and expected in _numbers_in(numbers, words)


def _has_run(words: tuple[str, ...], run: tuple[str, ...]) -> bool:
    return any(words[at : at + len(run)] == run for at in range(len(words) - len(run) + 1))


def _numbers_in(numbers: Grammar | None, words: tuple[str, ...]) -> set[float]:
    """Every number that some run of the words is, in any permitted reading."""
    if numbers is None:
        return set()
    runs = (
        words[start:end]
        for start in range(len(words))
        for end in range(start + 1, min(start + _LONGEST_NUMBER, len(words)) + 1)
    )
    read = (match.inside[0].value for run in runs for match in numbers.parses(run))
    return {float(value) for value in read if value is not None}


def _reader(compiled: Compiled, rule: str) -> Grammar | None:
    """The grammar of one public rule, or None where there is no such rule."""
    if compiled.rules.find(rule, None) is None:
        return None
    return Grammar({"said": Reference(rule, PhrasePlace("", 1, 1))}, compiled.rules)
