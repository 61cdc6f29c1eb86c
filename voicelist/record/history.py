"""What happened to each item, in order: every answer, mismatch, correction and acceptance stays."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from voicelist.record.times import Moment
from voicelist.record.words import OUTCOME, STATUS, named, role_words, value_words
from voicelist.session import records as rec
from voicelist.session import state as st
from voicelist.session.flow_records import SectionAsked
from voicelist.session.record_base import Record
from voicelist.session.team_records import EquipmentChanged, PlanChanged

OPEN, ACCEPTED, CORRECTED, SETTLED, UNDONE = "open", "accepted", "corrected", "settled", "undone"
REPLACED, REOPENED = "replaced", "reopened"
ENDED = {REPLACED: "answered anew", REOPENED: "opened again", UNDONE: "taken back"}


@dataclass(frozen=True, slots=True)
class Answer:
    """One answer that an item had. `after_call_s` is None if it did not follow a call of its own,
    or only in a later run. `ended` is "" while it stands, else replaced, undone or reopened
    (by a change of plan or equipment, or because a short list was started again)."""

    answer: str
    words: str
    role: str
    role_known_by: str
    values: Mapping[str, Any]
    at: Moment
    after_call_s: float | None = None
    ended: str = ""
    ended_at: Moment | None = None

    @property
    def words_of_fault(self) -> str:
        """What was reported not right, and what became of it, in one line."""
        who = role_words(self.role, self.role_known_by)
        return f'reported not right, "{self.words}", {who}: {self._became()}'

    @property
    def words_of_undone(self) -> str:
        """An answer that was taken back, in one line."""
        return f'"{self.words}" ({STATUS.get(self.answer, self.answer)}): {self._became()}'

    def _became(self) -> str:
        if not self.ended:
            return "stands"
        at = f" at {self.ended_at.shown}" if self.ended_at else ""
        return f"{ENDED.get(self.ended, self.ended)}{at}"


@dataclass(frozen=True, slots=True)
class Mismatch:
    """Something heard that did not fit and was read back, and what became of it.

    `outcome` is open, accepted, corrected, settled (answered later without more ado) or undone;
    `source` is where the rule is from and how far it may be trusted, "" where none was kept.
    `times` is how often it was read back; `elsewhere` names the plans that have what was heard.
    """

    item: str
    name: str
    rule: str
    severity: str
    quantity: str
    heard: Any
    expected: Any
    unit: str
    sentence: str
    at: Moment
    outcome: str = OPEN
    outcome_at: Moment | None = None
    new: Any = None
    reason: str = ""
    role: str = ""
    role_known_by: str = ""
    source: str = ""
    times: int = 1
    elsewhere: str = ""

    @property
    def stands(self) -> bool:
        """Whether it was not settled, or was accepted and holds so."""
        return self.outcome in {OPEN, ACCEPTED}

    @property
    def words(self) -> str:
        """What was heard, what was expected and what became of it, in one line."""
        heard, expected = (value_words(self.quantity, one) for one in (self.heard, self.expected))
        parts = [f"{named(self.quantity)[0]}: heard {heard}, expected {expected}: {self._became()}"]
        if self.times > 1:
            parts.append(f"; read back {self.times} times")
        if self.elsewhere:
            parts.append(f"; it is the plan {self.elsewhere}")
        return "".join(parts) + (f" (rule: {self.source})" if self.source else "")

    def _became(self) -> str:
        at = f" at {self.outcome_at.shown}" if self.outcome_at else ""
        became = OUTCOME.get(self.outcome, self.outcome) + at
        if self.outcome == ACCEPTED:
            who = role_words(self.role, self.role_known_by)
            return f"{became} by {who}, reason: {self.reason or 'none said'}"
        return became if self.new is None else f"{became}: {value_words(self.quantity, self.new)}"


@dataclass(frozen=True, slots=True)
class Correction:
    """A later word for an earlier one."""

    quantity: str
    old: Any
    new: Any
    at: Moment

    @property
    def words(self) -> str:
        """The correction in one line."""
        old, new = value_words(self.quantity, self.old), value_words(self.quantity, self.new)
        return f"{named(self.quantity)[0]} said anew at {self.at.shown}: {old}, then {new}"


@dataclass(slots=True)
class ItemHistory:
    """Collected while reading the events of a case; `name` is the item's short name."""

    item: str
    name: str
    first_called: Moment | None = None
    answers: list[Answer] = field(default_factory=list)
    mismatches: list[Mismatch] = field(default_factory=list)
    corrections: list[Correction] = field(default_factory=list)
    asked_again: int = 0
    _unanswered_call: Moment | None = None

    def take(self, record: Record, at: Moment) -> None:
        """One more event about this item."""
        match record:
            case rec.Called():
                self.first_called = self.first_called or at
                self._unanswered_call = at
            case rec.Answered():
                self._answered(record, at)
            case rec.Undone():
                self._end_answer(UNDONE, at)
                self._resolve(lambda one: True, outcome=UNDONE, outcome_at=at)
            case PlanChanged() | EquipmentChanged() | SectionAsked():
                self._end_answer(REOPENED, at)
                self._resolve(lambda one: one.outcome == OPEN, outcome=UNDONE, outcome_at=at)
            case rec.AskedAgain():
                self.asked_again += 1
            case rec.ReadBack(about="mismatch"):
                for finding in record.findings:
                    self._did_not_fit(finding, record.text, at)
            case rec.Corrected():
                self._corrected(record, at)
            case rec.Accepted():
                self._accepted(record, at)

    def _answered(self, record: rec.Answered, at: Moment) -> None:
        self._end_answer(REPLACED, at)
        call, self._unanswered_call = self._unanswered_call, None
        self.answers.append(
            Answer(
                record.answer,
                record.words,
                record.role,
                record.role_known_by,
                record.values,
                at,
                at.seconds_since(call) if call else None,
            )
        )
        if record.answer in {st.SAID_DONE, st.VALUE}:
            self._resolve(lambda one: one.outcome == OPEN, outcome=SETTLED, outcome_at=at)

    def _end_answer(self, how: str, at: Moment) -> None:
        if self.answers and not self.answers[-1].ended:
            self.answers[-1] = replace(self.answers[-1], ended=how, ended_at=at)

    def _did_not_fit(self, finding: Mapping[str, Any], text: str, at: Moment) -> None:
        if finding.get("severity") == "note":
            return
        found = Mismatch(
            self.item,
            self.name,
            str(finding.get("rule", "")),
            str(finding.get("severity", "")),
            str(finding.get("quantity", "")),
            finding.get("heard"),
            finding.get("expected"),
            str(finding.get("unit", "")),
            str(finding.get("sentence") or text),
            at,
            source=str(finding.get("source", "")),
            elsewhere=str(finding.get("elsewhere", "")),
        )
        for place, known in enumerate(self.mismatches):
            if _same(known, found):
                if known.outcome not in {OPEN, ACCEPTED}:
                    self.mismatches[place] = found
                else:
                    self.mismatches[place] = replace(known, times=known.times + 1)
                return
        self.mismatches.append(found)

    def _corrected(self, record: rec.Corrected, at: Moment) -> None:
        self.corrections.append(Correction(record.quantity, record.old, record.new, at))
        self._resolve(
            lambda one: (
                one.quantity == record.quantity
                and one.outcome in {OPEN, ACCEPTED}
                and not _says(record.new, one.heard)
            ),
            outcome=CORRECTED,
            outcome_at=at,
            new=record.new,
        )

    def _accepted(self, record: rec.Accepted, at: Moment) -> None:
        accepted = {
            "outcome": ACCEPTED,
            "outcome_at": at,
            "reason": record.reason,
            "role": record.role,
            "role_known_by": record.role_known_by,
        }

        def meant(one: Mismatch) -> bool:
            return one.quantity == record.quantity and one.heard == record.heard

        if not any(meant(one) for one in self.mismatches):  # never silent, whatever was read back
            self.mismatches.append(_never_read_back(self, record, at))
        self._resolve(meant, **accepted)

    def _resolve(self, which: Any, **outcome: Any) -> None:
        self.mismatches = [
            replace(one, **outcome) if which(one) else one for one in self.mismatches
        ]


def _same(one: Mismatch, other: Mismatch) -> bool:
    return (one.rule, one.quantity, one.heard) == (other.rule, other.quantity, other.heard)


def _says(said: Any, heard: Any) -> bool:
    """Whether a value (or a setting of value and control) still says what was heard."""
    if isinstance(said, Mapping) and not isinstance(heard, Mapping):
        return heard in said.values()
    return bool(said == heard)


def _never_read_back(history: ItemHistory, record: rec.Accepted, at: Moment) -> Mismatch:
    return Mismatch(
        history.item,
        history.name,
        "",
        "ask",
        record.quantity,
        record.heard,
        record.expected,
        record.unit,
        "",
        at,
    )
