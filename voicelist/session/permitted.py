"""What may be said now, as people would say it: for the display, never spoken. A value is shown by
its form alone, so that the display gives no expected value away."""

from __future__ import annotations

from voicelist.documents.checklist import Item
from voicelist.grammar.abnf import parse_expansion
from voicelist.grammar.readable import written
from voicelist.grammar.ruleset import RuleSet
from voicelist.grammar.syntax import Choice
from voicelist.session.case import ANSWER_KINDS, ANYTIME, CORRECT, LATER_ANYTIME, Case
from voicelist.session.flow_phrases import BEGIN, MILESTONE
from voicelist.session.order import active_phrases
from voicelist.session.state import State

_COMMAND = "command."
BETWEEN = "  ·  "
EVER = (*ANYTIME, *LATER_ANYTIME)


def answers_written(case: Case, item_id: str) -> str:
    """How an item may be answered."""
    return BETWEEN.join(answers_of(case.items[item_id], _rules(case)))


def answers_of(item: Item, rules: RuleSet) -> list[str]:
    """The same under rules, one phrase each. Settings by a phase's name are the same settings."""
    phrases = (getattr(item, kind) for kind in ANSWER_KINDS if kind != "by_name")
    nodes = (parse_expansion(phrase, item.id, 1, 1) for phrase in phrases if phrase)
    return [text for node in nodes if (text := written(node, rules))]


def help_lines(case: Case, state: State) -> tuple[str, ...]:
    """What may be said to what waits, and what at any time."""
    active = active_phrases(case, state)
    commands = [name.removeprefix(_COMMAND) for name in case.grammar.names if name in active]
    rules = _rules(case)
    now = [wording(one, rules) for one in commands if one not in EVER and ":" not in one]
    if state.asked and not state.held:
        now.insert(0, answers_written(case, state.asked))
    always = [wording(one, rules) for one in EVER if one in commands]
    always += [_correction(case, one) for one in commands if one.startswith(CORRECT)][:1]
    course = (one for one in commands if one.startswith((MILESTONE, BEGIN)))
    always += [case.grammar.examples(f"{_COMMAND}{one}")[0] for one in course]
    now, always = ([text for text in texts if text] for texts in (now, always))
    lines = [case.text("help-now", words=BETWEEN.join(now))] if now else []
    return (*lines, case.text("help-anytime", words=BETWEEN.join(always)))


def _correction(case: Case, command: str) -> str:
    """How an answer is corrected by its item's name: one item stands for all."""
    return case.grammar.examples(f"{_COMMAND}{command}")[0]


def wording(command: str, rules: RuleSet) -> str:
    """The first wording of a command; "" where the rules have none."""
    rule = rules.find(command, None)
    if rule is None:
        return ""
    body = rule.body
    one = body.parts[0] if isinstance(body, Choice) else body
    return written(one, rules, rule.place.file)


def _rules(case: Case) -> RuleSet:
    return case.natural.rules
