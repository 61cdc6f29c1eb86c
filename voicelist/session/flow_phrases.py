"""The phrases of a checklist's course: of sections that begin when asked, and of milestones."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator

from voicelist.documents.checklist import Checklist, Section
from voicelist.documents.flow import Milestone
from voicelist.documents.marks import Place, YamlPath
from voicelist.errors import DocumentError, Problem
from voicelist.grammar.abnf import parse_expansion
from voicelist.grammar.ruleset import RuleSet
from voicelist.grammar.syntax import Choice, Node, PhrasePlace, Reference, Repeat, Sequence, Token

# Followed by a section's or a milestone's id in the name of a command.
BEGIN = "begin:"
MILESTONE = "milestone:"
CLOCK_TIME = "clock_time"
MINUTES_AGO = "minutes_ago"
_READY, _START, _PLEASE = FRAMES = ("section_ready", "section_start", "section_please")

PlaceOf = Callable[[YamlPath], Place]
Phrases = Iterator[tuple[str, Place, Node]]


def flow_phrases(
    checklist: Checklist, place_of: PlaceOf, rules: RuleSet, problems: list[Problem]
) -> Phrases:
    """The name of each phrase, where it is written, and the phrase; the problems of those that do
    not compile are added to `problems`."""
    for s, section in enumerate(checklist.sections):
        if section.waits:
            yield from _of_section(section, ("sections", s), place_of, rules, problems)
    for m, milestone in enumerate(checklist.milestones):
        yield from _of_milestone(milestone, ("milestones", m), place_of, rules, problems)


def name_words(name: str) -> list[str]:
    """The words of a name as they are spoken."""
    return re.findall(r"[a-z']+", name.lower())


def _of_section(
    section: Section, path: YamlPath, place_of: PlaceOf, rules: RuleSet, problems: list[Problem]
) -> Phrases:
    root = f"command.{BEGIN}{section.id}"
    if section.start is not None:
        yield from _written(root, section.start, place_of((*path, "start")), problems)
        return
    place = place_of((*path, "name"))
    if any(rules.find(name, None) is None for name in FRAMES):
        found = f"the section {section.id}, which nothing that may be said begins"
        problems.append(place.problem(found, 'expected "start": a phrase that begins it'))
        return
    at = PhrasePlace(place.file, place.line, place.column)
    named = tuple(Token(word, at) for word in name_words(section.name))
    ready = Sequence((Reference(_READY, at), *named))
    start = Sequence((Reference(_START, at), *named, Reference(_PLEASE, at)))
    yield root, place, Choice((ready, start), (1.0, 1.0))


def _of_milestone(
    milestone: Milestone, path: YamlPath, place_of: PlaceOf, rules: RuleSet, problems: list[Problem]
) -> Phrases:
    """Said as it happens, or late: its name, and when it was."""
    place = place_of((*path, "said"))
    root = f"command.{MILESTONE}{milestone.id}"
    for _, _, said in _written(root, milestone.said, place, problems):
        parts = [said]
        if all(rules.find(name, None) is not None for name in (CLOCK_TIME, MINUTES_AGO)):
            parts.append(_late(milestone, PhrasePlace(place.file, place.line, place.column)))
        yield root, place, Choice(tuple(parts), tuple(1.0 for _ in parts))


def _late(milestone: Milestone, at: PhrasePlace) -> Node:
    clock = Sequence((Token("at", at), Reference(CLOCK_TIME, at)))
    when = Choice((clock, Reference(MINUTES_AGO, at)), (1.0, 1.0))
    named = (Token(word, at) for word in name_words(milestone.name))
    return Sequence((*named, Repeat(Token("was", at), 0, 1), when))


def _written(name: str, phrase: str, place: Place, problems: list[Problem]) -> Phrases:
    try:
        yield name, place, parse_expansion(phrase, place.file, place.line, place.column)
    except DocumentError as error:
        problems.extend(error.problems)
