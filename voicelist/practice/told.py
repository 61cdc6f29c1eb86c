"""What a rehearsal tells: of each item how long it took and in how many turns, of each phrase and
speaker how often it was understood. Pure: a fold over what happened, in order."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from voicelist.practice.partner import BESIDE, OWN, SLIP, TYPED, PartnerLine
from voicelist.session import state as st
from voicelist.session.case import Case
from voicelist.session.record_base import Record
from voicelist.session.records import Answered, AskedAgain, Called, Heard, ReadBack, Waiting
from voicelist.session.state import State, evolve

TAKEN, READ_BACK, DIFFERS = "taken", "read back", "did not fit"
QUESTION = "a question back"
NOT_UNDERSTOOD, LEFT_ALONE, OTHERWISE = "not understood", "left alone", "taken otherwise"
UNHEARD = "not heard"
# What lets a phrase stand as it is.
GOOD = (TAKEN, READ_BACK, DIFFERS)
_PASSED = (*st.SETTLED, st.SAID_FAULT)
# Read-backs of what was understood and does not fit or lacks something, and those that ask what was
# meant; the rest repeat an answer.
_DIFFERING = ("mismatch", "missing", "sign")
_QUESTIONS = ("negation", "plan-part")


@dataclass(frozen=True, slots=True)
class Happened:
    """One thing that happened: a line of the partner, or a record. `at_s` counts from the beginning
    of the rehearsal, in seconds of talk or, where lines are typed, of the clock."""

    at_s: float
    line: PartnerLine | None = None
    record: Record | None = None


@dataclass(frozen=True, slots=True)
class Exchange:
    """One utterance and what came of it. `said` are the partner's own words, of anybody else those
    that were heard; `passed` are the items that it settled."""

    item: str
    role: str
    said: str
    heard: str
    outcome: str
    purpose: str = ""
    slip: str = ""
    passed: tuple[str, ...] = ()

    @property
    def good(self) -> bool:
        """Whether it came out as it was meant: an answer taken, a slip not."""
        if self.purpose == SLIP:
            return self.outcome != OTHERWISE
        return self.outcome in GOOD


@dataclass(frozen=True, slots=True)
class Phrase:
    """One wording by one role: how often it was said, and understood; `heard_as` are other words
    that were heard in its place."""

    item: str
    role: str
    said: str
    purpose: str
    times: int
    understood: int
    heard_as: tuple[str, ...]
    outcomes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ItemTimes:
    """An item as it went: from its calls to its answer. `answer` is "" where it has none."""

    item: str
    seconds: float
    turns: int
    asked_again: int
    answer: str


@dataclass(frozen=True, slots=True)
class RehearsalTold:
    """All of a rehearsal. `closed` is how it ended."""

    items: tuple[ItemTimes, ...]
    exchanges: tuple[Exchange, ...]
    seconds: float
    closed: str

    @property
    def slips(self) -> tuple[Exchange, ...]:
        return tuple(one for one in self.exchanges if one.purpose == SLIP)

    def phrases(self) -> tuple[Phrase, ...]:
        """The wordings of answers, those that were understood least first."""
        groups: dict[tuple[str, str, str], list[Exchange]] = defaultdict(list)
        for one in self.exchanges:
            if one.item and one.said and one.purpose not in (SLIP, BESIDE, TYPED):
                groups[one.item, one.role, one.said].append(one)
        found = [_phrase(key, group) for key, group in groups.items()]
        return tuple(sorted(found, key=lambda one: (one.understood / one.times, -one.times)))


def _phrase(key: tuple[str, str, str], group: Sequence[Exchange]) -> Phrase:
    item, role, said = key
    heard_as = dict.fromkeys(one.heard for one in group if one.heard and one.heard != said)
    outcomes = dict.fromkeys(one.outcome for one in group)
    understood = sum(one.good for one in group)
    purpose = OWN if any(one.purpose == OWN for one in group) else group[0].purpose
    return Phrase(
        item, role, said, purpose, len(group), understood, tuple(heard_as), tuple(outcomes)
    )


@dataclass(slots=True)
class _OpenExchange:
    """An utterance whose consequences are still coming."""

    item: str
    line: PartnerLine | None
    heard: Heard | None
    records: list[Record] = field(default_factory=list)


def told_of(case: Case, happened: Sequence[Happened]) -> RehearsalTold:
    """What a rehearsal tells."""
    state = State()
    for one in happened:
        if one.record is not None:
            state = evolve(state, one.record)
    exchanges = tuple(_closed(case, one) for one in _exchanges(happened))
    last_s = happened[-1].at_s if happened else 0.0
    return RehearsalTold(tuple(_items(happened).values()), exchanges, last_s, state.closed)


def _exchanges(happened: Sequence[Happened]) -> Iterator[_OpenExchange]:
    """Each utterance with the partner's line that it was, and the records that it led to."""
    state, line, now = State(), None, None
    for one in happened:
        if one.line is not None:
            if line is not None:
                yield _OpenExchange(line.item, line, None)
            line = one.line
            continue
        record = one.record
        if record is None:
            continue
        if isinstance(record, Heard):
            if now is not None:
                yield now
            now = _OpenExchange(state.asked, line, record)
            line = None
        elif now is not None:
            now.records.append(record)
        state = evolve(state, record)
    if now is not None:
        yield now
    if line is not None:
        yield _OpenExchange(line.item, line, None)


def _closed(case: Case, one: _OpenExchange) -> Exchange:
    line, heard = one.line, one.heard
    passed = tuple(
        record.item
        for record in one.records
        if isinstance(record, Answered) and record.answer in _PASSED
    )
    role = line.role if line else (heard.role if heard else "")
    if not role and one.item:
        role = case.items[one.item].answered_by[0]
    words = heard.words if heard else ""
    return Exchange(
        one.item,
        role,
        line.text if line else words,
        words,
        _outcome(one, passed),
        line.purpose if line else (BESIDE if _is_beside(heard) else ""),
        line.slip if line else "",
        passed,
    )


def _is_beside(heard: Heard | None) -> bool:
    """Whether it was a command, a word to a read-back, or talk: no answer."""
    return heard is None or heard.status == "not-for-us" or heard.rule.startswith("command.")


def _outcome(one: _OpenExchange, passed: tuple[str, ...]) -> str:
    if one.heard is None:
        return UNHEARD
    meant = one.line is not None and one.line.purpose != SLIP
    answers = [record for record in one.records if isinstance(record, Answered)]
    if passed:
        slipped = one.line is not None and one.line.purpose == SLIP
        amiss = slipped or (meant and _is_otherwise(one.item, answers))
        return OTHERWISE if amiss else TAKEN
    backs = [record.about for record in one.records if isinstance(record, ReadBack)]
    if backs:
        differs = DIFFERS if backs[0] in _DIFFERING else READ_BACK
        return QUESTION if backs[0] in _QUESTIONS else differs
    if any(isinstance(record, AskedAgain | Waiting) for record in one.records):
        return NOT_UNDERSTOOD
    return {"understood": TAKEN, "not-understood": NOT_UNDERSTOOD}.get(one.heard.status, LEFT_ALONE)


def _is_otherwise(item: str, answers: Sequence[Answered]) -> bool:
    """Whether a right answer was taken for a fault, or for the answer of another item."""
    return any(one.item != item or one.answer == st.SAID_FAULT for one in answers)


def _items(happened: Sequence[Happened]) -> Mapping[str, ItemTimes]:
    """By item, in the order in which they were called."""
    found: dict[str, ItemTimes] = {}
    began: dict[str, float] = {}
    state = State()
    for one in happened:
        record = one.record
        if record is None:
            continue
        if isinstance(record, Called):
            found.setdefault(record.item, ItemTimes(record.item, 0.0, 0, 0, ""))
            began = {record.item: one.at_s}
        elif isinstance(record, Heard) and state.asked in found and record.status != "not-for-us":
            before = found[state.asked]
            found[state.asked] = replace(before, turns=before.turns + 1)
        elif isinstance(record, AskedAgain) and record.item in found:
            before = found[record.item]
            found[record.item] = replace(before, asked_again=before.asked_again + 1)
        elif isinstance(record, Answered):
            before = found.get(record.item) or ItemTimes(record.item, 0.0, 0, 0, "")
            seconds = before.seconds + one.at_s - began.pop(record.item, one.at_s)
            found[record.item] = replace(before, seconds=seconds, answer=record.answer)
        state = evolve(state, record)
    return found
