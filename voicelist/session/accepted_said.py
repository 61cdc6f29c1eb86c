"""A mismatch that the surgeon accepts in words of one's own: "I accept that, shallow chamber". The
reason is kept as it was said; none need be given. What holds a denial, a doubt, a number or another
setting accepts nothing."""

from __future__ import annotations

from voicelist.grammar.match import Match
from voicelist.understanding.plain_speech import NaturalAnswers

Words = tuple[str, ...]
ACCEPT = "command.accept"
# Said without the word "surgeon": it counts from the surgeon's own microphone alone.
UNNAMED = "unnamed"
_REASON_WORDS_AT_MOST = 8
_KEEPS_FROM = ("negated", "doubtful", "later", "reported", "inverted", "quantity_name", "integer")
_QUANTITY, _REASON = "quantity_name", "accept_reason"


def accepted_said(answers: NaturalAnswers, said: Words) -> Match | None:
    """The acceptance in the words, with quantity and reason as far as they were said."""
    words = answers.without_openings(answers.written_out(said))
    if answers.asks_or_orders(words):
        return None
    for begins in ("surgeon_accepts", "accepts"):
        start = max(answers.ends(begins, words, 0), default=0)
        found = _of_what(answers, words, start) if start else None
        if found is not None:
            unnamed = () if begins == "surgeon_accepts" else (Match(UNNAMED, words[:start]),)
            return Match(ACCEPT, said, inside=(*unnamed, *found))
    return None


def _of_what(answers: NaturalAnswers, words: Words, start: int) -> tuple[Match, ...] | None:
    """The quantity and the reason behind the verb; None where something else is said."""
    end = max(answers.ends("what_is_accepted", words, start), default=start)
    tags = answers.tagged(_QUANTITY)
    named = next((one for one in tags if one and words[start:end][-len(one) :] == one), ())
    quantity = (Match(_QUANTITY, named, tags=(tags[named],)),) if named else ()
    behind = max(answers.ends("because", words, end), default=end)
    reason = words[behind:]
    if not reason and behind == end:
        return quantity
    return (*quantity, Match(_REASON, reason)) if _is_reason(answers, reason) else None


def _is_reason(answers: NaturalAnswers, words: Words) -> bool:
    if not words or len(words) > _REASON_WORDS_AT_MOST or answers.ends("is_or_has", words, 0):
        return False
    return not any(answers.around.holds_any(rule, words) for rule in _KEEPS_FROM)
