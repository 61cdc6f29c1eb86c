"""Numbers that are easily heard for one another where nobody would notice.

A lens power or an axis that has a sound-alike is read back digit by digit; a profile, a choice,
details and a change of plan are read back and confirmed, the time of a milestone is read back and
can be said anew. Any other phrase with a number is taken as
heard.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product

from voicelist.clinical.sound_alikes import TWIN_WORDS
from voicelist.documents.names import SCALE_LIMITS
from voicelist.documents.wording import quoted
from voicelist.errors import Problem
from voicelist.grammar.grammar import Grammar
from voicelist.grammar.match import Match
from voicelist.grammar.wordgraph import START, WordGraph
from voicelist.linting.material import Compiled, PermittedAnswer
from voicelist.session.flow_phrases import MILESTONE
from voicelist.session.values import value_said

READ_BACK = ("lens-power", "axis", "profile", "case-number")


def lint_numbers(compiled: Compiled) -> Iterator[Problem]:
    """For each phrase that is not read back, one pair of its sentences that differ in thirteen and
    thirty or the like, both of likely numbers."""
    for answer in compiled.answers:
        if _is_read_back(answer):
            continue
        pair = _colliding(answer, compiled.parts[answer.name])
        if pair is not None:
            found = f"{quoted(pair[0].text)}, which is easily heard for {quoted(pair[1].text)}"
            expected = (
                "expected no such pair where it is not read back: a value with compare "
                f"({', '.join(READ_BACK)}), a likely range that holds one of them, or other words"
            )
            yield answer.place.problem(found, expected)


def _is_read_back(answer: PermittedAnswer) -> bool:
    if answer.item is None:
        return answer.name.startswith(("command.change_plan", f"command.{MILESTONE}"))
    return answer.item.compare in READ_BACK or answer.name.endswith((".choice", ".details"))


def _colliding(answer: PermittedAnswer, part: Grammar) -> tuple[Match, Match] | None:
    for ours, theirs in twin_sentences(part.graph):
        for this in part.parses(ours):
            for that in part.parses(theirs):
                if all(one.is_likely() and _in_range(answer, one) for one in (this, that)):
                    return this, that
    return None


def _in_range(answer: PermittedAnswer, match: Match) -> bool:
    """Whether the value could be meant: a grade within its scale."""
    if answer.item is None or answer.item.compare != "grade":
        return True
    try:
        said = value_said("grade", match)
    except (ValueError, IndexError):  # reported by the lint of phrases
        return False
    value = said.value if said is not None else None
    if not isinstance(value, dict) or value["scale"] not in SCALE_LIMITS:
        return False
    least, most = SCALE_LIMITS[value["scale"]]
    return bool(least <= value["value"] <= most)


def twin_sentences(graph: WordGraph) -> Iterator[tuple[tuple[str, ...], tuple[str, ...]]]:
    """Pairs of sentences that differ in a teen and the ten of its digit, one pair a place."""
    before: dict[int, tuple[str, ...]] = {START: ()}
    for node in (queue := [START]):
        for teen, ten in product(graph.steps[node], repeat=2):
            if TWIN_WORDS.get(teen.word) == ten.word:
                rest = _same_rest(graph, teen.target, ten.target)
                if rest is not None:
                    yield (*before[node], teen.word, *rest), (*before[node], ten.word, *rest)
        for step in graph.steps[node]:
            if step.target not in before:
                before[step.target] = (*before[node], step.word)
                queue.append(step.target)


def _same_rest(graph: WordGraph, one: int, other: int) -> tuple[str, ...] | None:
    """The shortest words that end a sentence from both nodes."""
    seen: dict[tuple[int, int], tuple[str, ...]] = {(one, other): ()}
    for pair in (queue := [(one, other)]):
        if graph.ends[pair[0]] and graph.ends[pair[1]]:
            return seen[pair]
        for step in graph.steps[pair[0]]:
            for rival in graph.steps[pair[1]]:
                reached = (step.target, rival.target)
                if step.word == rival.word and reached not in seen:
                    seen[reached] = (*seen[pair], step.word)
                    queue.append(reached)
    return None
