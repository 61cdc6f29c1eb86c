"""The pictures of a report: what plan and card of a record have to show, as parts of its page."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import chain
from typing import Any

from pydantic import ValidationError

from voicelist.documents.card import Card
from voicelist.documents.earlier import as_now
from voicelist.documents.plan import Grade, IncisionPlan
from voicelist.errors import MissingPart, UsageError
from voicelist.figures.canvas import Picture, as_inline_svg
from voicelist.figures.choosing import (
    card_words,
    of_incision,
    of_pedal,
    of_pulses,
    phases_of_checklist,
    plan_words,
)
from voicelist.figures.profile import profile_picture
from voicelist.figures.said import said_rows
from voicelist.record.html import PageFigure, PageFigures
from voicelist.record.journal import Entry
from voicelist.record.view import CaseView, case_view
from voicelist.record.words import value_words


def report_figures(entries: Sequence[Entry]) -> PageFigures:
    """Incisions as planned and settings at the grade that stands, from the documents that the
    record embeds. What those do not hold is left out; without matplotlib there is a sentence."""
    documents = entries[0].body.get("documents") or {}
    view = case_view(entries)
    banner = view.banner
    figures = []
    try:
        plan = plan_at_the_end(documents.get("plan") or {}, entries)
        plan["grade"] = view.team.grade
        every = chain(_pictures(documents, plan, banner), _said(view, banner))
        for number, (caption, picture) in enumerate(every, start=1):
            figures.append(PageFigure(caption, as_inline_svg(picture, f"picture-{number}")))
    except MissingPart as error:
        return PageFigures((), f"This page goes without its pictures of plan and card. {error}")
    return PageFigures(tuple(figures))


def plan_at_the_end(plan: Mapping[str, Any], entries: Sequence[Entry]) -> dict[str, Any]:
    """The plan with what the team changed in it during the case. Incisions were planned for one
    eye: they go where the eye was changed."""
    now = dict(plan)
    for entry in entries:
        if entry.kind != "plan-changed":
            continue
        field, new = entry.body.get("field"), entry.body.get("new")
        if field in ("eye", "grade"):
            now[field] = new
        if field == "eye" and new != plan.get("eye"):
            now.pop("incision", None)
    return now


def _pictures(
    documents: Mapping[str, Any], plan: Mapping[str, Any], banner: str
) -> Iterator[tuple[str, Picture]]:
    incision = _read(IncisionPlan, plan.get("incision"))
    if incision is not None and plan.get("eye") in ("left", "right"):
        words = plan_words(str(plan.get("case", "")))
        yield "Incisions, from the plan", of_incision(plan["eye"], incision, *words, banner)
    card, grade = (
        _read(Card, as_now("card", documents.get("card"))),
        _read(Grade, plan.get("grade")),
    )
    if card is None or grade is None:
        return
    for phase in dict.fromkeys(phases_of_checklist(documents.get("checklist") or {})):
        settings = card.settings_for(grade.scale, grade.value, phase)
        if settings is None:
            continue
        words = card_words(card.id, grade.scale, grade.value, phase)
        yield f"Settings for {phase}, from the card", of_pedal(settings, phase, *words, banner)
        if settings.power_percent is not None and settings.modulation is not None:
            try:
                pulses = of_pulses(settings, *words, banner)
            except UsageError:
                continue  # pulses that the card leaves open cannot be drawn
            yield f"Pulses for {phase}, from the card", pulses


def _said(view: CaseView, banner: str) -> Iterator[tuple[str, Picture]]:
    """The profiles that were answered, as they were said."""
    for item in view.items:
        rows = said_rows(item)
        if rows:
            grade = f", grade {value_words('grade', view.team.grade)}" if view.team.grade else ""
            under = f"case {view.case}; card {view.card}{grade}"
            origin = f"Figures: the record of case {view.case}, with the card that it embeds."
            yield f"As said: {item.name}", profile_picture(item.name, rows, under, origin, banner)


def _read(model: Any, raw: object) -> Any:
    """A part of an embedded document; None where it is missing or of another version."""
    try:
        return model.model_validate(raw)
    except ValidationError:
        return None
