"""The questions of a review, each one expression of Ibis over the tables.

Groups stand in the order of their names or of time, never of their results: nobody is ranked.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from voicelist.errors import UsageError

if TYPE_CHECKING:
    import ibis.expr.types as ir

Tables = Mapping[str, Any]

# Tells cases apart, in each table: what that is, the engine knows best.
KEY: Final = "key"
WEEK, THEATRE, CHECKLIST, ITEM, ROLE = "week", "theatre", "checklist", "item", "role"
GROUPS: Final[Mapping[str, tuple[str, ...]]] = {
    WEEK: ("week",),
    THEATRE: ("theatre",),
    CHECKLIST: ("checklist", "documents"),
    ITEM: ("section", "item"),
    ROLE: ("role",),
}
# Words that were said in fewer cases are not shown: they may tell who spoke. Project choice.
WORDS_IN_AT_LEAST: Final = 3
_PASSED = ("said-done", "value", "stated", "not-applicable")


@dataclass(frozen=True, slots=True)
class Question:
    """`by` are the groups that it can be asked by, the usual one first. `share` names the counts of
    a proportion (count, of) that gets an interval."""

    name: str
    title: str
    about: str
    by: tuple[str, ...]
    ask: Callable[[Tables, tuple[str, ...]], ir.Table]
    share: tuple[str, str] | None = None
    # Where fewer cases than for other groups are enough, because no group of people is shown.
    at_least: int | None = None
    # On the page at most so many rows of each group; all of them stand in the file beside it.
    on_page: int | None = None

    def groups(self, by: str | None) -> tuple[str, ...]:
        """The columns to group by. Raises UsageError for a group that does not fit."""
        chosen = by or self.by[0]
        if chosen not in self.by:
            raise UsageError(
                f"{self.name} cannot be asked by {chosen}: choose one of {', '.join(self.by)}."
            )
        return GROUPS[chosen]


@dataclass(frozen=True, slots=True)
class _Spread:
    """Median and 90th percentile of a column, read from it at once."""

    column: Any


def _grouped(table: Any, groups: tuple[str, ...], *, once: bool = False, **measures: Any) -> Any:
    """Groups in their order with their cases and measures. `once` says that a case has no more than
    one row in a group, so that rows count cases; else the cases of a group are told apart."""
    cases = table.count() if once else table[KEY].nunique()
    asked = {
        name: one.column.quantile([0.5, 0.9]) if isinstance(one, _Spread) else one
        for name, one in measures.items()
    }
    counted = table.group_by(list(groups)).aggregate(cases=cases, **asked)
    shown: dict[str, Any] = {}
    for name, one in measures.items():
        if isinstance(one, _Spread):
            shown[f"{name}_median"], shown[f"{name}_p90"] = counted[name][0], counted[name][1]
        else:
            shown[name] = counted[name]
    return counted.select(*groups, "cases", **shown).order_by(list(groups))


def _tallied(table: Any, groups: tuple[str, ...], **measures: Any) -> Any:
    """Groups in their order with their cases and measures that add up: first case by case, then
    over the cases. Where there are many groups the engine inside this process puts that aside more
    easily than a count of distinct cases."""
    each = table.group_by([*groups, KEY]).aggregate(**measures)
    summed = {name: each[name].sum() for name in measures}
    counted = each.group_by(list(groups)).aggregate(cases=each.count(), **summed)
    return counted.order_by(list(groups))


def _time(tables: Tables, groups: tuple[str, ...]) -> Any:
    items = tables["items"]
    asked = items.filter(items.due & (items.calls > 0))
    return _grouped(
        asked,
        groups,
        once="item" in groups,
        answers=asked.call_to_answer_s.count(),
        call_to_answer_s=_Spread(asked.call_to_answer_s),
        wait_s=_Spread(asked.wait_s),
        held_s=_Spread(asked.held_s),
    )


def _sections(tables: Tables, groups: tuple[str, ...]) -> Any:
    steps = tables["milestones"]
    closed = steps.filter((steps.kind == "section-closed") & steps.lasted_s.notnull())
    closed = closed.mutate(section=closed["name"])
    names = tuple(dict.fromkeys(("section" if one == "item" else one) for one in groups))
    if "section" not in names:
        names = (*names, "section")
    return _grouped(closed, names, times=closed.count(), lasted_s=_Spread(closed.lasted_s))


def _for_us(tables: Tables) -> Any:
    said = tables["utterances"]
    return said.filter(said.status.isin(["understood", "not-understood"]) & (said.item != ""))


def _asked_again(tables: Tables, groups: tuple[str, ...]) -> Any:
    said = _for_us(tables)
    measures = {
        "utterances": said.count(),
        "not_understood": (said.status == "not-understood").sum(),
        "asked_again": said.asked_again.sum(),
    }
    if "item" not in groups:
        return _grouped(said, groups, **measures)
    # To tell apart the cases of each item among all utterances takes longer than all else together:
    # an item has one row in a case that asked it.
    items = tables["items"]
    asked = items.filter(items.calls > 0)
    asked = asked.group_by(list(groups)).aggregate(cases=asked.count())
    counted = said.group_by(list(groups)).aggregate(**measures)
    both = counted.left_join(asked, list(groups))
    found = both.select(*groups, *measures, cases=both.cases.fill_null(0))
    return found.select(*groups, "cases", *measures).order_by(list(groups))


def _phrases(tables: Tables, groups: tuple[str, ...]) -> Any:
    said = _for_us(tables)
    phrase = said.filter(said.rule != "")
    unclear = (phrase.status == "not-understood") | phrase.asked_again
    counted = phrase.group_by([*groups, "rule"]).aggregate(
        cases=phrase[KEY].nunique(where=unclear),
        utterances=phrase.count(),
        not_understood=(phrase.status == "not-understood").sum(),
        asked_again=phrase.asked_again.sum(),
    )
    return counted.filter(counted.cases > 0).order_by([*groups, "rule"])


def _talk(tables: Tables, groups: tuple[str, ...]) -> Any:
    said = _for_us(tables)
    voiced = said.filter(said.by == "voice")
    voiced = voiced.mutate(
        talk=(voiced.talk_before > 0).ifelse("talk in the 30 s before", "no talk before")
    )
    return _grouped(
        voiced,
        (*groups, "talk"),
        utterances=voiced.count(),
        not_understood=(voiced.status == "not-understood").sum(),
        asked_again=voiced.asked_again.sum(),
    )


def _wordings(tables: Tables, groups: tuple[str, ...]) -> Any:
    said = _for_us(tables)
    unclear = said.filter((said.status == "not-understood") & (said.words != ""))
    counted = _tallied(unclear, (*groups, "words"), times=unclear.count())
    return counted.order_by([*groups, counted.times.desc(), "words"])


def _mismatches(tables: Tables, groups: tuple[str, ...]) -> Any:
    found = tables["mismatches"]
    outcomes = ("accepted", "corrected", "settled", "undone", "open")
    return _grouped(
        found,
        (*groups, "rule", "severity"),
        mismatches=found.count(),
        **{name: (found.outcome == name).sum() for name in outcomes},
        to_outcome_s_median=found.to_outcome_s.quantile(0.5),
    )


def _reported(tables: Tables, groups: tuple[str, ...]) -> Any:
    items = tables["items"]
    stop = items.filter(items.stop & items.due & (items.calls > 0))
    return _grouped(
        stop,
        groups,
        once="item" in groups,
        asked=stop.count(),
        reported=(stop.faults > 0).sum(),
        reports=stop.faults.sum(),
    )


def _prompts(tables: Tables, groups: tuple[str, ...]) -> Any:
    items = tables["items"]
    asked = items.filter(items.due & (items.calls > 0))
    return _grouped(
        asked,
        groups,
        once="item" in groups,
        asked=asked.count(),
        prompted=(asked.prompts > 0).sum(),
        prompts=asked.prompts.sum(),
    )


def _left(tables: Tables, groups: tuple[str, ...]) -> Any:
    items = tables["items"]
    due = items.filter(items.due)
    return _grouped(
        due,
        groups,
        once="item" in groups,
        due=due.count(),
        not_passed=due.status.notin(list(_PASSED)).sum(),
        left_for_later=(due.deferred > 0).sum(),
        not_applicable=(due.status == "not-applicable").sum(),
        not_asked=(due.status == "not-asked").sum(),
    )


def _time_out(tables: Tables, groups: tuple[str, ...]) -> Any:
    cases = tables["cases"]
    told = cases.answered_before_incision.notnull()
    return _grouped(
        cases,
        groups,
        once=True,
        time_out_s=_Spread(cases.time_out_s),
        incision_told=told.sum(),
        all_answered_before=(cases.answered_before_incision == cases.items_before_incision).sum(),
        items_due_before=told.ifelse(cases.items_before_incision, 0).sum(),
        items_answered_before=cases.answered_before_incision.sum(),
    )


def _change(tables: Tables, groups: tuple[str, ...]) -> Any:
    cases = tables["cases"]
    counted = _grouped(
        cases,
        groups,
        once=True,
        first_day=cases.day.min(),
        last_day=cases.day.max(),
        duration_s=_Spread(cases.duration_s),
        time_out_s=_Spread(cases.time_out_s),
        utterances=cases.utterances.sum() - cases.not_for_us.sum(),
        asked_again=cases.asked_again.sum(),
        mismatches=cases.mismatches.sum(),
    )
    return counted.order_by(["checklist", "first_day", "documents"])


_EVERY = (ITEM, WEEK, THEATRE, CHECKLIST, ROLE)
_ITEMS = (ITEM, WEEK, THEATRE, CHECKLIST)
_CASES = (WEEK, THEATRE, CHECKLIST)
_AGAIN = ("asked_again", "utterances")

QUESTIONS: Final[Mapping[str, Question]] = {
    one.name: one
    for one in (
        Question(
            "time",
            "Where does the time go, item by item?",
            "Seconds from the call to the answer that stands, from the end of the call to the "
            "first word (the wait), and in which the item was the one asked about.",
            _EVERY,
            _time,
        ),
        Question(
            "sections",
            "How long does each section take?",
            "Seconds from its opening to its closing, in one start of the program.",
            _ITEMS,
            _sections,
        ),
        Question(
            "asked-again",
            "Which answers are not understood?",
            "Utterances about an item, those not understood, those after which it was asked again; "
            "cases in which it was asked.",
            _EVERY,
            _asked_again,
            _AGAIN,
        ),
        Question(
            "phrases",
            "Which phrases are asked again?",
            "The same by the phrase that was matched or came near; cases are those in which it was "
            f"not understood or asked again, at least {WORDS_IN_AT_LEAST} of them.",
            _EVERY,
            _phrases,
            _AGAIN,
            at_least=WORDS_IN_AT_LEAST,
        ),
        Question(
            "talk",
            "Does talk in the room make answers unclear?",
            "The same by whether there was talk in the 30 s before. A record keeps no level of "
            "noise: talk that was heard is all that it knows.",
            (WEEK, THEATRE, CHECKLIST, ITEM, ROLE),
            _talk,
            _AGAIN,
        ),
        Question(
            "wordings",
            "In which words was it said that were not understood?",
            "Words that were not understood, where they were said in at least "
            f"{WORDS_IN_AT_LEAST} cases.",
            (ITEM, THEATRE, CHECKLIST),
            _wordings,
            at_least=WORDS_IN_AT_LEAST,
            on_page=3,
        ),
        Question(
            "mismatches",
            "What did not fit, and how did it end?",
            "Values that were read back because they did not fit, by the rule and the outcome.",
            _ITEMS,
            _mismatches,
        ),
        Question(
            "reported",
            "Which stop items are reported not right?",
            "Stop items that were asked, and in how many of those times a fault was reported.",
            _EVERY,
            _reported,
            ("reported", "asked"),
        ),
        Question(
            "prompts",
            "Where does the assistant have to prompt?",
            "Items that were asked, and those with a prompt after a silence.",
            _EVERY,
            _prompts,
            ("prompted", "asked"),
        ),
        Question(
            "left",
            "What is left for later, or does not apply?",
            "Items that applied, those without an answer that passes at the end, and those that "
            "were left for later at least once.",
            _ITEMS,
            _left,
            ("not_passed", "due"),
        ),
        Question(
            "time-out",
            "How long is time out, and was everything asked before the incision?",
            "Seconds of time out; cases in which the incision was told as it happened, and those "
            "of them in which every item before it had its answer.",
            _CASES,
            _time_out,
            ("all_answered_before", "incision_told"),
        ),
        Question(
            "change",
            "Did a new checklist change anything?",
            "The versions of each checklist, one below the other in the order of their first day.",
            (CHECKLIST,),
            _change,
            _AGAIN,
        ),
    )
}
