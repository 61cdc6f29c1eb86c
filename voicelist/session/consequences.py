"""What an answer makes due: items that are asked because of what was said earlier in the case."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from voicelist.documents.checklist import Item
from voicelist.grammar.grammar import Grammar
from voicelist.session import state as st

# The kind of phrase that gives each answer, as "makes due" names it.
KIND_OF = {
    st.SAID_DONE: "done",
    st.SAID_FAULT: "fault",
    st.STATED: "stated",
    st.VALUE: "choice",
    st.NOT_APPLICABLE: "does not apply",
}


def made_due(item: Item, answer: str, words: str, grammar: Grammar) -> tuple[str, ...]:
    """The items that an answer makes due: by its kind, or by a tag of its phrase."""
    if not item.makes_due:
        return ()
    keys = {KIND_OF.get(answer, ""), *_tags(item, answer, words, grammar)}
    named = [one for key, items in item.makes_due.items() if key in keys for one in items]
    return tuple(dict.fromkeys(named))


def _tags(item: Item, answer: str, words: str, grammar: Grammar) -> Iterator[str]:
    root = f"{item.id}.{KIND_OF.get(answer, '').replace(' ', '_')}"
    for match in grammar.parses(words.split()):
        if match.rule == root:
            yield from (tag for one in match.walk() for tag in one.tags)


def is_made_due(item_id: str, items: Mapping[str, st.ItemState]) -> bool:
    """Whether an answer that stands makes an item due."""
    return any(item_id in one.makes_due for one in items.values())
