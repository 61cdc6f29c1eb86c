"""What may be said now, written out for people: for the display, never spoken. A value is shown by
its form alone, so that the display gives no expected value away."""

from __future__ import annotations

from voicelist.phrases.abnf import parse_expansion
from voicelist.phrases.ruleset import RuleSet
from voicelist.phrases.syntax import Choice
from voicelist.phrases.written import written
from voicelist.session.case import ANSWER_KINDS, ANYTIME, LATER_ANYTIME, Case
from voicelist.session.flow_phrases import BEGIN, MILESTONE
from voicelist.session.order import active_phrases
from voicelist.session.state import State

_COMMAND = "command."
_BETWEEN = "  ·  "
# Follows the words that ask for it; too long for a line that should help.
_LEFT_OUT = ("change_plan",)


def answers_written(case: Case, item_id: str) -> str:
    """How an item may be answered."""
    item, rules = case.items[item_id], _rules(case)
    phrases = (getattr(item, kind) for kind in ANSWER_KINDS)
    nodes = (parse_expansion(phrase, item_id, 1, 1) for phrase in phrases if phrase)
    return _BETWEEN.join(written(node, rules) for node in nodes)


def help_lines(case: Case, state: State) -> tuple[str, ...]:
    """What may be said to what waits, and what at any time."""
    active = active_phrases(case, state)
    permitted = (name for name in case.grammar.names if name in active)
    commands = [one.removeprefix(_COMMAND) for one in permitted if one.startswith(_COMMAND)]
    anytime = (*ANYTIME, *LATER_ANYTIME)
    rules = _rules(case)
    now = [_wording(one, rules) for one in commands if one not in anytime and ":" not in one]
    asked = state.asked
    if asked and not state.held:
        now.insert(0, answers_written(case, asked))
    always = [_wording(one, rules) for one in anytime if one in commands and one not in _LEFT_OUT]
    course = (one for one in commands if one.startswith((MILESTONE, BEGIN)))
    always += [case.grammar.examples(f"{_COMMAND}{one}")[0] for one in course]
    lines = [case.text("help-now", words=_BETWEEN.join(now))] if now else []
    return (*lines, case.text("help-anytime", words=_BETWEEN.join(always)))


def _wording(command: str, rules: RuleSet) -> str:
    """The first wording of a command; all of an answer to a read-back that waits."""
    rule = rules.find(command, None)
    if rule is None:
        return ""
    body = rule.body
    one = body.parts[0] if isinstance(body, Choice) else body
    return written(one, rules, rule.place.file)


def _rules(case: Case) -> RuleSet:
    return case.natural.rules
