"""What must hold of phrases: each sentence means one thing, acts on purpose, and has its value."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations

from voicelist.documents.checklist import Item
from voicelist.documents.marks import Place
from voicelist.documents.names import SCALE_LIMITS
from voicelist.documents.wording import quoted
from voicelist.errors import Problem
from voicelist.grammar.match import Match
from voicelist.grammar.wordgraph import START, WordGraph, way_to
from voicelist.linting.material import Compiled, PermittedAnswer
from voicelist.session.case import ANYTIME, CORRECT, LATER_ANYTIME
from voicelist.session.details_said import details_said
from voicelist.session.flow_phrases import BEGIN, MILESTONE
from voicelist.session.profile import settings_said
from voicelist.session.statements import SPEAKER, role_said
from voicelist.session.values import value_said

# Measured on room talk: design, section 6, rule 2.
ANYTIME_WORDS_AT_LEAST = 3
ACTING_WORDS_AT_LEAST = 2
_ANYTIME = (CORRECT, BEGIN, MILESTONE)


def lint_phrases(compiled: Compiled) -> Iterator[Problem]:
    yield from _shared_sentences(compiled)
    for answer in compiled.answers:
        yield from _too_short(answer, compiled.parts[answer.name].graph)
        if answer.name in compiled.readings:
            roles = compiled.material.checklist.role_names
            yield from _without_value(answer, compiled.readings[answer.name], roles)


def _shared_sentences(compiled: Compiled) -> Iterator[Problem]:
    """A sentence with two meanings would be asked about for ever, or taken for the wrong one."""
    meter = compiled.meter("steps to compare them")
    first = {one.name: _first_words(compiled.parts[one.name].graph) for one in compiled.answers}
    for one, other in combinations(compiled.answers, 2):
        if first[one.name].isdisjoint(first[other.name]) or _are_named_apart(one, other):
            continue
        graph = compiled.parts[one.name].graph
        shared = graph.shared_sentence(compiled.parts[other.name].graph, meter)
        if not shared:  # that silence would do is said of each phrase by itself
            continue
        here, there = (one, other) if other.item is None else (other, one)
        found = f"the sentence {quoted(' '.join(shared))}, which {there.name} also permits"
        expected = f"expected words that only {here.name} has ({_where(there.place, here.place)})"
        yield here.place.problem(found, expected)


def _are_named_apart(one: PermittedAnswer, other: PermittedAnswer) -> bool:
    """Whether both are values of items that are told apart by name: never permitted together."""
    items = (one.item, other.item)
    names = (one.name, other.name)
    return all(item is not None and item.by_name is not None for item in items) and all(
        name.endswith(".value") for name in names
    )


def _first_words(graph: WordGraph) -> frozenset[str]:
    return frozenset(step.word for step in graph.steps[START])


def _where(there: Place, here: Place) -> str:
    """The other place; in the same file its line is enough."""
    return (
        f"the other is in line {there.line}" if there.file == here.file else f"the other: {there}"
    )


def _too_short(answer: PermittedAnswer, graph: WordGraph) -> Iterator[Problem]:
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
        name = answer.name.removeprefix("command.")
        anytime = name in (*ANYTIME, *LATER_ANYTIME) or name.startswith(_ANYTIME)
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
    came_from: dict[int, tuple[int, str]] = {}
    for node in (queue := [START]):
        if graph.ends[node]:
            return way_to(node, came_from)
        for step in graph.steps[node]:
            if step.target not in came_from:
                came_from[step.target] = (node, step.word)
                queue.append(step.target)
    return None


def _without_value(
    answer: PermittedAnswer, readings: tuple[Match, ...], roles: Sequence[str]
) -> Iterator[Problem]:
    """Sentences that are permitted but give the item no value to compare."""
    compare = _wanted(answer)
    if compare == SPEAKER and answer.item is not None:
        yield from _roles_nobody_can_say(answer, answer.item, readings)
    empty = [match.text for match in readings if not _told(compare, match, roles)]
    if compare == "lens-power" and len(empty) < len(readings):
        return  # the sign may be left out: it is asked for
    if empty:
        found = f"the sentence {quoted(empty[0])}, which holds no value for {quoted(compare)}"
        yield answer.place.problem(found, f"expected {_VALUE_RULES[compare]} in every sentence")


def _wanted(answer: PermittedAnswer) -> str:
    """What has to be told by every sentence of the answer."""
    kind = answer.name.rpartition(".")[2]
    if kind in ("choice", "details", "does_not_apply"):
        return kind
    return SPEAKER if kind == "done" else str(answer.item.compare if answer.item else "")


def _roles_nobody_can_say(
    answer: PermittedAnswer, item: Item, readings: tuple[Match, ...]
) -> Iterator[Problem]:
    said = {role_said(match) for match in readings}
    for role in item.answered_by:
        if role not in said:
            found = f"no sentence by which {role} is known"
            yield answer.place.problem(found, f"expected $speaker with {role} in what it may be")


_VALUE_RULES = {
    SPEAKER: "$speaker with a role as its tag",
    "choice": "an entry of a closed list as a tag",
    "details": "a quantity as a tag and its value",
    "does_not_apply": "a reason as a tag",
    "planned": "a $rule whose words are the value",
    "eye": "$side with the tag {left} or {right}",
    "grade": "$grade, in it a scale as the tag and $grade_number or $decimal",
    "lens-power": "$signed",
    "lens-model": "$lens_model",
    "axis": "$integer",
    "case-number": "$list_number",
    "profile": "$settings, in it a quantity as the tag and $integer",
}


def _told(compare: str, match: Match, roles: Sequence[str]) -> bool:
    """Whether the session gets a value out of the sentence."""
    if compare == "profile":
        return bool(settings_said(match))
    if compare == "details":
        return bool(details_said(match, ""))
    if compare == SPEAKER:
        return role_said(match) in roles
    if compare in ("choice", "does_not_apply"):
        return any(one.tags for one in match.walk())
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
