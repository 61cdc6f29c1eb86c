"""What must hold of phrases: each sentence means one thing, acts on purpose, and has its value."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

from voicelist.documents.marks import Place
from voicelist.documents.names import SCALE_LIMITS
from voicelist.documents.wording import quoted
from voicelist.errors import Problem
from voicelist.phrases.match import Match
from voicelist.phrases.wordgraph import START, WordGraph
from voicelist.session.case import ANYTIME
from voicelist.session.lint_material import Answer, Compiled
from voicelist.session.profile import settings_said
from voicelist.session.values import value_said

# Measured on room talk: design, section 6, rule 2.
ANYTIME_WORDS_AT_LEAST = 3
ACTING_WORDS_AT_LEAST = 2


def lint_phrases(compiled: Compiled) -> Iterator[Problem]:
    yield from _shared_sentences(compiled)
    for answer in compiled.answers:
        yield from _too_short(answer, compiled.parts[answer.name].graph)
        if answer.name in compiled.readings:
            yield from _without_value(answer, compiled.readings[answer.name])


def _shared_sentences(compiled: Compiled) -> Iterator[Problem]:
    """A sentence with two meanings would be asked about for ever, or taken for the wrong one."""
    for one, other in combinations(compiled.answers, 2):
        graph = compiled.parts[one.name].graph
        shared = graph.shared_sentence(compiled.parts[other.name].graph)
        if not shared:  # that silence would do is said of each phrase by itself
            continue
        here, there = (one, other) if other.item is None else (other, one)
        found = f"the sentence {quoted(' '.join(shared))}, which {there.name} also permits"
        expected = f"expected words that only {here.name} has ({_where(there.place, here.place)})"
        yield here.place.problem(found, expected)


def _where(there: Place, here: Place) -> str:
    """The other place; in the same file its line is enough."""
    return (
        f"the other is in line {there.line}" if there.file == here.file else f"the other: {there}"
    )


def _too_short(answer: Answer, graph: WordGraph) -> Iterator[Problem]:
    shortest = shortest_sentence(graph)
    if shortest is None:
        yield answer.place.problem("a phrase that nobody can say", "expected at least one sentence")
        return
    said = quoted(" ".join(shortest))
    if not shortest:
        expected = "expected a phrase with at least one word that has to be said"
        yield answer.place.problem("a phrase that is also said by silence", expected)
        return
    count = len(shortest)
    what = f"{said}, {count} word{'s' if count > 1 else ''}"
    if answer.item is None:
        anytime = answer.name.removeprefix("command.") in ANYTIME
        least = ANYTIME_WORDS_AT_LEAST if anytime else ACTING_WORDS_AT_LEAST
        if count < least:
            kind = "may be said at any time" if anytime else "acts"
            expected = (
                f"expected at least {least} words in what {kind}: rooms are full of single ones"
            )
            yield answer.place.problem(f"{what} in {answer.name}", expected)
    elif count < ACTING_WORDS_AT_LEAST and answer.item.stop:
        expected = "expected at least two words: it answers a stop item"
        yield answer.place.problem(what, expected)
    elif count < ACTING_WORDS_AT_LEAST and answer.in_any_order:
        expected = "expected at least two words: in a section of any order it answers uncalled"
        yield answer.place.problem(what, expected)


def shortest_sentence(graph: WordGraph) -> tuple[str, ...] | None:
    """A sentence of the fewest words, as it is written; None if there is none."""
    reached: dict[int, tuple[str, ...]] = {START: ()}
    for node in (queue := [START]):
        if graph.ends[node]:
            return reached[node]
        for step in graph.steps[node]:
            if step.target not in reached:
                reached[step.target] = (*reached[node], step.word)
                queue.append(step.target)
    return None


def _without_value(answer: Answer, readings: tuple[Match, ...]) -> Iterator[Problem]:
    """Sentences that are permitted but give the item no value to compare."""
    compare = str(answer.item.compare) if answer.item is not None else ""
    empty = [match.text for match in readings if not _told(compare, match)]
    if compare == "lens-power" and len(empty) < len(readings):
        return  # the sign may be left out: it is asked for
    if empty:
        found = f"the sentence {quoted(empty[0])}, which holds no value for {quoted(compare)}"
        yield answer.place.problem(found, f"expected {_VALUE_RULES[compare]} in every sentence")


_VALUE_RULES = {
    "eye": "$side with the tag {left} or {right}",
    "grade": "$grade, in it a scale as the tag and $grade_number or $decimal",
    "lens-power": "$signed",
    "lens-model": "$lens_model",
    "axis": "$integer",
    "profile": "$settings, in it a quantity as the tag and $integer",
}


def _told(compare: str, match: Match) -> bool:
    """Whether the session gets a value out of the sentence."""
    if compare == "profile":
        return bool(settings_said(match))
    try:
        said = value_said(compare, match)
    except (ValueError, IndexError):
        return False
    if said is None:
        return False
    if compare == "eye":
        return said.value in ("left", "right")
    return compare != "grade" or _is_grade(said.value)


def _is_grade(value: object) -> bool:
    return isinstance(value, dict) and value["scale"] in SCALE_LIMITS and value["value"] is not None
