"""What is asked in a section and what was said: Questionnaire and QuestionnaireResponse of FHIR R4.

Each item is a group: its status, words, role, times, values with units, what was expected, and what
did not fit. An item that was not asked says so.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from voicelist.record.view import STATUSES, CaseView, ItemView, SectionView
from voicelist.record.words import STATUS, named, role_words, value_words

Json = dict[str, Any]
_STATE = {"open": "in-progress", "completed": "completed"}


def told(text: str) -> str:
    """A text as FHIR has it: printable, without spaces at its ends, never empty."""
    shown = "".join(one if one.isprintable() else " " for one in text).strip()
    return shown or "not told"


def questionnaire(view: CaseView, section: SectionView, url: str) -> Json:
    """What a section asks, without what every resource has."""
    return {
        "url": url,
        "title": told(section.name),
        "status": "active",
        "experimental": view.practice,
        "subjectType": ["Patient"],
        "date": view.started_at,
        "item": [
            {
                "linkId": told(item.id),
                "text": told(item.call or item.name),
                "type": "group",
                "item": [one.asked for one in _parts(item)],
            }
            for item in section.items
        ],
    }


def response(view: CaseView, section: SectionView, url: str) -> Json:
    """What was said in a section, without what every resource has."""
    return {
        "questionnaire": url,
        "status": _STATE.get(view.state, "stopped"),
        "authored": view.last_at,
        "item": [
            {
                "linkId": told(item.id),
                "text": told(item.call or item.name),
                "item": [one.said for one in _parts(item)],
            }
            for item in section.items
        ],
    }


class _Part:
    """One question of an item with its answers. `kind` is a type of FHIR's questionnaire items."""

    def __init__(
        self, item: ItemView, name: str, text: str, kind: str, answers: list[Json]
    ) -> None:
        self._link, self._text = f"{told(item.id)}/{name}", text
        self._kind, self._answers = kind, answers

    @property
    def asked(self) -> Json:
        found: Json = {"linkId": self._link, "text": self._text, "type": self._kind}
        if self._kind == "choice":
            found["answerOption"] = [{"valueString": STATUS[one]} for one in STATUSES]
        return found | ({"repeats": True} if len(self._answers) > 1 else {})

    @property
    def said(self) -> Json:
        return {"linkId": self._link, "text": self._text, "answer": self._answers}


def _parts(item: ItemView) -> Iterator[_Part]:
    """Those that have an answer."""
    words = {"status": STATUS.get(item.status, item.status), "name": item.name}
    yield _Part(item, "status", "status", "choice", [{"valueString": words.pop("status")}])
    words["stop item"] = "yes" if item.stop else "no"
    if item.answered:
        words["said"] = item.words
        words["by"] = role_words(item.role, item.role_known_by)
    words["not due"] = item.why_not_due
    for name, text in words.items():
        if text:
            yield _Part(item, name.replace(" ", "-"), name, "string", [{"valueString": told(text)}])
    for name, at in (("called", item.first_called), ("answered", item.answered)):
        if at is not None:
            yield _Part(item, name, name, "dateTime", [{"valueDateTime": at.local or at.at}])
    yield from _quantities(item, "value", item.values)
    yield from _quantities(item, "expected", item.expected)
    lists = {
        "mismatch": [one.words for one in item.mismatches],
        "correction": [one.words for one in item.corrections],
        "reported": [one.words_of_fault for one in item.faults],
        "taken-back": [one.words_of_undone for one in item.undone],
        "entered-late": [one.words for one in item.late],
    }
    for name, texts in lists.items():
        if texts:
            answers = [{"valueString": told(one)} for one in texts]
            yield _Part(item, name, name.replace("-", " "), "string", answers)


def _quantities(item: ItemView, which: str, values: Mapping[str, Any]) -> Iterator[_Part]:
    for quantity, value in values.items():
        name, unit = named(quantity)
        link, text = f"{which}/{quantity}", told(f"{which}: {name}")
        number = value.get("value") if isinstance(value, Mapping) else value
        if isinstance(number, int | float) and not isinstance(number, bool) and unit:
            amount = {"value": number, "unit": unit.strip()}
            yield _Part(item, link, text, "quantity", [{"valueQuantity": amount}])
            if not isinstance(value, Mapping):
                continue
            link, text = f"{link}/in-words", f"{text}, in words"
        answer = {"valueString": told(value_words(quantity, value))}
        yield _Part(item, link, text, "string", [answer])
