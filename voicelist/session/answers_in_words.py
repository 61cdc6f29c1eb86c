"""How what waits may be answered, as one person tells another: for displays, never spoken.

Of each kind of answer one wording, the surest. A value is shown by its form alone, with every
choice or none, so that nothing gives an expected value away.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterable, Iterator

from voicelist.documents.checklist import Item
from voicelist.grammar.abnf import parse_expansion
from voicelist.grammar.ruleset import RuleSet, is_number_rule, is_signed
from voicelist.grammar.syntax import Choice, Node, Reference, Repeat, Sequence, Token
from voicelist.session.case import READ_BACK_ANSWERS, Case
from voicelist.session.flow_phrases import BEGIN, MILESTONE
from voicelist.session.order import active_phrases
from voicelist.session.records import ReadBack
from voicelist.session.state import State

NUMBER = "(a number)"
SIGNED_NUMBER = f"plus or minus {NUMBER}"
SETTINGS = "each setting, then its number: power, vacuum, flow ..."
CHANGE_OF_PLAN = "change of plan, then what, its new value, and from which document"
# More choices than this are not read in passing; the first ones stand for the others.
_CHOICES_SHOWN = 6
_OF_MANY = 3
_WORDINGS_AT_MOST = 24
_WORD = re.compile(r"[a-z']+")
# Answers that name nothing of which one is expected: one wording stands for all.
_ONE_WORDING = ("done", "fault", "stated")
_EVERY_CHOICE = ("value", "choice", "does_not_apply")
_LATER_SAID = ("agree_to_change", "keep_plan", "begin_now", "not_yet")


def answers_in_words(case: Case, state: State) -> tuple[str, ...]:
    """The wordings of what may be said to what waits now, the likeliest first; () where nothing
    waits."""
    if state.closed:
        return ()
    if state.held:
        return tuple(_command("carry_on", case.natural.rules))
    if state.pending is not None:
        return tuple(_to_read_back(case, state, state.pending))
    if state.current:
        return answers_to_item(case, state.current)
    return tuple(_of_the_course(case, state))


def answers_to_item(case: Case, item_id: str) -> tuple[str, ...]:
    """The wordings of the answers that an item takes."""
    return tuple(dict.fromkeys(_of_item(case.items[item_id], case.natural.rules)))


def _of_item(item: Item, rules: RuleSet) -> Iterator[str]:
    if item.compare == "profile":
        yield SETTINGS
        return
    for kind in (*_ONE_WORDING, *_EVERY_CHOICE):
        phrase = getattr(item, kind)
        if not phrase:
            continue
        node = parse_expansion(phrase, item.id, 1, 1)
        if kind in _EVERY_CHOICE:
            yield _plain(node, rules, None)
        else:
            wordings = itertools.islice(_wordings(node, rules, None), _WORDINGS_AT_MOST)
            yield from wordings if item.each_role else _telling(wordings, item.call)


def _telling(wordings: Iterable[str], call: str) -> Iterator[str]:
    """The first wording, and those that hold a word of the call which none before them held: "wide"
    and "small" of a pupil are both answers, and the display prefers none."""
    asked = set(_WORD.findall(call.lower()))
    said: set[str] = set()
    for wording in wordings:
        words = asked & set(wording.split())
        if not said or words - said:
            yield wording
        said |= words | {wording}


def _to_read_back(case: Case, state: State, pending: ReadBack) -> Iterator[str]:
    active = active_phrases(case, state)
    for name in (*READ_BACK_ANSWERS, *_LATER_SAID):
        if f"command.{name}" not in active or (name == "accept" and not _acceptable(pending)):
            continue
        if name == "accept":
            yield from _acceptances(case, pending)
        else:
            yield from _command(name, case.natural.rules)
    if pending.about == "plan-part":
        yield CHANGE_OF_PLAN
    if pending.item:
        yield from answers_to_item(case, pending.item)


def _acceptable(pending: ReadBack) -> bool:
    return any(one["severity"] == "ask" for one in pending.findings)


def _acceptances(case: Case, pending: ReadBack) -> Iterator[str]:
    reasons = case.natural.rules.find("accept_reason", None)
    for finding in pending.findings[:1]:
        if finding["severity"] == "ask" and reasons is not None:
            name = case.quantity_name(str(finding["quantity"]))
            why = _plain(reasons.body, case.natural.rules, reasons.place.file)
            yield f"surgeon accepts the {name} because of {why}"


def _of_the_course(case: Case, state: State) -> Iterator[str]:
    """While it is quiet: how the section that waits is asked for, and the milestones that were not
    told."""
    active = active_phrases(case, state)
    sections = {one.id: one for one in case.bundle.checklist.sections}
    for name in case.grammar.names:
        kind, _, which = name.removeprefix("command.").partition(":")
        if name not in active:
            continue
        begins = f"{kind}:" == BEGIN and not sections[which].goes_back
        tells = f"{kind}:" == MILESTONE and which not in state.milestones
        if begins or tells:
            yield case.grammar.examples(name)[0]


def _command(name: str, rules: RuleSet) -> Iterator[str]:
    rule = rules.find(name, None)
    if rule is not None:
        yield from itertools.islice(_wordings(rule.body, rules, rule.place.file), 1)


def _wordings(node: Node, rules: RuleSet, scope: str | None) -> Iterator[str]:
    """The wordings of a phrase without what may be left out, in order."""
    match node:
        case Choice():
            for part in node.parts:
                yield from _wordings(part, rules, scope)
        case Sequence():
            every = (list(_some(one, rules, scope)) for one in node.parts)
            for words in itertools.product(*every):
                yield " ".join(filter(None, words))
        case Reference():
            rule = rules.find(node.name, scope)
            if rule is None or is_number_rule(rule):
                yield _plain(node, rules, scope)
            else:
                yield from _wordings(rule.body, rules, rule.place.file)
        case _:
            yield _plain(node, rules, scope)


def _some(node: Node, rules: RuleSet, scope: str | None) -> Iterator[str]:
    """The wordings of a part; of many, what they are instead."""
    few = list(itertools.islice(_wordings(node, rules, scope), _CHOICES_SHOWN + 1))
    return iter(few if len(few) <= _CHOICES_SHOWN else [f"({_plain(node, rules, scope)})"])


def _plain(node: Node, rules: RuleSet, scope: str | None) -> str:
    """All choices of a phrase in one line, without what may be left out."""
    match node:
        case Token():
            return node.text
        case Reference():
            return _named(node, rules, scope)
        case Sequence():
            return " ".join(filter(None, (_plain(one, rules, scope) for one in node.parts)))
        case Choice():
            return _choice(node, rules, scope)
        case Repeat(least=1):
            return _plain(node.part, rules, scope)
        case Repeat(least=least) if least > 1:
            return f"({_plain(node.part, rules, scope)}; {least} times)"
        case _:
            return ""


def _choice(node: Choice, rules: RuleSet, scope: str | None) -> str:
    texts = list(dict.fromkeys(_plain(one, rules, scope) for one in node.parts))
    # "plus or minus a number" stands for the bare number too, which is asked about.
    shorter = {one for one in texts for other in texts if one != other and one in other}
    texts = [one for one in texts if one and one not in shorter]
    if len(texts) > _CHOICES_SHOWN:
        return ", ".join((*texts[:_OF_MANY], "..."))
    return ", ".join(texts[:-1]) + " or " + texts[-1] if len(texts) > 1 else "".join(texts)


def _named(node: Reference, rules: RuleSet, scope: str | None) -> str:
    rule = rules.find(node.name, scope)
    if rule is None:
        return ""
    if is_number_rule(rule):
        return SIGNED_NUMBER if is_signed(rule) else NUMBER
    return _plain(rule.body, rules, rule.place.file)
