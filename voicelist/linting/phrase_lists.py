"""Can the phrases of every section be listened for? Beside its denials and doubts an answer takes
more words than by itself, so phrases that compile may still be too many for the recogniser."""

from __future__ import annotations

from collections.abc import Iterator

from voicelist.errors import Problem
from voicelist.grammar.budget import TooLarge
from voicelist.linting.material import Compiled, PermittedAnswer
from voicelist.session.case import is_harmless
from voicelist.understanding.phrase_lists import hearing_grammar
from voicelist.understanding.room_words import Room


def lint_heard(compiled: Compiled) -> Iterator[Problem]:
    """What a session would refuse as it begins: the largest answer of each section, each once."""
    room = Room.from_rules(compiled.rules)
    anytime = tuple(one for one in compiled.answers if one.item is None)
    told: set[str] = set()
    for section in compiled.material.checklist.sections:
        items = {item.id for item in section.items}
        answers = tuple(one for one in compiled.answers if one.item and one.item.id in items)
        roots = [one.name for one in (*answers, *anytime)]
        try:
            hearing_grammar(compiled.grammar, room, None, roots, is_harmless)
        except TooLarge as error:
            largest = max((*answers, *anytime), key=lambda one: _denied_words(compiled, one))
            if largest.name not in told:
                told.add(largest.name)
                yield largest.place.problem(error.problems[0].found, error.problems[0].expected)


def _denied_words(compiled: Compiled, answer: PermittedAnswer) -> int:
    """About how many words an answer takes with its denials: it can be denied at each word."""
    sentences = compiled.parts[answer.name].phrase_list()
    return sum(len(sentence.split()) ** 2 for sentence in sentences)
