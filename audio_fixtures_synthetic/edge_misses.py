"""More sentences that are no answer: a word of other talk at an answer's edge, sentences broken off
or begun too late, and what the assistant itself says, should a microphone hear it.

A pure function of the checklist, the plan, the catalogue of sentences and a fixed seed; as with the
others, nothing that it makes is removed because it passed.
"""

from __future__ import annotations

import random
import re
from collections.abc import Iterator

from clips import NONE, Text
from near_misses import (
    ADDED,
    ANY_ANSWER,
    WHOLLY_ADDED,
    Parts,
    items_asked,
    parts_of,
)

from voicelist.documents.bundle import Bundle
from voicelist.documents.checklist import Item

SEED = 21

# {D} is the answer. The word before or behind it is none that says nothing ("please", "okay"), but
# one of somebody's other sentence.
_EDGES = (
    "{D} next",
    "say {D}",
    "{D} first",
    "need {D}",
    "their {D}",
    "{D} there",
    "want {D}",
    "get {D}",
    "{D} yesterday",
    "another {D}",
    "{D} at nine",
    "{D} for him",
    "{D} again",
    "{D} needed",
)
_EDGES_OF_EACH = 4
_NO_WORD = re.compile(r"[^a-z' ]+")


def edge_misses(bundle: Bundle, *, added: str = "") -> list[Text]:
    """All of them: at the edges and broken off for each stop item, then the assistant's own; with
    `added` those of a stop item that came later."""
    chance = random.Random(SEED)
    texts: list[Text] = []
    items = items_asked(bundle.checklist, bundle.plan)
    chosen = [one for one in items if (one.id == added if added else one.id not in ADDED)]
    parts = {item.id: parts_of(item, bundle.plan) for item in chosen if item.stop}
    for item_id, own in parts.items():
        for form in chance.sample(_EDGES, k=_EDGES_OF_EACH):
            texts.append(_miss(item_id, "edge-word", form.format(D=own.done)))
        for said in _broken_off(own):
            texts.append(_miss(item_id, "broken-off", said))
    for item in chosen if added else (one for one in items if one.id not in WHOLLY_ADDED):
        messages = list(_own_messages(bundle, item, parts.get(item.id)))
        if added and item.id not in WHOLLY_ADDED:
            messages = messages[1:]  # the call stands among the others'
        texts += (_miss(item.id, "own-message", said) for said in messages)
    return texts


def _miss(item_id: str, family: str, said: str) -> Text:
    return Text(item_id, family, said, NONE, ANY_ANSWER)


def _broken_off(own: Parts) -> Iterator[str]:
    """Left hanging, begun too late, begun again and left."""
    words = own.done.split()
    if not own.state:
        yield " ".join(words[:-1])
        yield f"{words[0]} {words[-1]}"
        yield f"{own.thing.split()[0]} {own.thing}"
        return
    yield f"{own.thing} and"
    # Of two words the second alone is among the halves; turned round they are no answer either.
    yield " ".join(words[1:] if len(words) > 2 else words[::-1])
    yield f"{words[0]} {own.thing}"


def _own_messages(bundle: Bundle, item: Item, own: Parts | None) -> Iterator[str]:
    """The call; of a stop item also why it is asked, and its answer offered."""
    messages = [item.call]
    if own is not None:
        messages += (item.why, bundle.sentences.text("did-you-mean", offer=own.done))
    for message in messages:
        yield " ".join(_NO_WORD.sub(" ", message.lower()).split())
