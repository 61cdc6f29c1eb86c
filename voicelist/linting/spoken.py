"""What the assistant says: never a permitted answer (it would hear itself), never a value that the
team is to read from the world, never a word that alarms the patient."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import cache
from itertools import chain, product

from voicelist.documents.checklist import Item
from voicelist.documents.marks import Place, Places, YamlPath
from voicelist.documents.names import PLAN_FIELDS
from voicelist.documents.sentences import Sentences
from voicelist.documents.wording import quoted
from voicelist.errors import Problem
from voicelist.grammar.grammar import Grammar
from voicelist.grammar.syntax import PhrasePlace, Reference
from voicelist.linting.material import Compiled, Material
from voicelist.session.asking_again import by_example, shorter
from voicelist.session.case import PLAN_SOURCE
from voicelist.session.catalogue import (
    FIELD_KEYS,
    READ_BACK_WORDS_AT_MOST,
    READ_BACKS,
    REQUIRED,
)
from voicelist.session.details import parts_of
from voicelist.session.details_said import details_said
from voicelist.session.offers import KINDS, state_of, telling_words
from voicelist.session.rule_sentences import PHASE_KEYS, QUANTITY_KEYS, SOURCE_KEYS
from voicelist.session.statements import entries_chosen
from voicelist.session.values import value_said

# The patient is awake (design, section 7, rule 11).
_ALARMING = re.compile(r"\b(wrong\w*|fault\w*|danger\w*|alarm\w*)\b", re.IGNORECASE)
_CALM = "expected calm words, such as: please check the eye again"
_NUMBERS = ("350", "21.5", "+21.5", "-1.5")
_IN_WORDS = ("pulse", "occlusion", "venturi")
_SOUND_ALIKES = ("350", "+30", "-13.5")
# A change of plan is read back with every document: a few values of each field stand for all.
_OF_EACH_FIELD = 3
# A placeholder, and one with nothing beside it that could make one word with what is put there.
_MARK = "\0"
_APART = re.compile(r"(?<!\S)\0(?=$|[\s,;:?!]|\.(?:\s|$))")
_ITEM_TEXTS = ("call", "why", "name")

Samples = Mapping[str, Sequence[str]]
Words = tuple[str, ...]


def lint_texts(material: Material) -> Iterator[Problem]:
    """Calls, reasons, names and the eye's two sides, whatever the plan says."""
    for place, text in _checklist_texts(material):
        yield from _alarming(place, text)
    for path, item in material.items():
        if item.compare == "eye":
            yield from _one_sided(material, path, item)


def lint_self_hearing(compiled: Compiled) -> Iterator[Problem]:
    """Spoken texts that hold a permitted answer or command."""
    for place, text in _checklist_texts(compiled.material):
        said = _accepted(compiled, text)
        if said is not None:
            yield place.problem(*_heard_itself(said, text))
    for path, item in compiled.material.items():
        both = f"{item.call} {item.why}"  # a team's first cases hear them one after the other
        said = _accepted(compiled, both)
        if said and not any(_accepted(compiled, text) for text in (item.call, item.why)):
            yield compiled.material.places["checklist"].of(path).problem(*_heard_itself(said, both))
    yield from _asked_again(compiled)
    sentences = compiled.material.sentences
    samples = samples_of(compiled)
    words_of = cache(compiled.material.spoken_words)
    for key in sound_keys(sentences):
        if not _may_hold_an_answer(compiled, key, samples, words_of):
            continue
        for text in filled(sentences, key, samples):
            said = _accepted(compiled, text)
            if said is not None:
                place = compiled.material.places["sentences"].of(("sentences", key))
                yield place.problem(*_heard_itself(said, text))
                break


def _may_hold_an_answer(
    compiled: Compiled, key: str, samples: Samples, words_of: Callable[[str], tuple[Words, ...]]
) -> bool:
    """Whether a sentence, filled in some way, may hold a permitted sentence: looked at piece by
    piece, since its combinations are many. True also where a word may go across two pieces."""
    pieces = compiled.material.sentences.pieces(key)
    marked = "".join(literal + ("" if name is None else _MARK) for literal, name in pieces)
    lexicon = compiled.material.lexicon
    across = any(re.search(r"\W", word.written) for word in lexicon.words if word.say is not None)
    if across or len(_APART.findall(marked)) < marked.count(_MARK):
        return True
    places: list[tuple[Words, ...]] = []
    for literal, name in pieces:
        places.append(words_of(literal))
        if name is not None:
            ways = (words_of(text) for text in _values_of(key, name, samples))
            places.append(tuple(dict.fromkeys(chain.from_iterable(ways))))
    return compiled.grammar.graph.may_hold(places)


def _asked_again(compiled: Compiled) -> Iterator[Problem]:
    """Each item as it is asked for the second and the third time: no answer, and short."""
    material = compiled.material
    if not set(REQUIRED).issubset(sound_keys(material.sentences)):
        return
    for path, item in material.items():
        for text in (shorter(material.sentences, item), by_example(material.sentences, item)):
            place = material.places["checklist"].of((*path, "call"))
            said, count = _accepted(compiled, text), len(text.split())
            if said is not None and _accepted(compiled, item.call) is None:
                yield place.problem(*_heard_itself(said, text))
            if count > READ_BACK_WORDS_AT_MOST:
                expected = f"expected at most {READ_BACK_WORDS_AT_MOST} where it is asked again"
                yield place.problem(f"{count} words in {quoted(text)}", expected)


def lint_catalogue(sentences: Sentences, places: Places) -> Iterator[Problem]:
    """A catalogue by itself: its keys and placeholders, alarming words."""
    yield from sentences.problems_with(REQUIRED, places)
    for key, template in sentences.sentences.items():
        yield from _alarming(places.of(("sentences", key)), template)


def lint_read_back_length(compiled: Compiled) -> Iterator[Problem]:
    """Read-backs filled with what this checklist would put into them."""
    sentences = compiled.material.sentences
    samples = samples_of(compiled)
    for key in READ_BACKS:
        if key not in sound_keys(sentences):
            continue
        values = {name: _values_of(key, name, samples) for name in REQUIRED[key]}
        if not all(values.values()):
            continue
        most = {name: max(texts, key=_count) for name, texts in values.items()}
        longest = sentences.text(key, **most)
        count = _count(longest)
        if count > READ_BACK_WORDS_AT_MOST:
            place = compiled.material.places["sentences"].of(("sentences", key))
            expected = f"expected read-backs of at most {READ_BACK_WORDS_AT_MOST} words"
            yield place.problem(f"{count} words in {quoted(longest)}", expected)


def sound_keys(sentences: Sentences) -> tuple[str, ...]:
    """Keys whose sentence can be filled."""
    return tuple(key for key in REQUIRED if not sentences.problems_with({key: REQUIRED[key]}))


def filled(sentences: Sentences, key: str, samples: Samples) -> Iterator[str]:
    """The sentence with every combination of sample values."""
    names = REQUIRED[key]
    for values in product(*(_values_of(key, name, samples) for name in names)):
        yield sentences.text(key, **dict(zip(names, values, strict=True)))


def _count(text: str) -> int:
    return len(text.split())


def _values_of(key: str, name: str, samples: Samples) -> Sequence[str]:
    return samples.get(f"{key} {name}", samples[name])


def samples_of(compiled: Compiled) -> dict[str, Sequence[str]]:
    """Values of each kind that this checklist can put into a sentence, by placeholder, or by key
    and placeholder. Calls and names that hold an answer are left out: that is said where they are
    written."""
    material = compiled.material
    catalogue = material.sentences.sentences
    calls = [item.call for _, item in material.items()]
    names = [item.name for _, item in material.items()]
    sections = [section.name for section in material.checklist.sections]
    calls, names, sections = (
        [text for text in texts if _accepted(compiled, text) is None]
        for texts in (calls, names, sections)
    )
    quantities = [catalogue[key] for key in QUANTITY_KEYS if key in catalogue]
    return {
        "call": calls,
        "choice": ["firm or loose"],
        "count": ["1", "3", "12"],
        "document": _sentences_of(compiled, PLAN_SOURCE),
        "expected": ["350", "fixed"],
        "first": ["firm", "complete"],
        "second": ["loose", "stopped"],
        "field": [catalogue[key].lower() for key in FIELD_KEYS if key in catalogue],
        "grade": ["3 clinical", "4.2 opalescence"],
        "heard": ["350", "21.5", "fixed", "350 linear"],
        "name": names,
        "names": [*names, *(", ".join(names[at : at + 3]) for at in range(len(names)))],
        "offer": _offers(compiled),
        **_rule_samples(catalogue),
        **_milestone_samples(material),
        "parts": _echoed(material, quantities),
        "details parts": _details(compiled),
        "quantity": quantities,
        "role": [text for key, text in catalogue.items() if key.startswith("role.")],
        "section": sections,
        "thing": ["irrigation"],
        "value": _values(compiled, sound_alikes=False),
        "plan-change value": _values(compiled, sound_alikes=False, of_plan_fields=True),
        "reason-not-applicable value": _choices(compiled, "does_not_apply"),
        "was-that value": [*_values(compiled, sound_alikes=True), *_choices(compiled, "choice")],
        "words": _denials(compiled),
    }


def _echoed(material: Material, quantities: Sequence[str]) -> list[str]:
    """Settings as they are echoed, four in a sentence."""
    if "echo-part" not in sound_keys(material.sentences):
        return [f"{quantities[0]} is 350 fixed, {quantities[-1]} is 30"] if quantities else []
    said = [
        material.sentences.text("echo-part", quantity=name, heard=heard)
        for name in quantities
        for heard in ("350 fixed", "30")
    ]
    return [", ".join(said[at : at + 4]) for at in range(0, len(said), 4)]


def _rule_samples(catalogue: Mapping[str, str]) -> dict[str, Sequence[str]]:
    """What the sentences of the clinical rules are given besides numbers; cases and times."""
    return {
        "case": ["case-1"],
        "plan": ["case-1"],
        "span": ["1 h", "20 s"],
        "other": [catalogue[key] for key in PHASE_KEYS if key in catalogue],
        "card-differs expected": [*_NUMBERS[:2], "fixed", *_IN_WORDS],
        "card-differs heard": [*_NUMBERS[:2], "350 linear", *_IN_WORDS],
        "lens-sources other": [catalogue[key] for key in SOURCE_KEYS if key in catalogue],
    }


def _milestone_samples(material: Material) -> dict[str, Sequence[str]]:
    """What is said of milestones: each by itself, and those that a section waits for."""
    milestones = material.checklist.milestones
    names = [one.name for one in milestones]
    waited_for = [
        ", ".join(one.name for one in milestones if one.id in section.after)
        for section in material.checklist.sections
        if section.after
    ]
    of_one = ("milestone-again", "milestone-ago", "milestone-at", "under-way-since")
    return {
        "time": ["8:40", "12:05"],
        **{f"{key} name": names for key in of_one},
        "begin-early section": [one.name for one in material.checklist.sections if one.after],
        "begin-early names": [*names, *waited_for],
        "milestone-lacking names": [*names, *waited_for],
    }


def _sentences_of(compiled: Compiled, rule: str) -> list[str]:
    """What a public rule permits, as written; nothing where there is no such rule."""
    if compiled.rules.find(rule, None) is None:
        return []
    part = Grammar({rule: Reference(rule, PhrasePlace("", 1, 1))}, compiled.rules)
    return list(part.examples(rule))


def _values(compiled: Compiled, *, sound_alikes: bool, of_plan_fields: bool = False) -> list[str]:
    """Values as the read-backs show them: all of them, those that have a sound-alike, or those
    that a change of plan may name."""
    shown: dict[str, None] = dict.fromkeys(_SOUND_ALIKES if sound_alikes else _NUMBERS)
    for answer in compiled.answers:
        compare = str(answer.item.compare) if answer.item is not None else ""
        if answer.name not in compiled.readings or compare in ("profile", "None"):
            continue
        readings = compiled.readings[answer.name]
        if of_plan_fields:
            readings = readings[:_OF_EACH_FIELD] if compare in PLAN_FIELDS else ()
        for match in readings:
            try:
                said = value_said(compare, match)
            except (ValueError, IndexError):  # reported by the lint of phrases
                continue
            if said is not None and said.sound_alike >= sound_alikes:
                shown[said.shown] = None
    return list(shown)


def _choices(compiled: Compiled, kind: str) -> list[str]:
    """Entries of closed lists as they are read back."""
    readings = (
        match
        for name, matches in compiled.readings.items()
        if name.endswith(f".{kind}")
        for match in matches
    )
    return [", ".join(entries_chosen(match)) for match in readings]


def _details(compiled: Compiled) -> list[str]:
    """Details as they are echoed."""
    readings = (
        match
        for name, matches in compiled.readings.items()
        if name.endswith(".details")
        for match in matches
    )
    said = (details_said(match, "left") for match in readings)
    return [parts_of(compiled.material.sentences, one) for one in said]


def _offers(compiled: Compiled) -> list[str]:
    """The words by which an item's answers differ, as "did you mean" offers them: never a whole
    answer."""
    offers: dict[str, None] = {}
    for answers in _answers_by_item(compiled):
        common = set(answers[0]).intersection(*answers)
        for words in answers:
            offers[" ".join(word for word in words if word not in common)] = None
    states = [one for one in offers if one and not compiled.grammar.graph.accepts(one.split())]
    return [*states, *_both_states(compiled)]


def _both_states(compiled: Compiled) -> Iterator[str]:
    """A state and its opposite, as both are named where both are near."""
    for _, item in compiled.material.items():
        names = {kind: f"{item.id}.{kind}" for kind in KINDS}
        parts = {kind: compiled.parts[one] for kind, one in names.items() if one in compiled.parts}
        telling = telling_words({kind: parts[kind].examples(names[kind]) for kind in parts})
        states = [state_of(telling, kind) for kind in KINDS]
        if all(states) and not any(compiled.grammar.graph.accepts(one) for one in states):
            yield " or ".join(" ".join(one) for one in states)


def _denials(compiled: Compiled) -> list[str]:
    """Answers with a negation before their last word, as far as they are taken up: a denial that
    holds a permitted sentence is not."""
    negations = compiled.rules.words("negations")[:1]
    answers = [one.name for one in compiled.answers if one.name.endswith(".done")]
    texts = [text.split() for name in answers for text in compiled.parts[name].examples(name)]
    denials = [(*words[:-1], *negations, words[-1]) for words in texts]
    accepted_run = compiled.grammar.graph.accepted_run
    return [" ".join(words) for words in denials if negations and accepted_run(words) is None]


def _answers_by_item(compiled: Compiled) -> Iterator[list[list[str]]]:
    for _, item in compiled.material.items():
        names = [name for name in (f"{item.id}.done", f"{item.id}.fault") if name in compiled.parts]
        answers = [text.split() for name in names for text in compiled.parts[name].examples(name)]
        if answers:
            yield answers


def _checklist_texts(material: Material) -> Iterator[tuple[Place, str]]:
    for s, section in enumerate(material.checklist.sections):
        yield material.places["checklist"].of(("sections", s, "name")), section.name
    for path, item in material.items():
        for key in _ITEM_TEXTS:
            place = material.places["checklist"].of((*path, key))
            yield place, str(getattr(item, key))
        for key, text in (("longer call", item.longer_call), ("again", item.again)):
            if text is not None:
                yield material.places["checklist"].of((*path, key)), text


def _alarming(place: Place, text: str) -> Iterator[Problem]:
    for word in dict.fromkeys(word.lower() for word in _ALARMING.findall(text)):
        yield place.problem(f"the word {quoted(word)} in {quoted(text)}", _CALM)


def _accepted(compiled: Compiled, text: str) -> tuple[str, str] | None:
    """Words of the text that are a permitted sentence, and the name of the phrase."""
    for words in compiled.material.spoken_words(text):
        run = compiled.grammar.graph.accepted_run(words)
        if run is not None:
            return " ".join(run), compiled.grammar.parses(run)[0].rule
    return None


def _heard_itself(said: tuple[str, str], text: str) -> tuple[str, str]:
    found = f"the words {quoted(said[0])} in {quoted(text)}, which {said[1]} permits"
    return found, "expected no permitted answer or command: the assistant would answer itself"


def _one_sided(material: Material, path: YamlPath, item: Item) -> Iterator[Problem]:
    """One side named without the other gives the answer away, or the opposite of it."""
    for key, text in shown_before_the_answer(item):
        sides = {"left", "right"}.intersection(re.findall(r"\w+", text.lower()))
        if len(sides) == 1:
            place = material.places["checklist"].of((*path, key))
            found = f"{quoted(sides.pop())} without the other side in {quoted(text)}"
            yield place.problem(found, "expected both sides or none: the eye is read, not prompted")


def shown_before_the_answer(item: Item) -> Iterator[tuple[str, str]]:
    """What is spoken or shown of an item before its answer, by the key in the checklist."""
    yield "call", item.call
    yield "why", item.why
    yield "name", item.name
    if item.longer_call is not None:
        yield "longer call", item.longer_call
    if item.read_from is not None:
        yield "read from", item.read_from
