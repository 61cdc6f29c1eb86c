"""Answers in people's own words that are read back before they pass: a state alone for a stop item,
a value alone, whatever is only loosely an answer."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

from voicelist.grammar.match import Match
from voicelist.session.offers import own_words, telling_words
from voicelist.session.records import ReadBack
from voicelist.session.turn import Turn
from voicelist.session.values import value_said
from voicelist.understanding.interpretation import Unconfirmed

SHORT_ANSWER = "short-answer"
_KINDS = ("done", "fault")
_SHOWN_ALONE = "shown_alone"
_STATE_WORDS_AT_MOST = 4


def read_back(turn: Turn, heard: Unconfirmed) -> None:
    """What was heard, in a few words; "yes" passes it, a whole answer does so too."""
    item_id = heard.match.rule.rpartition(".")[0]
    text = turn.case.text("was-that", value=_shown(turn, item_id, heard.match))
    values = {"rule": heard.match.rule, "words": " ".join(heard.words)}
    turn.read_back(ReadBack(item_id, SHORT_ANSWER, text, (), values))


def agreed_to(turn: Turn, pending: ReadBack) -> Match | None:
    """The answer that was read back, once more from its words."""
    words = tuple(str(pending.values["words"]).split())
    return turn.case.natural.again(words, str(pending.values["rule"]))


def _shown(turn: Turn, item_id: str, match: Match) -> str:
    item = turn.item(item_id)
    if item.compare is not None:
        said = value_said(str(item.compare), match)
        return match.text if said is None else said.shown
    if item.each_role:
        return match.text
    return _state_words(turn, item_id, match.words)


def _without_links(turn: Turn, words: Sequence[str]) -> tuple[str, ...]:
    """Without "and" and the like before the state."""
    small = turn.case.room.function_words
    return tuple(itertools.dropwhile(lambda word: word in small, words))


def _state_words(turn: Turn, item_id: str, heard: Sequence[str]) -> str:
    """The words by which the good answer differs from the bad one, of several those that were
    heard; as the language shows a word such as "no" that says little alone."""
    grammar = turn.case.grammar
    names = {kind: f"{item_id}.{kind}" for kind in _KINDS}
    telling = telling_words(
        {kind: grammar.examples(name) for kind, name in names.items() if name in grammar.names}
    )
    states: list[Sequence[str]] = [
        _without_links(turn, own_words(telling, "done", words) or words)
        for _, words in telling["done"]
    ]
    said = [one for one in states if one and set(one) <= set(heard)]
    shortest = min(said or (one for one in states if one), key=len, default=())
    for shown, word in turn.case.natural.answers.tagged(_SHOWN_ALONE).items():
        if tuple(shortest) == (word,):
            return " ".join(shown)
    whole = telling["done"][0][0]
    return " ".join(shortest if 0 < len(shortest) <= _STATE_WORDS_AT_MOST else whole)
