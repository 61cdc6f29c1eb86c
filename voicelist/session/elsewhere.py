"""Answers to other items than the one that is asked: told apart from talk, and never taken."""

from __future__ import annotations

from voicelist.session.case import Case
from voicelist.session.order import active_phrases, open_items
from voicelist.session.state import State
from voicelist.understanding.context import Context


def answered_elsewhere(case: Case, state: State, words: tuple[str, ...]) -> tuple[str, ...]:
    """The items of which the words are whole answers though no such answer is permitted now: one,
    or several in one breath, in the order said."""
    every = frozenset(name for name in case.grammar.names if _item_of(name) in case.items)
    rules = [match.rule for match in case.grammar.parses(words) if match.rule in every]
    if not rules:
        together = Context(case.grammar, frozenset(), case.room, every).permitted_together(words)
        rules = [match.rule for match in together]
    elif active_phrases(case, state).intersection(rules):
        return ()
    return tuple(dict.fromkeys(map(_item_of, rules)))


def comes_later(case: Case, state: State, item_id: str) -> bool:
    """Whether an item that is not asked now still will be."""
    return item_id in open_items(case, state)


def _item_of(root: str) -> str:
    return root.partition(".")[0]
