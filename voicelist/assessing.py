"""`voicelist assess`: spoken settings against a card, without a session."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from voicelist.clinical.limits import DEFAULT, Limits
from voicelist.clinical.profile import Profile, Situation, SpokenGrade
from voicelist.clinical.rules import findings
from voicelist.documents.card import Card
from voicelist.documents.finding import Shelves
from voicelist.documents.joining import load_lexicon_beside, load_rules, load_sentences_beside
from voicelist.documents.loading import load_card, load_limits
from voicelist.documents.names import PHASES, SCALE_LIMITS
from voicelist.errors import DocumentError, MissingPart, Problem, UsageError
from voicelist.grammar.grammar import grammar_of
from voicelist.grammar.match import Match
from voicelist.grammar.ruleset import RuleSet
from voicelist.grammar.syntax import PhrasePlace, Reference
from voicelist.listening.typed import typed_words
from voicelist.session.checked import other_phases, situation_of
from voicelist.session.details_said import Planned, details_said, eye_said, with_details
from voicelist.session.profile import settings_said
from voicelist.session.rule_sentences import as_mapping
from voicelist.session.settings_said import SettingsSaid

# The keys of a finding in `--json`, a contract.
_TOLD = ("rule", "severity", "quantity", "heard", "expected", "unit", "sentence")
_WHOLE, _SETTINGS, _DETAILS = "profile", "settings", "details"


def assess_words(text: str, card_file: Path, grade: str, phase: str) -> dict[str, Any]:
    """`{"understood": {quantity: {value, control}}, "findings": [...]}` for settings as spoken.

    A setting has `minimum` as well where linear control was said to begin somewhere. Checked are
    the card, at the given grade, and the limits beside it; what the card has for the other phases
    stands for them. Instead of settings, details
    may be said: where the incisions are, the knees, the pedal, the lens, the figures at the end.
    """
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
    match = settings_reader(card_file)(text)
    said, situation = _situation(match, card.document, SpokenGrade(scale, value), phase)
    found = findings(situation, _limits(shelves)) if said else ()
    catalogue = load_sentences_beside(shelves, language)
    if catalogue is None:
        raise MissingPart(f"There is no sentence catalogue for the language {language}.")
    return {"understood": said, "findings": [as_mapping(catalogue, one) for one in found]}


def for_programs(told: Mapping[str, Any]) -> dict[str, Any]:
    """What `--json` shows: of each finding the keys that programs rely on."""
    findings = [{key: one[key] for key in _TOLD} for one in told["findings"]]
    return {**told, "findings": findings}


def _limits(shelves: Shelves) -> Limits:
    path = shelves.find("limits.yaml")
    return DEFAULT if path is None else load_limits(path).document.for_rules()


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


def _situation(
    match: Match | None, card: Card, grade: SpokenGrade, phase: str
) -> tuple[dict[str, dict[str, Any]], Situation]:
    """What was understood, by quantity, and what the rules look at."""
    if match is None or match.rule != _DETAILS:
        said = {} if match is None else settings_said(match)
        return said, situation_of(card, grade, phase, said)
    eye = eye_said(match)
    told = details_said(match, eye)
    around = Situation(Profile(""), others=other_phases(card, grade))
    situation = with_details(around, told, Planned(eye, card))
    return {name: {"value": one, "control": ""} for name, one in told.items()}, situation


def settings_reader(card_file: Path) -> Callable[[str], Match | None]:
    """Reads settings, or details, as spoken, under the rules beside a card: None where they are not
    understood, or can be read in two ways."""
    shelves = Shelves.beside(card_file)
    language = load_card(card_file).document.language.partition("-")[0]
    rules = RuleSet.from_texts(load_rules(shelves)[0].items())
    # A site with rules of its own may have nothing but the settings.
    whole = _WHOLE if rules.find(_WHOLE, None) is not None else _SETTINGS
    roots = [root for root in (whole, _DETAILS) if rules.find(root, None) is not None]
    grammar = grammar_of({root: Reference(root, PhrasePlace(root, 1, 1)) for root in roots}, rules)
    freely = SettingsSaid(rules)
    lexicon = load_lexicon_beside(shelves)
    known = grammar.vocabulary()

    def read(text: str) -> Match | None:
        words = typed_words(text, language)
        if lexicon is not None:
            words = lexicon.as_known(words, known)
        matches = grammar.parses(words)
        if len(matches) == 1:
            return matches[0]
        return freely.read(words, whole)

    return read


def setting_words(setting: dict[str, Any]) -> str:
    """One understood setting on a line: `0 to 20 linear`, `pulse`."""
    value = setting["value"]
    parts = [f"{value:g}" if isinstance(value, int | float) else str(value)]
    if isinstance(value, list):
        parts = [" ".join(map(str, value))]
    if "minimum" in setting:
        parts.insert(0, f"{setting['minimum']:g} to")
    parts.append(setting["control"])
    return " ".join(part for part in parts if part)
