"""The partner: what the roles that are played say next. Pure: a state and what was said before.

A partner answers as people do who know the case and not the list: at first in the words of the
call, then as the list has it, then in another wording that the list permits. What the words amount
to is decided by what is heard, never here.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace

from voicelist.documents.checklist import Item
from voicelist.practice.from_call import AskedFor, asked_for
from voicelist.practice.right_words import answer_to, right_line, role_in
from voicelist.practice.slips import kinds_from, slip_line
from voicelist.session.case import Case
from voicelist.session.order import is_due
from voicelist.session.sections import next_waiting
from voicelist.session.short_answers import SHORT_ANSWER
from voicelist.session.state import State
from voicelist.understanding.plain_speech import Amounts

OWN, LISTED, SLIP, BESIDE, TYPED = "own words", "as listed", "slip", "beside", "typed"
# So often a partner says something to one question; then it types it, once. Project choice.
TRIES = 5
_NURSE, _SURGEON = "circulating-nurse", "surgeon"
# Who speaks to a read-back that is nobody's item.
_OF_PLAN = (_SURGEON, _NURSE)
_AGREES = "yes that is correct"


@dataclass(frozen=True, slots=True)
class PartnerLine:
    """Something that a role says. `purpose` is one of the constants, `slip` its kind; `item` is
    what it answers, "" for none."""

    role: str
    text: str
    purpose: str = LISTED
    item: str = ""
    slip: str = ""


@dataclass(frozen=True, slots=True)
class Part:
    """What a partner plays: roles, and the slips by item. Without `own_words` it speaks as listed
    from the start; `everyone` where nobody else answers."""

    roles: frozenset[str]
    slips: Mapping[str, str] = field(default_factory=dict)
    own_words: bool = True
    everyone: bool = False


@dataclass(frozen=True, slots=True)
class Before:
    """What the partner has said: how often to each question, and which slips are made."""

    tries: Mapping[str, int] = field(default_factory=dict)
    slipped: frozenset[str] = frozenset()
    lines: tuple[PartnerLine, ...] = field(default=())

    def with_line(self, question: str, line: PartnerLine) -> Before:
        tries = {**self.tries, question: self.tries.get(question, 0) + 1}
        slipped = self.slipped | {line.item} if line.slip else self.slipped
        return replace(self, tries=tries, slipped=slipped, lines=(*self.lines, line))


def next_line(
    case: Case, state: State, part: Part, before: Before
) -> tuple[PartnerLine | None, Before]:
    """What the partner says as the assistant listens, and what it has said then; None where others
    are to speak, or where it has said what it can."""
    question = _question(state)
    said = before.tries.get(question, 0)
    if state.closed or said > TRIES:
        return None, before
    role = _speaker(case, state, part)
    if not role:
        return None, before
    planned = case.with_plan(state.plan)
    line = _line(planned, state, part, before, role, said)
    if said == TRIES:
        line = PartnerLine(role, right_line(planned, state), TYPED, state.asked)
    return (line, before.with_line(question, line)) if line.text else (None, before)


def own_answer(case: Case, item: Item) -> AskedFor | None:
    """What the call of an item asks for, where a thing with two states is asked."""
    if item.done is None or item.each_role or item.choice is not None or item.stated is not None:
        return None
    good, bad = (
        case.grammar.examples(name) if (name := f"{item.id}.{kind}") in case.grammar.names else ()
        for kind in ("done", "fault")
    )
    return asked_for(item.call, good, bad)


def items_of(case: Case, part: Part) -> tuple[str, ...]:
    """The items of this case that the partner answers, in the order of the list."""
    due = (
        one for one in case.items if is_due(case, State(), case.section_of[one], case.items[one])
    )
    return tuple(item_id for item_id in due if _answers(case, State(), part, item_id))


def items_for_slips(case: Case, part: Part) -> tuple[str, ...]:
    """Those of them with which a slip can be made: one person answers them."""
    return tuple(one for one in items_of(case, part) if not case.items[one].each_role)


def _question(state: State) -> str:
    if state.held:
        return "held"
    if state.pending is not None:
        return f"{state.pending.item}/{state.pending.about}"
    if state.under_way:
        return f"under way/{len(state.milestones)}"
    return state.current


def _speaker(case: Case, state: State, part: Part) -> str:
    """Whose turn it is of those that are played; "" where it is somebody else's."""
    if state.held:
        return next(_played(part, _OF_PLAN), "") if part.everyone else ""
    if state.under_way:
        told = all(one.id in state.milestones for one in case.bundle.checklist.milestones)
        if told and next_waiting(case, state) is None:
            return ""
        return next(_played(part, (_NURSE if told else _SURGEON,)), _anybody(part))
    pending = state.pending
    if pending is not None and pending.about == "echo":
        return _SURGEON if _SURGEON in part.roles else ""
    if pending is not None and not pending.item:
        return next(_played(part, _OF_PLAN), "") if part.everyone else ""
    return _answers(case, state, part, state.asked) if state.asked else ""


def _anybody(part: Part) -> str:
    return min(part.roles, default="") if part.everyone else ""


def _answers(case: Case, state: State, part: Part, item_id: str) -> str:
    """The role that answers an item, if it is played: the first of those that may."""
    item = case.items[item_id]
    if item.each_role:
        agreed = {one.role for one in state.item(item_id).agreed}
        return next(_played(part, (one for one in item.answered_by if one not in agreed)), "")
    first = item.answered_by[0]
    return first if first in part.roles else ""


def _played(part: Part, roles: Iterable[str]) -> Iterator[str]:
    return (one for one in roles if one in part.roles)


def _line(
    case: Case, state: State, part: Part, before: Before, role: str, said: int
) -> PartnerLine:
    item_id = state.asked
    pending = state.pending
    if state.held or state.under_way or not item_id:
        return PartnerLine(role, right_line(case, state), BESIDE)
    if pending is not None:
        agrees = said == 0 and _meant_that(case, state, before)
        return PartnerLine(role, _AGREES if agrees else right_line(case, state), BESIDE, item_id)
    item = case.items[item_id]
    if item.each_role:
        return PartnerLine(role, _of_role(case, item, role), LISTED, item_id)
    right = answer_to(case, state, item_id)
    if item_id in part.slips and item_id not in before.slipped:
        made = _slip(case, item, part.slips[item_id], right)
        if made is not None:
            return PartnerLine(role, made[1], SLIP, item_id, made[0])
    return _answer(case, item, part, role, right, said - (item_id in before.slipped))


def _answer(case: Case, item: Item, part: Part, role: str, right: str, said: int) -> PartnerLine:
    """The answer in its turn: own words, as listed, other wordings, as listed again."""
    asked = own_answer(case, item) if part.own_words else None
    if asked is not None and said == 0:
        return PartnerLine(role, asked.with_is, OWN, item.id)
    others = [right, *_other_wordings(case, item, right)]
    turn = max(0, said - (asked is not None))
    return PartnerLine(role, others[turn % len(others)], LISTED, item.id)


def _other_wordings(case: Case, item: Item, right: str) -> tuple[str, ...]:
    if item.done is None:
        return ()
    return tuple(one for one in case.grammar.examples(f"{item.id}.done") if one != right)


def _of_role(case: Case, item: Item, role: str) -> str:
    texts = case.grammar.examples(f"{item.id}.done")
    return next((text for text in texts if role_in(case, item.id, text) == role), "")


def _slip(case: Case, item: Item, wanted: str, right: str) -> tuple[str, str] | None:
    """The slip that is wanted, or else the next kind that can be made of the right answer."""
    for kind in kinds_from(wanted):
        line = slip_line(kind, right)
        if line and not _says_so(case, item, line):
            return kind, line
    return None


def _says_so(case: Case, item: Item, line: str) -> bool:
    """Whether a line is an answer of the item by itself, also as people put it: then it is no
    slip."""
    words = line.split()
    kinds = ("done", "fault", "value", "choice", "stated")
    names = (name for kind in kinds if (name := f"{item.id}.{kind}") in case.grammar.names)
    if any(case.grammar.only(name).parses(words) for name in names):
        return True
    about = case.natural.about(item.id)
    read = None if about is None else case.natural.answers.read(words, about)
    return read in (Amounts.FULL, Amounts.SHORT, Amounts.FAULT)


def _meant_that(case: Case, state: State, before: Before) -> bool:
    """Whether what is read back is what the partner meant: its own answer, and no slip."""
    pending = state.pending
    if pending is None or pending.about != SHORT_ANSWER or not before.lines:
        return False
    last = before.lines[-1]
    is_done = pending.values.get("rule") == f"{pending.item}.done"
    return is_done and last.item == pending.item and last.purpose != SLIP
