"""How an item is asked again: shorter, by what was missing; then by example, which gives no value
away. After that the display shows it (`manners`)."""

from __future__ import annotations

from voicelist.documents.checklist import Item
from voicelist.documents.sentences import Sentences
from voicelist.session.case import sentence
from voicelist.session.natural import BARE_WORD, Natural
from voicelist.session.turn import Turn
from voicelist.understanding.interpretation import NotUnderstood, Unconfirmed

# What a call asks for stands before this mark, and the thing behind it.
_MARK = ":"
_ASKS = "?"
# By what is compared: the sentence that tells how its value is said.
_EXAMPLES = {
    "axis": "example-axis",
    "case-number": "example-case-number",
    "eye": "example-eye",
    "grade": "example-grade",
    "lens-power": "example-lens-power",
    "profile": "example-profile",
}


def is_ignored(turn: Turn, heard: NotUnderstood) -> bool:
    """A mere yes or no behind a request that waits for something else."""
    return heard.why == BARE_WORD and turn.state.pending is not None


def shorter(sentences: Sentences, item: Item) -> str:
    """The call without the thing, which was just named."""
    if item.compare == "eye" and _knows(sentences, "missing-eye"):
        return sentence(sentences, "missing-eye")
    asked, mark, _ = item.call.partition(_MARK)
    return f"{asked}{_ASKS}" if mark else item.call


def by_example(sentences: Sentences, item: Item) -> str:
    """How the item is answered, the choice left open. An older record has no sentence for it."""
    asked, mark, thing = item.call.partition(_MARK)
    thing = thing.strip().removesuffix(_ASKS) if mark else item.name
    key = _EXAMPLES.get(str(item.compare), "example-value" if item.asks_for_value else "")
    if not key:
        key = "example-choice" if mark else "example-whole"
    key = "example-role" if item.each_role else key
    if not _knows(sentences, key):
        return sentence(sentences, "asked-again", call=item.call)
    choice = asked[:1].lower() + asked[1:]
    return sentence(sentences, key, thing=thing, choice=choice, call=item.call)


def question(turn: Turn, item_id: str, heard: NotUnderstood) -> str:
    """The item's question for the second time, and for the third."""
    sentences, item = turn.case.bundle.sentences, turn.item(item_id)
    pending = turn.state.pending
    lacking = turn.case.natural.missing(heard.words, item_id)
    if lacking and _knows(sentences, lacking):
        return sentence(sentences, lacking)
    if pending is not None:
        return pending.text
    first = turn.standing(item_id).times_asked_again == 0
    return shorter(sentences, item) if first else by_example(sentences, item)


def part(turn: Turn, item_id: str, heard: NotUnderstood) -> str:
    """The words of a value that lacks something."""
    return " ".join(heard.words) if turn.case.natural.missing(heard.words, item_id) else ""


def with_part(turn: Turn, item_id: str, heard: NotUnderstood) -> Unconfirmed | None:
    """A value whose parts were said one after the other: it is read back."""
    pending, natural = turn.state.pending, turn.case.natural
    before = turn.standing(item_id).part
    if pending is not None and pending.about == "sign":
        before = str(pending.values.get("words", ""))
    said = tuple(before.split())
    if not said or not _completes(natural, heard.words, said, item_id):
        return None
    for words in ((*heard.words, *said), (*said, *heard.words)):
        match = natural.again(words, f"{item_id}.value")
        if match is not None:
            return Unconfirmed(match, words)
    return None


def _completes(
    natural: Natural, words: tuple[str, ...], said: tuple[str, ...], item_id: str
) -> bool:
    """Whether one of both has the number, and the other what it lacked."""
    now, before = natural.missing(words, item_id), natural.missing(said, item_id)
    return bool(now) and bool(before) and now != before


def _knows(sentences: Sentences, key: str) -> bool:
    return key in sentences.sentences
