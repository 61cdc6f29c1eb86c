"""The documents of one case, as its journal embeds them. Pure: no file is read here."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from pydantic import ValidationError

from voicelist.documents.base import Headed
from voicelist.documents.card import NO_CARD
from voicelist.documents.earlier import as_now
from voicelist.documents.faults import problems_of
from voicelist.documents.limits import OWN_LIMITS
from voicelist.documents.marks import Place, Places, YamlPath
from voicelist.documents.models import MODELS, Card, Checklist, Lexicon, Plan, Sentences, SiteLimits
from voicelist.documents.names import KINDS, Part
from voicelist.documents.wording import quoted
from voicelist.errors import DocumentError, Problem

BUNDLE_FORMAT = 1
_OTHERS = "others"


@dataclass(frozen=True, slots=True)
class Bundle:
    """The documents of one case. `others` has the case numbers of the other plans in the plan's
    folder, by case code. `places` and `notes` serve messages only and are no part of its value."""

    checklist: Checklist
    card: Card
    plan: Plan
    rules: Mapping[str, str]
    lexicon: Lexicon
    sentences: Sentences
    limits: SiteLimits = OWN_LIMITS
    others: Mapping[str, int] = field(default_factory=dict)
    places: Mapping[str, Places] = field(default_factory=dict, compare=False, repr=False)
    notes: tuple[Problem, ...] = field(default=(), compare=False, repr=False)

    def place_of(self, part: Part, path: YamlPath) -> Place:
        """Where a part of a document is written: `("checklist", ("sections", 0, "items", 2))`; for
        "rules" the path begins with the name of a rules file. A bundle that was read from a record
        only knows which document it is."""
        if part == "rules":
            name = str(path[0]) if path else ""
            known = self.places.get(f"rules/{name}")
            return known.of(()) if known else Place(f"the embedded rules {name}".rstrip(), 1, 1)
        return self.places.get(part, _embedded(part)).of(path)

    def to_json(self) -> dict[str, Any]:
        """Plain JSON data, the same for equal bundles; `from_json` makes an equal bundle of it."""
        documents = {
            str(kind): _plain(getattr(self, kind))
            for kind in KINDS
            if getattr(self, kind) is not NO_CARD
        }
        rules, others = dict(sorted(self.rules.items())), dict(sorted(self.others.items()))
        beside = {_OTHERS: others} if others else {}
        return {"format": BUNDLE_FORMAT, "rules": rules, **beside, **documents}

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Bundle:
        """The bundle that `to_json` wrote down. Reads no file. Raises DocumentError."""
        problems = _shape_problems(data)
        documents: dict[str, Any] = {}
        for kind in KINDS:
            if kind == "card" and _names_no_card(data):
                documents[kind] = NO_CARD
                continue
            if kind == "limits" and kind not in data:
                continue  # a record from before there was such a document
            try:
                documents[kind] = MODELS[kind].model_validate(as_now(kind, data.get(kind)))
            except ValidationError as error:
                problems += problems_of(error, _embedded(kind))
        if problems:
            raise DocumentError(tuple(problems))
        others = dict(data.get(_OTHERS, {}))
        return cls(rules=dict(data["rules"]), others=others, **documents)


def _names_no_card(data: Mapping[str, Any]) -> bool:
    plan = data.get("plan")
    return isinstance(plan, dict) and plan.get("card") is None and data.get("card") is None


def _embedded(part: str) -> Places:
    return Places(f"the embedded {part}")


def _plain(document: Headed) -> dict[str, Any]:
    return document.model_dump(mode="json", by_alias=True, exclude_none=True)


def _shape_problems(data: Mapping[str, Any]) -> list[Problem]:
    """What is wrong around the documents of an embedded bundle."""
    problems: list[Problem] = []
    whole = Place("the embedded documents", 1, 1)
    if data.get("format") != BUNDLE_FORMAT:
        expected = f"expected format {BUNDLE_FORMAT}: use the version that wrote the record"
        problems.append(whole.problem(f"format {data.get('format')!r}", expected))
    rules = data.get("rules")
    if not isinstance(rules, dict) or not all(
        isinstance(part, str) for pair in rules.items() for part in pair
    ):
        problems.append(whole.problem("unreadable rules", "expected a text for each name"))
    others = data.get(_OTHERS, {})
    if not isinstance(others, dict) or not all(
        isinstance(code, str) and isinstance(number, int) for code, number in others.items()
    ):
        problems.append(whole.problem("unreadable others", "expected a number for each case"))
    surplus = sorted(set(data) - {"format", "rules", _OTHERS, *KINDS})
    if surplus:
        problems.append(whole.problem(f"the unknown key {quoted(surplus[0])}", "expected no more"))
    return problems


def thawed(value: Any) -> Any:
    """Plain JSON of a frozen record field: tuples are lists again."""
    if isinstance(value, tuple):
        return [thawed(item) for item in value]
    if isinstance(value, dict):
        return {key: thawed(item) for key, item in value.items()}
    return value
