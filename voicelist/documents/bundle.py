"""Everything one case is run on, found from its plan."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from voicelist.documents.base import Headed
from voicelist.documents.card import NO_CARD
from voicelist.documents.embedded import Bundle
from voicelist.documents.finding import Shelves, load_rules
from voicelist.documents.limits import OWN_LIMITS
from voicelist.documents.list_of_the_day import numbers_beside
from voicelist.documents.loading import (
    Loaded,
    load_card,
    load_checklist,
    load_lexicon,
    load_limits,
    load_plan,
    load_sentences,
)
from voicelist.documents.marks import Places
from voicelist.documents.models import Plan, SiteLimits
from voicelist.documents.wording import quoted
from voicelist.errors import DocumentError, Problem

_T = TypeVar("_T")
_DocumentT = TypeVar("_DocumentT", bound=Headed)


def load_bundle(plan_path: Path | str, grammars: Path | None = None) -> Bundle:
    """The plan and all that it needs: looked for beside the plan's folder, then in `grammars`
    (None: what ships with voicelist). Raises DocumentError with the problems of all documents."""
    plan = load_plan(plan_path)
    shelves = Shelves.beside(Path(plan_path), grammars)
    problems: list[Problem] = []
    no_card = plan.document.card is None
    card = None if no_card else _named(shelves, "card", plan, load_card, problems)
    checklist = _named(shelves, "checklist", plan, load_checklist, problems)
    spoken = _primary(plan.document.language if checklist is None else checklist.document.language)
    lexicon = _single(shelves, "lexicon.yaml", plan, load_lexicon, problems)
    sentences = _single(shelves, f"sentences.{spoken}.yaml", plan, load_sentences, problems)
    limits = _limits(shelves, problems)
    rules = _collected(lambda: load_rules(shelves), problems)
    if not ((card or no_card) and checklist and lexicon and sentences and rules):
        raise DocumentError(tuple(problems))
    spoken_in = tuple(one for one in (plan, card, lexicon, sentences, limits) if one is not None)
    problems += _language_problems(spoken, spoken_in)
    if problems:
        raise DocumentError(tuple(problems))
    texts, files = rules
    places = {
        "plan": plan.places,
        **({"card": card.places} if card else {}),
        "checklist": checklist.places,
        "lexicon": lexicon.places,
        "sentences": sentences.places,
        **({"limits": limits.places} if limits is not None else {}),
        **{f"rules/{name}": Places(file) for name, file in files.items()},
    }
    return Bundle(
        checklist=checklist.document,
        card=card.document if card else NO_CARD,
        plan=plan.document,
        rules=texts,
        lexicon=lexicon.document,
        sentences=sentences.document,
        limits=OWN_LIMITS if limits is None else limits.document,
        others=numbers_beside(Path(plan_path), plan.document.case),
        places=places,
    )


def _named(
    shelves: Shelves,
    key: str,
    plan: Loaded[Plan],
    load: Callable[[Path], Loaded[_DocumentT]],
    problems: list[Problem],
) -> Loaded[_DocumentT] | None:
    """The card or checklist that the plan names; its id has to be its file's name."""
    wanted = str(getattr(plan.document, key))
    path = shelves.find(f"{key}s/{wanted}.yaml")
    if path is None:
        problems.append(shelves.no_such_id(wanted, f"{key}s", plan.place_of((key,))))
        return None
    loaded = _collected(lambda: load(path), problems)
    if loaded is not None and getattr(loaded.document, "id", wanted) != wanted:
        place = loaded.place_of(("id",))
        found = f"the id {quoted(getattr(loaded.document, 'id', ''))} in {path.name}"
        problems.append(place.problem(found, f"expected the file's name, {wanted}"))
    return loaded


def _single(
    shelves: Shelves,
    name: str,
    plan: Loaded[Plan],
    load: Callable[[Path], Loaded[_DocumentT]],
    problems: list[Problem],
) -> Loaded[_DocumentT] | None:
    path = shelves.find(name)
    if path is None:
        problems.append(shelves.no_such_file(name, plan.place_of(())))
        return None
    return _collected(lambda: load(path), problems)


def _limits(shelves: Shelves, problems: list[Problem]) -> Loaded[SiteLimits] | None:
    """The site's limits, or None where there is no such document: our own hold then."""
    path = shelves.find("limits.yaml")
    return None if path is None else _collected(lambda: load_limits(path), problems)


def _collected(load: Callable[[], _T], problems: list[Problem]) -> _T | None:
    """What `load` gives, or None with its problems added to the others."""
    try:
        return load()
    except DocumentError as error:
        problems += error.problems
        return None


def _primary(language: str) -> str:
    return language.partition("-")[0]


def _language_problems(spoken: str, others: tuple[Loaded[Headed], ...]) -> list[Problem]:
    """A case is held in one language; regions may differ."""
    return [
        loaded.place_of(("language",)).problem(
            f"the language {loaded.document.language}",
            f"expected {spoken}, the language of the checklist",
        )
        for loaded in others
        if _primary(loaded.document.language) != spoken
    ]
