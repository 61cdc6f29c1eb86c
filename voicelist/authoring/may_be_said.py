"""All that may be said in a case, as people would say it: at any time, to a read-back, to the items
of a checklist."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

from voicelist.documents.bundle import load_bundle
from voicelist.documents.checklist import Checklist
from voicelist.documents.finding import Shelves
from voicelist.documents.joining import load_rules, with_roles
from voicelist.documents.loading import load_checklist, sniff_kind
from voicelist.documents.names import ROLES, SURGEON
from voicelist.errors import UsageError
from voicelist.grammar.abnf import parse_expansion
from voicelist.grammar.readable import written
from voicelist.grammar.ruleset import RuleSet
from voicelist.places import shipped
from voicelist.session.case import LATER_READ_BACK_ANSWERS, READ_BACK_ANSWERS
from voicelist.session.permitted import EVER, answers_of, wording

_OF_THE_SURGEON = ("confirm_profile", "accept")


def may_be_said(document: Path | None) -> Iterator[str]:
    """Lines for a screen: of a plan or a checklist all of it, without one what is said in every
    case. Raises DocumentError, UsageError for another kind of document."""
    if document is None:
        rules = RuleSet.from_texts(load_rules(Shelves.around(shipped("grammars")))[0].items())
        yield from _in_every_case(rules)
        return
    checklist, texts = _of(document)
    rules = RuleSet.from_texts(texts.items())
    yield from _in_every_case(rules, checklist.role_names)
    yield from _of_checklist(checklist, rules)


def _of(document: Path) -> tuple[Checklist, dict[str, str]]:
    kind = sniff_kind(document)
    if kind == "plan":
        bundle = load_bundle(document)
        return bundle.checklist, dict(bundle.rules)
    if kind != "checklist":
        raise UsageError(f"{document} is no checklist and no plan: give one of these.")
    loaded = load_checklist(document)
    rules, _ = with_roles(*load_rules(Shelves.beside(document)), loaded)
    return loaded.document, rules


def _in_every_case(rules: RuleSet, roles: Sequence[str] = ROLES) -> Iterator[str]:
    yield from _block("At any time:", (wording(one, rules) for one in EVER))
    yield "  correction for, and the short name of an item"
    yield ""
    answers = [
        one
        for one in (*READ_BACK_ANSWERS, *LATER_READ_BACK_ANSWERS)
        if SURGEON in roles or one not in _OF_THE_SURGEON
    ]
    yield from _block("When something is read back:", (wording(one, rules) for one in answers))


def _of_checklist(checklist: Checklist, rules: RuleSet) -> Iterator[str]:
    milestones = (parse_expansion(one.said, one.id, 1, 1) for one in checklist.milestones)
    if checklist.milestones:
        yield ""
        yield from _block("Of the operation:", (written(one, rules) for one in milestones))
    for section in checklist.sections:
        yield ""
        begun = " (begins when asked for)" if section.waits else ""
        yield f"{section.name[:1].upper()}{section.name[1:]}{begun}"
        for item in section.items:
            yield from (f"  {line}" for line in _block(item.call, answers_of(item, rules)))


def _block(heading: str, texts: Iterable[str]) -> Iterator[str]:
    yield heading
    yield from (f"  {one}" for one in texts if one)
