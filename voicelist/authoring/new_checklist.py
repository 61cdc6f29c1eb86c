"""A new checklist: a few items that pass `check` as they are, or items of one's own in brief."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from voicelist.authoring.templates import rendered
from voicelist.documents.names import ROLES
from voicelist.errors import UsageError

DEFAULT_ID = "my-checklist"
_CALL_WORDS_AT_MOST = 7
_NAMES = r"[a-z][a-z']*(?: [a-z][a-z']*)*"
_WORDS = re.compile(rf"{_NAMES}(?: ?\| ?{_NAMES})*")
_REASON = "Put the reason here, in plain words."


@dataclass(frozen=True, slots=True)
class NewItem:
    """What an item is about and its states; other names for one stand behind a bar."""

    thing: str
    good: str
    bad: str
    why: str = _REASON
    stop: bool = False

    @property
    def id(self) -> str:
        return re.sub(r"[^a-z]+", "-", _first(self.thing))

    @property
    def call(self) -> str:
        """Both states, then the thing; without its article where it gets too long."""
        good, bad, thing = (_first(one) for one in (self.good, self.bad, self.thing))
        states = f"{good[:1].upper()}{good[1:]} or {bad}"
        ways = (f"{states}: the {thing}?", f"{states}: {thing}?")
        short = [one for one in ways if len(one.split()) <= _CALL_WORDS_AT_MOST]
        if not short:
            raise UsageError(
                f'"{ways[1]}" has more than {_CALL_WORDS_AT_MOST} words: name the thing and its '
                "states in fewer."
            )
        return short[0]


# Examples of any room; their reasons are common practice, no source.
EXAMPLES = (
    NewItem(
        "suction | suction line",
        "working | strong",
        "weak | blocked",
        "Fluid has to leave the field when it must.",
        stop=True,
    ),
    NewItem("light source", "bright", "dim | dark", "What is not seen is not found."),
    NewItem(
        "instrument tray",
        "complete",
        "short | open",
        "What is missing is fetched before, not during.",
    ),
)


def new_item(text: str) -> NewItem:
    """`THING: GOOD / BAD`. Raises UsageError."""
    thing, colon, states = text.partition(":")
    good, slash, bad = states.partition("/")
    thing, good, bad = (" ".join(one.lower().split()) for one in (thing, good, bad))
    if not (colon and slash) or not all(map(_WORDS.fullmatch, (thing, good, bad))):
        raise UsageError(
            f'--item "{text}" is not understood: write a thing and two states in words, such as '
            '"suction: working / weak"; other names go behind a bar: "suction | suction line".'
        )
    return NewItem(thing, good, bad)


def new_role(text: str) -> tuple[str, str]:
    """`ID=NAME`, or the name alone: the role's id and what it is called. Raises UsageError."""
    before, equals, after = (one.strip().lower() for one in text.partition("="))
    name = " ".join((after if equals else before).split())
    role = before.replace(" ", "-")
    if not re.fullmatch(_NAMES, name) or not re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", role):
        raise UsageError(
            f'--role "{text}" is not understood: write a name in words, such as "doctor", or '
            '"endoscopy-nurse=nurse" for a role that is called otherwise.'
        )
    return role, name


def new_checklist(
    checklist_id: str = DEFAULT_ID,
    title: str = "",
    items: Sequence[str] = (),
    roles: Sequence[str] = (),
    language: str = "en-US",
) -> str:
    """The text of a checklist with comments. Raises UsageError for what is not understood."""
    own = dict(map(new_role, roles))
    made = tuple(map(new_item, items)) or EXAMPLES
    ids = [one.id for one in made]
    twice = next((one for one in ids if ids.count(one) > 1), None)
    if twice is not None:
        raise UsageError(f"Two items are about {twice.replace('-', ' ')}: name each thing once.")
    return rendered(
        "checklist.yaml.j2",
        checklist_id=checklist_id,
        title=title or checklist_id.replace("-", " ").capitalize(),
        items=made,
        roles=own,
        answerers=tuple(own) or ROLES[:1],
        shipped_roles=ROLES,
        language=language,
    )


def _first(names: str) -> str:
    return names.partition("|")[0].strip()
