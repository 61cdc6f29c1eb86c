"""`voicelist check`: everything that must hold before documents may be used, all of it at once.

Phrases compile and mean one thing each; every word can be heard; what the assistant says is no
answer, gives nothing away and alarms nobody; the catalogue has every sentence that is asked for.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import TypeVar

from voicelist.documents.base import Headed
from voicelist.documents.bundle import read_bundle
from voicelist.documents.embedded import Bundle
from voicelist.documents.finding import Shelves
from voicelist.documents.joining import joined_sentences, load_lexicon_beside, load_rules
from voicelist.documents.loading import read_file_as, sniff_kind
from voicelist.documents.marks import Place, Places
from voicelist.documents.models import Card, Lexicon, Sentences, SiteLimits
from voicelist.documents.names import Part
from voicelist.documents.phone_table import phone_table
from voicelist.documents.text_file import read_text
from voicelist.errors import DocumentError, Problem
from voicelist.grammar.abnf import parse_rules
from voicelist.grammar.grammar import Grammar
from voicelist.grammar.ruleset import RuleSet
from voicelist.grammar.syntax import Reference
from voicelist.linting.confusable_numbers import lint_numbers
from voicelist.linting.consequences import lint_consequences
from voicelist.linting.flow import lint_flow
from voicelist.linting.material import Compiled, Material, compile_material
from voicelist.linting.phrase_lists import lint_heard
from voicelist.linting.phrases import lint_phrases
from voicelist.linting.plain_speech import frame_problems, lint_frames
from voicelist.linting.plan import case_problems, lint_card, lint_plan
from voicelist.linting.sound_alikes import lint_sounds
from voicelist.linting.spelling import lint_spelling, lint_spelling_of_sentences
from voicelist.linting.spoken import (
    lint_catalogue,
    lint_read_back_length,
    lint_self_hearing,
    lint_texts,
)
from voicelist.linting.states import lint_states
from voicelist.linting.vocabulary import (
    Knows,
    lint_lexicon,
    unknown_words,
    unknown_words_of_rules,
)
from voicelist.session.case import CORRECT
from voicelist.understanding.plain_speech import is_read_along

_DocumentT = TypeVar("_DocumentT", bound=Headed)
# A document, its number, and how many there are.
Tell = Callable[[str, int, int], None]
_SUFFIXES = (".yaml", ".yml", ".abnf")
_LANGUAGE = "en"  # of a rules file that names none


def lint_case(bundle: Bundle, knows: Knows | None) -> tuple[Problem, ...]:
    """All that is wrong with the documents of a case. `knows` says whether the speech model has a
    word; with None nothing is said about words."""
    return _in_order(_Linter(knows, _quietly).case(bundle))


def lint_paths(
    paths: Iterable[Path | str], knows: Knows | None, tell: Tell | None = None
) -> tuple[Problem, ...]:
    """All that is wrong with files, and with every document below folders.

    A plan is linted with all that it needs, a checklist with the rules, lexicon and sentences
    beside it or shipped, everything else by itself. Files below the working folder are named
    from there. What is wrong in the structure of a document keeps nobody from looking at the rest
    of it. `tell` is told of each document before it is looked at, and how many there are.
    """
    linter = _Linter(knows, tell or _quietly)
    problems: list[Problem] = []
    files: list[Path] = []
    for path in map(Path, paths):
        found = _documents_below(path) if path.is_dir() else [path]
        if not found:
            place = Place(str(path), 1, 1)
            problems.append(place.problem("no documents", "expected .yaml or .abnf files below it"))
        files += found
    for number, path in enumerate(files, 1):
        linter.tell(_from_here(str(path)), number, len(files))
        problems += linter.file(path)
    return _in_order(replace(one, file=_from_here(one.file)) for one in problems)


def _documents_below(folder: Path) -> list[Path]:
    """Every document below a folder, but not in hidden ones."""
    return [
        path
        for path in sorted(folder.rglob("*"))
        if path.suffix in _SUFFIXES
        and path.is_file()
        and not any(part.startswith(".") for part in path.relative_to(folder).parts)
    ]


def _in_order(problems: Iterable[Problem]) -> tuple[Problem, ...]:
    """Sorted by place, each once."""
    once = dict.fromkeys(problems)
    return tuple(sorted(once, key=lambda one: (one.file, one.line, one.column, one.found)))


def _from_here(file: str) -> str:
    """The file's path from the working folder, if it is below that; else from the root."""
    if not Path(file).exists():
        return file
    whole, here = os.path.abspath(file), os.getcwd()
    return os.path.relpath(whole) if whole.startswith(here + os.sep) else whole


def _quietly(file: str, number: int, of: int) -> None:
    """Tells nobody."""


def _alone(
    model: type[_DocumentT], path: Path, look: Callable[[_DocumentT, Places], Iterable[Problem]]
) -> list[Problem]:
    """A document that is looked at by itself, or what is left of it."""
    read = read_file_as(model, path)
    if read.loaded is None:
        return list(read.problems)
    return [*read.problems, *look(read.loaded.document, read.loaded.places)]


@dataclass(slots=True)
class _Linter:
    knows: Knows | None
    tell: Tell
    _shared: dict[tuple[str, ...], tuple[Compiled | None, list[Problem]]] = field(
        default_factory=dict
    )

    def file(self, path: Path) -> list[Problem]:
        """One document, as its kind needs it."""
        try:
            kind = sniff_kind(path)
        except DocumentError as error:
            return list(error.problems)
        try:
            return self._of_kind(kind, path)
        except DocumentError as error:
            return list(error.problems)

    def _of_kind(self, kind: Part, path: Path) -> list[Problem]:
        match kind:
            case "plan":
                read = read_bundle(path)
                found = [] if read.bundle is None else self.case(read.bundle, whole=read.whole)
                return [*read.problems, *found]
            case "checklist":
                material, problems = Material.beside(path)
                return problems if material is None else [*problems, *self.material(material)[1]]
            case "card":
                return _alone(Card, path, lint_card)
            case "lexicon":
                return _alone(Lexicon, path, partial(lint_lexicon, knows=self.knows))
            case "sentences":
                return self.sentences(path)
            case "limits":
                return list(read_file_as(SiteLimits, path).problems)
            case "rules":
                return self.rules(path)

    def case(self, bundle: Bundle, *, whole: bool = True) -> list[Problem]:
        """The whole bundle of a plan; not `whole`, entries of its documents are left out, and what
        refers to them is not looked for."""
        compiled, shared = self.material(replace(Material.of_bundle(bundle), whole=whole))
        problems = [*shared]
        card_places = bundle.places.get("card") or Places("the embedded card")
        problems += lint_card(bundle.card, card_places)
        if not whole:
            return problems
        if compiled is not None:
            problems += lint_plan(bundle, compiled)
        # Problems of rules have been told already, with the paths of their files.
        own = {"rules", *bundle.rules}
        grave = any(not one.note for one in problems)
        problems += [one for one in case_problems(bundle) if not grave or one.file not in own]
        return problems

    def material(self, material: Material) -> tuple[Compiled | None, list[Problem]]:
        """A checklist and what it is spoken and heard with; looked at once for all its plans."""
        key = (str(material.whole), *map(os.path.abspath, material.files()))
        if key not in self._shared:
            self._shared[key] = self._lint_material(material)
        return self._shared[key]

    def _lint_material(self, material: Material) -> tuple[Compiled | None, list[Problem]]:
        compiled, problems = compile_material(material)
        problems += material.notes
        problems += lint_texts(material)
        problems += lint_catalogue(material.sentences, material.places["sentences"])
        problems += lint_spelling_of_sentences(
            material.sentences, material.places["sentences"], material.lexicon
        )
        problems += lint_lexicon(material.lexicon, material.places["lexicon"], self.knows)
        if compiled is not None:
            problems += lint_phrases(compiled)
            if material.whole:
                problems += lint_flow(compiled)
                problems += lint_consequences(compiled)
            problems += lint_states(compiled)
            problems += lint_spelling(compiled)
            problems += lint_sounds(compiled)
            problems += lint_numbers(compiled)
            problems += lint_self_hearing(compiled)
            problems += lint_read_back_length(compiled)
            problems += lint_heard(compiled)
            problems += lint_frames(compiled)
            problems += self._words(compiled)
        return compiled, problems

    def _words(self, compiled: Compiled) -> list[Problem]:
        if self.knows is None:
            return []
        respelled = {one for one, heard in compiled.material.lexicon.respellings().items() if heard}
        table = phone_table(compiled.material.checklist.language)
        problems = list(unknown_words_of_rules(compiled.rules, respelled, self.knows, table))
        for answer in compiled.answers:
            if answer.item is not None or CORRECT in answer.name:
                problems += unknown_words(answer.node, respelled, self.knows, table)
        return problems

    def sentences(self, path: Path) -> list[Problem]:
        """A catalogue; what it lacks may ship."""
        read = read_file_as(Sentences, path)
        if read.loaded is None:
            return list(read.problems)
        own = read.loaded
        shelves = Shelves.around(path.absolute().parent)
        language = own.document.language.partition("-")[0]
        of_site = path.name == f"sentences.{language}.yaml"
        joined = joined_sentences(shelves, language, [], []) if of_site else None
        whole = own if joined is None else joined
        return [*read.problems, *lint_catalogue(whole.document, whole.places)]

    def rules(self, path: Path) -> list[Problem]:
        """A rules file: in a folder of rules together with the others, else by itself."""
        own = parse_rules(read_text(path), str(path))
        shelves = Shelves.beside(path)
        texts, files = load_rules(shelves)
        here = os.path.abspath(path)
        others = {name: file for name, file in files.items() if os.path.abspath(file) != here}
        rules = RuleSet((own,))
        if len(others) < len(files):
            beside = RuleSet.from_texts((file, texts[name]) for name, file in others.items())
            rules = RuleSet((own, *beside.files))
        problems = rules.clashes()
        if is_read_along(own.file):
            return [*problems, *frame_problems(rules, own)]
        roots = {rule.name: Reference(rule.name, rule.place) for rule in own.rules}
        try:
            Grammar(roots, rules, scopes=dict.fromkeys(roots, own.file))
        except DocumentError as error:
            problems += error.problems
        lexicon = load_lexicon_beside(shelves)
        words = lexicon.words if lexicon is not None else ()
        if self.knows is not None:
            respelled = {word.written.lower() for word in words if word.hear}
            table = phone_table(own.language or _LANGUAGE)
            problems += unknown_words_of_rules(RuleSet((own,)), respelled, self.knows, table)
        return problems
