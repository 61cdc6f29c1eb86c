"""`voicelist assess`: spoken settings against a card, without a session."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from voicelist.clinical.settings import assess
from voicelist.documents.finding import Shelves, load_rules
from voicelist.documents.loading import load_card, load_sentences
from voicelist.documents.names import PHASES, SCALE_LIMITS
from voicelist.errors import DocumentError, MissingPart, Problem, UsageError
from voicelist.phrases.grammar import Grammar
from voicelist.phrases.ruleset import RuleSet
from voicelist.phrases.syntax import Place, Reference
from voicelist.session.case import settings_by_quantity
from voicelist.session.profile import as_mapping, as_settings, settings_said
from voicelist.session.typed import typed_words


def assess_words(text: str, card_file: Path, grade: str, phase: str) -> dict[str, Any]:
    """`{"understood": {quantity: {value, control}}, "findings": [...]}` for settings as spoken."""
    scale, value = grade_said(grade)
    if phase not in PHASES:
        raise UsageError(f"There is no phase {phase}: choose one of {', '.join(PHASES)}.")
    card = load_card(card_file)
    settings = card.document.settings_for(scale, value, phase)
    if settings is None:
        place = card.place_of(("grades",))
        expected = f"expected settings for {scale} {value:g} in the phase {phase}"
        raise DocumentError((Problem(place.file, place.line, place.column, "none", expected),))
    shelves = Shelves.beside(card_file)
    language = card.document.language.partition("-")[0]
    said = _said(text, shelves, language)
    findings = assess(phase, as_settings(said), settings_by_quantity(settings))
    sentences = shelves.find(f"sentences.{language}.yaml")
    if sentences is None:
        raise MissingPart(f"There is no sentence catalogue for the language {language}.")
    catalogue = load_sentences(sentences).document
    return {"understood": said, "findings": [as_mapping(catalogue, one) for one in findings]}


def grade_said(text: str) -> tuple[str, float]:
    """Scale and value of "clinical 3". Raises UsageError."""
    scale, _, number = text.strip().partition(" ")
    try:
        value = float(number)
    except ValueError:
        value = float("nan")
    low, high = SCALE_LIMITS.get(scale, (1.0, 0.0))
    if not low <= value <= high:
        scales = ", ".join(f"{name} {lo:g} to {hi:g}" for name, (lo, hi) in SCALE_LIMITS.items())
        raise UsageError(f'--grade is a scale and a value, such as "clinical 3" ({scales}).')
    return scale, value


def _said(text: str, shelves: Shelves, language: str) -> dict[str, dict[str, Any]]:
    rules = RuleSet.from_texts(load_rules(shelves)[0].items())
    grammar = Grammar({"settings": Reference("settings", Place("settings", 1, 1))}, rules)
    matches = grammar.parses(typed_words(text, language))
    return settings_said(matches[0]) if len(matches) == 1 else {}
