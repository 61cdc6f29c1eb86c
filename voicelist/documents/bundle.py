"""Everything one case is run on: found from its plan, and as plain JSON for the journal."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, TypeVar

from voicelist.documents.base import Headed
from voicelist.documents.card import NO_CARD
from voicelist.documents.embedded import Bundle
from voicelist.documents.finding import Shelves
from voicelist.documents.joining import Joined, joined_for
from voicelist.documents.limits import OWN_LIMITS
from voicelist.documents.list_of_the_day import numbers_beside
from voicelist.documents.loading import Loaded, Read, read_file_as
from voicelist.documents.marks import Places
from voicelist.documents.models import Card, Checklist, Plan, SiteLimits
from voicelist.documents.wording import did_you_mean, quoted
from voicelist.errors import DocumentError, Problem

_DocumentT = TypeVar("_DocumentT", bound=Headed)


@dataclass(frozen=True, slots=True)
class BundleRead:
    """A plan with all that it needs, and everything that is wrong there. Where something is, the
    bundle is what is left without that, for looking at; it is not `whole` where entries of a list
    are left out, to which others may refer."""

    bundle: Bundle | None
    problems: tuple[Problem, ...]
    whole: bool = True


def load_bundle(plan_path: Path | str, grammars: Path | None = None) -> Bundle:
    """The plan and all that it needs: looked for beside the plan's folder, then in `grammars`
    (None: what ships with voicelist). Raises DocumentError with the problems of all documents."""
    read = read_bundle(plan_path, grammars)
    if read.problems or read.bundle is None:
        raise DocumentError(read.problems)
    return read.bundle


def read_bundle(plan_path: Path | str, grammars: Path | None = None) -> BundleRead:
    """The same, but raising nothing."""
    plan_read = read_file_as(Plan, Path(plan_path))
    problems = list(plan_read.problems)
    plan = plan_read.loaded
    if plan is None:
        return BundleRead(None, tuple(problems))
    shelves = Shelves.beside(Path(plan_path), grammars)
    no_card = plan.document.card is None
    card = Read(None) if no_card else _named(shelves, "card", plan, Card, problems)
    checklist = _named(shelves, "checklist", plan, Checklist, problems)
    whole = plan_read.whole and card.whole and checklist.whole
    limits_file = shelves.find("limits.yaml")
    limits = Read(None) if limits_file is None else read_file_as(SiteLimits, limits_file)
    problems += limits.problems
    joined = joined_for(shelves, checklist.loaded, plan, problems)
    if checklist.loaded is None or joined is None or not (card.loaded or no_card):
        return BundleRead(None, tuple(problems))
    spoken_in = (plan, card.loaded, joined.lexicon, joined.sentences, limits.loaded)
    spoken = _primary(checklist.loaded.document.language)
    problems += _language_problems(spoken, [one for one in spoken_in if one is not None])
    problems += _roles_nobody_has(plan, checklist.loaded.document)
    others = numbers_beside(Path(plan_path), plan.document.case)
    bundle = _bundle_of(plan, card.loaded, checklist.loaded, joined, limits.loaded)
    return BundleRead(replace(bundle, others=others), tuple(problems), whole)


def _bundle_of(
    plan: Loaded[Plan],
    card: Loaded[Card] | None,
    checklist: Loaded[Checklist],
    joined: Joined,
    limits: Loaded[SiteLimits] | None,
) -> Bundle:
    places = {
        "plan": plan.places,
        **({"card": card.places} if card else {}),
        "checklist": checklist.places,
        "lexicon": joined.lexicon.places,
        "sentences": joined.sentences.places,
        **({"limits": limits.places} if limits is not None else {}),
        **{f"rules/{name}": Places(file) for name, file in joined.rule_files.items()},
    }
    return Bundle(
        checklist=checklist.document,
        card=card.document if card else NO_CARD,
        plan=plan.document,
        rules=joined.rules,
        lexicon=joined.lexicon.document,
        sentences=joined.sentences.document,
        limits=OWN_LIMITS if limits is None else limits.document,
        places=places,
        notes=joined.notes,
    )


def _named(
    shelves: Shelves,
    key: str,
    plan: Loaded[Plan],
    model: type[_DocumentT],
    problems: list[Problem],
) -> Read[_DocumentT]:
    """The card or checklist that the plan names; its id has to be its file's name."""
    wanted = str(getattr(plan.document, key))
    path = shelves.find(f"{key}s/{wanted}.yaml")
    if path is None:
        problems.append(shelves.no_such_id(wanted, f"{key}s", plan.place_of((key,))))
        return Read(None)
    read = read_file_as(model, path)
    problems += read.problems
    loaded = read.loaded
    if loaded is not None and getattr(loaded.document, "id", wanted) != wanted:
        place = loaded.place_of(("id",))
        found = f"the id {quoted(getattr(loaded.document, 'id', ''))} in {path.name}"
        problems.append(place.problem(found, f"expected the file's name, {wanted}"))
    return read


def _roles_nobody_has(plan: Loaded[Plan], checklist: Checklist) -> Iterator[Problem]:
    for number, role in enumerate(plan.document.present or ()):
        if role not in checklist.role_names:
            hint = did_you_mean(role, checklist.role_names)
            expected = f"{hint}expected roles of the checklist: {', '.join(checklist.role_names)}"
            place = plan.place_of(("present", number))
            yield place.problem(f"the role {quoted(role)} in the room", expected)


def _primary(language: str) -> str:
    return language.partition("-")[0]


def _language_problems(spoken: str, others: Sequence[Loaded[Any]]) -> list[Problem]:
    """A case is held in one language; regions may differ."""
    return [
        loaded.place_of(("language",)).problem(
            f"the language {loaded.document.language}",
            f"expected {spoken}, the language of the checklist",
        )
        for loaded in others
        if _primary(loaded.document.language) != spoken
    ]
