"""The two practices for a trainee: what they are made of, from a card or a plan."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from rich.console import Console

from voicelist.assessing import grade_said
from voicelist.documents.bundle import load_bundle
from voicelist.documents.card import Settings
from voicelist.documents.embedded import Bundle
from voicelist.documents.finding import Shelves
from voicelist.documents.joining import load_lexicon_beside, load_rules, load_sentences_beside
from voicelist.documents.lexicon import Lexicon
from voicelist.documents.loading import load_card
from voicelist.documents.names import PHASES
from voicelist.documents.phone_table import sound_alikes
from voicelist.documents.sentences import Sentences
from voicelist.errors import DocumentError, MissingPart, UsageError
from voicelist.figures.canvas import as_inline_svg
from voicelist.figures.choosing import card_words, of_pedal
from voicelist.grammar.grammar import Grammar
from voicelist.grammar.match import Match
from voicelist.grammar.ruleset import RuleSet
from voicelist.grammar.syntax import PhrasePlace, Reference
from voicelist.places import shipped
from voicelist.practice.pedal import pedal_questions
from voicelist.practice.quiz import QuizQuestion, Score
from voicelist.practice.settings import ROOT, SettingsQuestion, case_words, phases_asked
from voicelist.practice.sheet import SheetPicture
from voicelist.practising.asking import HowAsked, Language, asker
from voicelist.understanding.context import Context
from voicelist.understanding.room_words import Room

_PEDAL_ROOTS = ("practice_position", "practice_on", "practice_control", "practice_amount")
_OWN_SENTENCES = "practice."


@dataclass(frozen=True, slots=True)
class PedalHeld:
    """What came of practice with the pedal: `phases` are the card's settings by phase."""

    score: Score
    phases: Mapping[str, Settings]
    card: str
    grade: tuple[str, float]

    def asked_about(self) -> dict[str, Settings]:
        """Those of the phases that a question was about."""
        names = {one.about for one in self.score.asked}
        return {phase: settings for phase, settings in self.phases.items() if phase in names}


@dataclass(frozen=True, slots=True)
class SettingsHeld:
    score: Score
    bundle: Bundle


def practise_pedal(
    card_file: Path,
    grade: str,
    phase: str | None,
    count: int,
    seed: int,
    how: HowAsked,
    console: Console,
) -> PedalHeld:
    """Asks `count` questions about the pedal, for one phase or all that the card has."""
    scale, value = grade_said(grade)
    if phase is not None and phase not in PHASES:
        raise UsageError(f"There is no phase {phase}: choose one of {', '.join(PHASES)}.")
    card = load_card(card_file)
    wanted = PHASES if phase is None else (phase,)
    found = {one: card.document.settings_for(scale, value, one) for one in wanted}
    phases = {str(one): settings for one, settings in found.items() if settings is not None}
    if not phases:
        expected = f"expected settings for {scale} {value:g} in the phase {', '.join(wanted)}"
        raise DocumentError((card.place_of(("grades",)).problem("none", expected),))
    language = _pedal_language(Shelves.beside(card_file), card.document.language)
    questions = pedal_questions(phases, language.sentences, count, seed)
    with asker(language, how, console) as asking:
        asking.say(language.sentences.text("practice.begins", name="the foot pedal"))
        score = asking.ask_all(questions, _nothing_follows)
        asking.say(_over(language.sentences, score))
    return PedalHeld(score, phases, card.document.id, (scale, value))


def practise_settings(plan_file: Path, how: HowAsked, console: Console) -> SettingsHeld:
    """Reads the case of a plan aloud and asks for its settings, phase by phase."""
    bundle = load_bundle(plan_file)
    if bundle.plan.planned_grade is None or not phases_asked(bundle):
        raise UsageError(f"{plan_file} has no grade for which its card has settings.")
    rules = RuleSet.from_texts(bundle.rules.items())
    sentences = _with_practice(bundle.sentences)
    bundle = replace(bundle, sentences=sentences)
    context = _context(rules, (ROOT,), bundle.lexicon, sentences.language)
    language = Language(context, rules, sentences, bundle.lexicon)
    before: dict[str, Mapping[str, Any]] = {}
    questions = [SettingsQuestion(bundle, phase, before) for phase in phases_asked(bundle)]

    def stands(question: QuizQuestion, matches: list[Match]) -> None:
        """What fits is what later phases are compared with."""
        if isinstance(question, SettingsQuestion):
            before[question.phase] = question.said(matches)

    with asker(language, how, console) as asking:
        asking.say(sentences.text("practice.begins", name="settings"))
        asking.say(sentences.text("practice.case", **case_words(bundle)))
        score = asking.ask_all(questions, stands)
        asking.say(_over(sentences, score))
    return SettingsHeld(score, bundle)


def pedal_pictures(held: PedalHeld) -> tuple[SheetPicture, ...]:
    """The pedal in each phase that was asked about; none where pictures cannot be drawn here."""
    pictures = []
    for phase, settings in held.asked_about().items():
        under, origin = card_words(held.card, *held.grade, phase)
        picture = of_pedal(settings, phase, under, origin)
        try:
            svg = as_inline_svg(picture, f"pedal-{phase}")
        except MissingPart:
            return ()
        pictures.append(SheetPicture(svg))
    return tuple(pictures)


def _nothing_follows(*_: object) -> None:
    """Questions about the pedal stand by themselves."""


def _over(sentences: Sentences, score: Score) -> str:
    return sentences.text("practice.over", right=score.at_once, count=score.questions)


def _pedal_language(shelves: Shelves, language: str) -> Language:
    rules = RuleSet.from_texts(load_rules(shelves)[0].items())
    sentences = load_sentences_beside(shelves, language.partition("-")[0])
    if sentences is None:
        raise MissingPart(f"There is no sentence catalogue for the language {language}.")
    lexicon = load_lexicon_beside(shelves)
    if lexicon is None:
        raise MissingPart("There is no lexicon.yaml beside the card, and none that ships.")
    context = _context(rules, _PEDAL_ROOTS, lexicon, language)
    return Language(context, rules, _with_practice(sentences), lexicon)


def _context(rules: RuleSet, roots: tuple[str, ...], lexicon: Lexicon, language: str) -> Context:
    nodes = {root: Reference(root, PhrasePlace(root, 1, 1)) for root in roots}
    grammar = Grammar(nodes, rules, lexicon.respellings())
    room = Room.from_rules(rules)
    return Context(grammar, frozenset(roots), room, alikes=sound_alikes(language))


def _with_practice(sentences: Sentences) -> Sentences:
    """A site's catalogue may lack what is said in practice: then ours is said."""
    ours = load_sentences_beside(Shelves((shipped("grammars"),)), "en")
    lacking = {
        key: text
        for key, text in (ours.sentences.items() if ours is not None else ())
        if key.startswith(_OWN_SENTENCES) and key not in sentences.sentences
    }
    return sentences.model_copy(update={"sentences": {**sentences.sentences, **lacking}})
