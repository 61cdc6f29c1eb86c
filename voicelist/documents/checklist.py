"""A checklist: sections of items, each with the call that asks and the phrases that answer."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Annotated, Any

from pydantic import ConfigDict, Field

from voicelist.documents.base import (
    Call,
    Headed,
    LongerCall,
    Phrase,
    Slug,
    StrictModel,
    Text,
    Why,
    written_like,
)
from voicelist.documents.faults import Fault
from voicelist.documents.flow import WHEN_ASKED, Milestone, flow_faults, section_faults
from voicelist.documents.names import (
    EQUIPMENT,
    PHASES,
    ROLES,
    SURGEON,
    Begins,
    Compare,
    DependsOn,
    Order,
    Phase,
    When,
)
from voicelist.documents.raw_parts import Entry, entries, repeated
from voicelist.documents.wording import described, did_you_mean, one_of, quoted

_SAID = ("done", "fault", "stated", "choice", "details")
_VALUED = ("value", "compare", "phase", "planned", "by name")
RoleId = Annotated[
    str,
    *written_like(r"[a-z0-9]+(-[a-z0-9]+)*", "a role, such as surgeon"),
    Field(json_schema_extra={"examples": list(ROLES)}),
]
# As the speech model spells words: what a role is called aloud.
RoleName = Annotated[
    str,
    *written_like(r"[a-z][a-z'.-]*( [a-z][a-z'.-]*)*", "lower-case words that name the role"),
]
# A good state by which there is nothing of the thing: no words of it make an answer.
_NOTHING = "$none"
_SHAPES = 'expected either "done" (and perhaps "fault") or "value" with "compare"'
_SHAPE_SCHEMA = {
    "oneOf": [
        {
            "anyOf": [{"required": ["done"]}, {"required": ["thing", "good"]}],
            "not": {"anyOf": [{"required": [key]} for key in _VALUED]},
        },
        {
            "required": ["value", "compare"],
            "not": {"anyOf": [{"required": [key]} for key in _SAID]},
            "if": {"properties": {"compare": {"const": "profile"}}},
            "then": {"required": ["phase"]},
            "else": {"not": {"anyOf": [{"required": ["phase"]}, {"required": ["by name"]}]}},
            "allOf": [
                {
                    "if": {"properties": {"compare": {"const": "planned"}}},
                    "then": {"required": ["planned"]},
                    "else": {"not": {"required": ["planned"]}},
                }
            ],
        },
    ]
}


def _add_shapes(schema: dict[str, Any]) -> None:
    schema.update(_SHAPE_SCHEMA)


def _without_default(schema: dict[str, Any]) -> None:
    schema.pop("default", None)  # it follows from the id


class Item(StrictModel):
    """One thing to check. It is answered by saying that it is so (`done`, `fault`; `stated` for
    what is said aloud and not recorded, `choice` for entries of a closed list; `details` may be
    said besides and pass nothing) or by a value that
    is compared with the plan or the card (`value`, `compare`)."""

    model_config = ConfigDict(json_schema_extra=_add_shapes)

    id: Slug = Field(description="lower-case letters, digits and dashes")
    name: Text = Field(
        default="",
        description="the short spoken name; without it, the id with spaces for dashes",
        json_schema_extra=_without_default,
    )
    answered_by: Annotated[tuple[RoleId, ...], Field(strict=False, min_length=1)] = Field(
        alias="answered by", description="a list of at least one role"
    )
    call: Call = Field(description="text to speak, at most 7 words")
    longer_call: LongerCall | None = Field(
        default=None,
        alias="longer call",
        description="the call for a team's first cases; without it, call and why",
    )
    why: Why = Field(description="the reason for the check, at most 15 words")
    when: When | None = Field(
        default=None, description="when the item is due; without it, as its section"
    )
    each_role: bool = Field(
        default=False,
        alias="each role",
        description="true: each role that answers has to, before the item is through",
    )
    makes_due: dict[Text, Annotated[tuple[Slug, ...], Field(strict=False, min_length=1)]] = Field(
        default_factory=dict,
        alias="makes due",
        description="by kind of answer or by a tag of its phrase, a list of items it makes due",
    )
    depends_on: Annotated[tuple[DependsOn, ...], Field(strict=False)] = Field(
        default=(),
        alias="depends on",
        description="a list of what, changed in the plan or (equipment) the room, opens the item",
    )
    stop: bool = Field(default=False, description="true: cannot be deferred, a fault holds")
    not_applicable: bool = Field(
        default=False, alias="not applicable", description='true: "not applicable" may be said'
    )
    does_not_apply: Phrase | None = Field(
        default=None,
        alias="does not apply",
        description="a phrase with a reason, by its tag, for which the item does not apply",
    )
    again: Text | None = Field(
        default=None,
        description="a request, spoken alone where it was said not to be so; the display says what",
    )
    read_from: Text | None = Field(
        default=None, alias="read from", description="where the value is read: mark, printout, box"
    )
    done: Phrase | None = Field(
        default=None,
        description="a phrase that says it is so; without it, the thing and a good state",
    )
    fault: Phrase | None = Field(
        default=None,
        description="a phrase that says it is not so; without done too, the thing and a bad state",
    )
    stated: Phrase | None = Field(
        default=None, description="a phrase that says something was stated aloud"
    )
    choice: Phrase | None = Field(
        default=None, description="a phrase with entries of a closed list, by their tags"
    )
    details: Phrase | None = Field(
        default=None,
        description="a phrase with details that are checked and read back, and pass nothing",
    )
    thing: Phrase | None = Field(
        default=None, description="what the item is about, with the other names it goes by"
    )
    good: Phrase | None = Field(default=None, description="its good states, as people say them")
    bad: Phrase | None = Field(default=None, description="its bad states, as people say them")
    deed: Phrase | None = Field(
        default=None,
        description="what is done to it, as in: I have ..., with $object for the thing",
    )
    value: Phrase | None = Field(default=None, description="a phrase with the value")
    by_name: Phrase | None = Field(
        default=None,
        alias="by name",
        description="with compare: profile, a phrase that names the phase: said in any order",
    )
    short_value: Phrase | None = Field(
        default=None, alias="short value", description="a phrase with the value alone"
    )
    compare: Compare | None = Field(default=None, description="what the value is compared with")
    phase: Phase | None = Field(default=None, description="the phase whose profile is voiced")
    planned: Slug | None = Field(
        default=None,
        description='with "compare: planned": the key under "also" in the plan or its card',
    )

    @property
    def follows_equipment(self) -> bool:
        """Whether the item is due, and asked anew, when equipment was changed."""
        return EQUIPMENT in self.depends_on

    @property
    def says_itself(self) -> bool:
        """Whether its answer was made of its thing and its good states."""
        return self.thing is not None and self.done == f"({self.thing}) ({self.good})"

    @property
    def asks_for_value(self) -> bool:
        return self.value is not None

    @classmethod
    def filled(cls, raw: dict[str, Any]) -> dict[str, Any]:
        filled = dict(raw)
        if "name" not in raw and isinstance(raw.get("id"), str):
            filled["name"] = spoken_name(raw["id"])
        if _says_itself(raw):
            filled["done"] = f"({raw['thing']}) ({raw['good']})"
            if "fault" not in raw and isinstance(raw.get("bad"), str):
                filled["fault"] = f"({raw['thing']}) ({raw['bad']})"
        return filled

    @classmethod
    def whole_faults(cls, raw: Mapping[str, Any]) -> Iterator[Fault]:
        said = [key for key in _SAID if raw.get(key) is not None]
        valued = [key for key in _VALUED if raw.get(key) is not None]
        if said and valued:
            found = f"{quoted(valued[0])} beside {quoted(said[0])}"
            yield Fault((valued[0],), found, _SHAPES, at_key=True)
        elif valued:
            yield from _value_faults(raw)
        elif _says_itself(raw):
            pass
        elif not said:
            yield Fault((), "an item that nothing answers", _SHAPES)
        elif "done" not in raw:
            yield Fault((said[0],), f'{quoted(said[0])} without "done"', _SHAPES, at_key=True)
        yield from _planned_faults(raw)
        yield from _wording_faults(raw)
        if valued and raw.get("each role") is True:
            expected = 'expected "each role" where the item is answered by "done"'
            yield Fault(("each role",), '"each role" beside a value', expected, at_key=True)


def _says_itself(raw: Mapping[str, Any]) -> bool:
    """Whether an item without an answer of its own has a thing and a good state to make one of."""
    thing, good = raw.get("thing"), raw.get("good")
    if "done" in raw or any(raw.get(key) is not None for key in _VALUED):
        return False
    return isinstance(thing, str) and isinstance(good, str) and _NOTHING not in good


def _planned_faults(raw: Mapping[str, Any]) -> Iterator[Fault]:
    """An item that is due where it is planned has to compare something that may be planned."""
    if raw.get("when") == "planned" and raw.get("compare") not in ("profile", "planned"):
        found = '"when: planned" in an item that compares nothing of plan or card'
        yield Fault(("when",), found, 'expected it with "compare: profile" or "compare: planned"')


def _wording_faults(raw: Mapping[str, Any]) -> Iterator[Fault]:
    """States and deeds are those of a thing."""
    if "thing" not in raw:
        for key in ("good", "bad", "deed"):
            if key in raw:
                expected = "expected thing: what the item is about"
                yield Fault((key,), f'{quoted(key)} without "thing"', expected, at_key=True)
    if "short value" in raw and "value" not in raw:
        expected = 'expected "short value" beside "value" only: take it out'
        yield Fault(("short value",), '"short value" without "value"', expected, at_key=True)


def _value_faults(raw: Mapping[str, Any]) -> Iterator[Fault]:
    if "value" not in raw:
        key = next(key for key in ("compare", "phase", "planned", "by name") if key in raw)
        yield Fault((key,), f'{quoted(key)} without "value"', _SHAPES, at_key=True)
    elif "compare" not in raw:
        yield Fault(("value",), '"value" without "compare"', _SHAPES, at_key=True)
    if raw.get("compare") == "profile" and "phase" not in raw:
        expected = f"expected phase: {one_of(PHASES)}"
        yield Fault(("compare",), '"compare: profile" without "phase"', expected)
    if "phase" in raw and raw.get("compare") not in ("profile", None):
        expected = 'expected "phase" with "compare: profile" only: take it out'
        yield Fault(("phase",), '"phase" in a comparison without phases', expected, at_key=True)
    if "by name" in raw and raw.get("compare") not in ("profile", None):
        expected = 'expected "by name" with "compare: profile" only: take it out'
        yield Fault(("by name",), '"by name" in a comparison without phases', expected, at_key=True)
    if raw.get("compare") == "planned" and "planned" not in raw:
        expected = 'expected planned: a key that the plan has under "also"'
        yield Fault(("compare",), '"compare: planned" without "planned"', expected)
    if "planned" in raw and raw.get("compare") not in ("planned", None):
        expected = 'expected "planned" with "compare: planned" only: take it out'
        yield Fault(("planned",), '"planned" in another comparison', expected, at_key=True)


class Section(StrictModel):
    """Items that belong together, taken in `any` or in `fixed` order."""

    id: Slug = Field(description="lower-case letters, digits and dashes")
    name: Text = Field(description="what is spoken for the section")
    when: When = Field(default="every case", description="when the section is due")
    order: Order = Field(default="any", description="any or fixed")
    begins: Begins = Field(
        default="at once", description="at once, or when asked: the case waits until then"
    )
    start: Phrase | None = Field(
        default=None,
        description="with begins: when asked, the phrase that starts it; without it, by its name",
    )
    after: Annotated[tuple[Slug, ...], Field(strict=False)] = Field(
        default=(), description="milestones that are asked about once where they were not told"
    )
    goes_back: bool = Field(
        default=False,
        alias="goes back",
        description="true: a short list, started after time out; the case goes on where it was",
    )
    items: Annotated[tuple[Item, ...], Field(strict=False, min_length=1)] = Field(
        description="a list of at least one item"
    )

    @property
    def waits(self) -> bool:
        """Whether the section begins only when it is asked for."""
        return self.begins == WHEN_ASKED

    @classmethod
    def whole_faults(cls, raw: Mapping[str, Any]) -> Iterator[Fault]:
        yield from section_faults(raw)


class Checklist(Headed):
    """A checklist document."""

    id: Slug = Field(description="lower-case letters, digits and dashes")
    title: Text = Field(description="the title shown and printed")
    quiet_after: Slug | None = Field(
        default=None,
        alias="quiet after",
        description="the section after which a quiet case keeps read-backs to the display",
    )
    set_up_in: Slug | None = Field(
        default=None,
        alias="set-up in",
        description="the id of the checklist that takes the day's set-up",
    )
    roles: dict[RoleId, RoleName] = Field(
        default_factory=dict,
        description="the roles of this list, each with the words it is called by; without it, the "
        "five that ship",
    )
    milestones: Annotated[tuple[Milestone, ...], Field(strict=False)] = Field(
        default=(), description="a list of what the team tells of the operation, in order"
    )
    sections: Annotated[tuple[Section, ...], Field(strict=False, min_length=1)] = Field(
        description="a list of at least one section"
    )

    @property
    def role_names(self) -> tuple[str, ...]:
        """The roles that may answer: the list's own, or those that ship."""
        return tuple(self.roles) or ROLES

    def all_items(self) -> Iterator[tuple[Section, Item]]:
        """Every item with its section, in the document's order."""
        for section in self.sections:
            for item in section.items:
                yield section, item

    @classmethod
    def whole_faults(cls, raw: Mapping[str, Any]) -> Iterator[Fault]:
        sections = list(entries(raw, "sections"))
        items = [entry for path, section in sections for entry in entries(section, "items", path)]
        yield from repeated(sections, "id", "another id: each section needs its own")
        yield from repeated(items, "id", "another id: each item needs its own")
        quiet = raw.get("quiet after")
        if quiet is not None and quiet not in [section.get("id") for _, section in sections]:
            yield Fault(("quiet after",), described(quiet), "expected the id of a section")
        named = [(path, Item.filled(dict(item))) for path, item in items]
        yield from flow_faults(raw)
        yield from repeated(named, "name", "another name: an answer is corrected by its name")
        yield from _role_faults(raw, items)


def _role_faults(raw: Mapping[str, Any], items: Sequence[Entry]) -> Iterator[Fault]:
    """Roles that the list does not have, two that are called alike, and settings that nobody could
    confirm."""
    declared = raw.get("roles")
    own = declared if isinstance(declared, dict) else {}
    known = tuple(map(str, own)) or ROLES
    for path, item in items:
        roles = item.get("answered by")
        for at, role in enumerate(roles if isinstance(roles, list | tuple) else ()):
            if isinstance(role, str) and role not in known:
                expected = f"{did_you_mean(role, known)}expected {one_of(known)}"
                yield Fault((*path, "answered by", at), described(role), expected)
        if item.get("compare") == "profile" and SURGEON not in known:
            found = 'settings in a list without the role "surgeon"'
            yield Fault((*path, "compare"), found, "expected surgeon among roles: it confirms them")
    first: dict[str, str] = {}
    for role, name in own.items():
        other = first.setdefault(str(name), str(role))
        if other != role:
            expected = "expected words of its own for each role"
            yield Fault(("roles", role), f"the name {quoted(str(name))} of {other} too", expected)


def spoken_name(item_id: str) -> str:
    return item_id.replace("-", " ")
