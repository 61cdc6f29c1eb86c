"""What a site has of its own beside what ships: its lexicon, rules and sentences add to those that
ship, and of two entries of one name the site's counts. `check` says so, as a note."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TypeVar

from voicelist.documents.base import Headed
from voicelist.documents.checklist import Checklist
from voicelist.documents.finding import Shelves
from voicelist.documents.lexicon import Lexicon, LexiconWord
from voicelist.documents.loading import Loaded, read_file_as
from voicelist.documents.marks import JoinedPlaces, Place, Places, YamlPath
from voicelist.documents.rules_text import RuleText, language_of, public_rules, without_rules
from voicelist.documents.sentences import Sentences
from voicelist.documents.text_file import read_text
from voicelist.errors import DocumentError, Problem

_DocumentT = TypeVar("_DocumentT", bound=Headed)
# Of a long list of names a note has the first.
_NAMED_AT_MOST = 5
# Where two folders have a rules file of one name, the later one's goes by this before the name.
_SHIPPED = "shipped/"
_OF_ROLES = "roles-of-the-list"
# The rules in which a list's own roles are named.
_ROLE_RULES = ("speaker", "may_be_away")

Replaced = tuple[str, Place, Place]
"""A name, the entry that counts, and the one that does not."""


@dataclass(frozen=True, slots=True)
class Joined:
    """What a checklist is spoken and heard with. `rule_files` has the paths of the rules by name;
    `notes` say which entries of a site stand for shipped ones."""

    rules: Mapping[str, str]
    rule_files: Mapping[str, str]
    lexicon: Loaded[Lexicon]
    sentences: Loaded[Sentences]
    notes: tuple[Problem, ...] = ()


def joined_for(
    shelves: Shelves,
    checklist: Loaded[Checklist] | None,
    at: Loaded[Headed],
    problems: list[Problem],
) -> Joined | None:
    """All of it for a checklist; what is missing is told at the document `at`, which needs it. The
    problems of every document are added to `problems`, also without a checklist."""
    language = _primary(checklist or at)
    notes: list[Problem] = []
    lexicon = joined_lexicon(shelves, problems, notes)
    sentences = joined_sentences(shelves, language, problems, notes)
    for name, found in (("lexicon.yaml", lexicon), (f"sentences.{language}.yaml", sentences)):
        if found is None and not shelves.find_all(name):
            problems.append(shelves.no_such_file(name, at.place_of(())))
    rules = joined_rules(shelves, problems, notes)
    if checklist is None or lexicon is None or sentences is None:
        return None
    texts, files = with_roles(*rules, checklist)
    return Joined(texts, files, lexicon, _naming_roles(sentences, checklist), tuple(notes))


def load_rules(shelves: Shelves) -> tuple[dict[str, str], dict[str, str]]:
    """Texts of the rule files, and their paths, by name. Raises DocumentError."""
    problems: list[Problem] = []
    texts, files = joined_rules(shelves, problems, [])
    if problems:
        raise DocumentError(tuple(problems))
    return texts, files


def load_lexicon_beside(shelves: Shelves) -> Lexicon | None:
    """The lexicon, joined; None where there is none. Raises DocumentError."""
    problems: list[Problem] = []
    found = joined_lexicon(shelves, problems, [])
    if problems:
        raise DocumentError(tuple(problems))
    return None if found is None else found.document


def load_sentences_beside(shelves: Shelves, language: str) -> Sentences | None:
    """The catalogue of a language, joined; None where there is none. Raises DocumentError."""
    problems: list[Problem] = []
    found = joined_sentences(shelves, language, problems, [])
    if problems:
        raise DocumentError(tuple(problems))
    return None if found is None else found.document


def joined_lexicon(
    shelves: Shelves, problems: list[Problem], notes: list[Problem]
) -> Loaded[Lexicon] | None:
    """The words of every folder's lexicon, the first folder's first."""
    found = _every(Lexicon, shelves.find_all("lexicon.yaml"), problems)
    if len(found) < 2:
        return found[0] if found else None
    words: list[LexiconWord] = []
    parts: dict[YamlPath, tuple[Places, YamlPath]] = {}
    replaced: list[Replaced] = []
    counts: dict[str, tuple[object, Place]] = {}
    for one in found:
        for number, word in enumerate(one.document.words):
            path: YamlPath = ("words", number)
            name = word.written.lower()
            if name in counts:
                other, place = counts[name]
                if other != word:
                    replaced.append((word.written, place, one.place_of(path)))
                continue
            counts[name] = (word, one.place_of(path))
            parts[("words", len(words))] = (one.places, path)
            words.append(word)
    notes += _notes(replaced, "word")
    document = found[0].document.model_copy(update={"words": tuple(words)})
    return Loaded(document, _joined_places(found[0].places, parts))


def joined_sentences(
    shelves: Shelves, language: str, problems: list[Problem], notes: list[Problem]
) -> Loaded[Sentences] | None:
    """The sentences of every folder's catalogue of a language."""
    found = _every(Sentences, shelves.find_all(f"sentences.{language}.yaml"), problems)
    if len(found) < 2:
        return found[0] if found else None
    sentences: dict[str, str] = {}
    parts: dict[YamlPath, tuple[Places, YamlPath]] = {}
    replaced: list[Replaced] = []
    for one in found:
        for key, text in one.document.sentences.items():
            path: YamlPath = ("sentences", key)
            if key not in sentences:
                sentences[key] = text
                parts[path] = (one.places, path)
            elif sentences[key] != text:
                replaced.append((key, parts[path][0].of(path), one.place_of(path)))
    notes += _notes(replaced, "sentence")
    document = found[0].document.model_copy(update={"sentences": sentences})
    return Loaded(document, _joined_places(found[0].places, parts))


def joined_rules(
    shelves: Shelves, problems: list[Problem], notes: list[Problem]
) -> tuple[dict[str, str], dict[str, str]]:
    """The rules of every folder. A public rule of an earlier folder takes the place of one of that
    name in a later folder, for whoever refers to it; where no folder before it speaks a file's
    language, the file is left out."""
    texts: dict[str, str] = {}
    files: dict[str, str] = {}
    counts: dict[str, RuleText] = {}
    replaced: list[Replaced] = []
    spoken: set[str] = set()
    for folder in shelves.rule_files():
        here = {name: text for name, path in folder.items() if (text := _text(path, problems))}
        own: dict[str, RuleText] = {}
        for name, text in here.items():
            file, language = str(folder[name]), language_of(text)
            if spoken and language and language not in spoken:
                continue
            public = public_rules(text, file)
            gone = public.keys() & counts.keys()
            replaced += [
                (f"${one}", counts[one].place, public[one].place)
                for one in sorted(gone)
                if counts[one].lexemes != public[one].lexemes
            ]
            if gone and gone == public.keys():
                continue
            key = f"{_SHIPPED}{name}" if name in texts else name
            texts[key], files[key] = without_rules(text, file, gone), file
            own |= public
        counts |= {name: one for name, one in own.items() if name not in counts}
        spoken |= {language_of(text) for text in here.values()} - {""}
    notes += _notes(replaced, "rule")
    return dict(sorted(texts.items())), dict(sorted(files.items()))


def with_roles(
    texts: Mapping[str, str], files: Mapping[str, str], checklist: Loaded[Checklist]
) -> tuple[dict[str, str], dict[str, str]]:
    """The rules with those that name a role naming the checklist's own, where it has such."""
    roles = checklist.document.roles
    if not roles:
        return dict(texts), dict(files)
    kept = {name: without_rules(text, files[name], _ROLE_RULES) for name, text in texts.items()}
    speaker, may_be_away = _ROLE_RULES
    head = f"#ABNF 1.0 UTF-8; language {checklist.document.language}; public ${speaker} ="
    tail = f";\npublic ${may_be_away} = ${speaker};\n"
    kept[_OF_ROLES] = f"{head}\n{_role_names(checklist)}{tail}"
    return dict(sorted(kept.items())), {**files, _OF_ROLES: checklist.places.file}


def _role_names(checklist: Loaded[Checklist]) -> str:
    """The names of the roles, each with its role as a tag, from the second line on: each on the
    line and in the column where it is written, so that what is told of it points there."""
    rows: dict[int, str] = {}
    for role, name in checklist.document.roles.items():
        place = checklist.place_of(("roles", role))
        line = max(place.line, 2)
        row = rows.get(line, "").ljust(place.column - 3)
        rows[line] = f"{row}{'| ' if rows else '  '}{name} {{{role}}}"
    return "\n".join(rows.get(line, "") for line in range(2, max(rows) + 1))


def _naming_roles(sentences: Loaded[Sentences], checklist: Loaded[Checklist]) -> Loaded[Sentences]:
    """The catalogue with the names of a checklist's own roles, as far as it has none for them."""
    named = {
        f"role.{role}": f"{name[:1].upper()}{name[1:]}"
        for role, name in checklist.document.roles.items()
    }
    catalogue = sentences.document
    document = catalogue.model_copy(update={"sentences": named | dict(catalogue.sentences)})
    return replace(sentences, document=document)


def _every(
    model: type[_DocumentT], paths: Sequence[Path], problems: list[Problem]
) -> list[Loaded[_DocumentT]]:
    """The documents of the files, in the language of the first one, as far as they can be read."""
    found: list[Loaded[_DocumentT]] = []
    for path in paths:
        read = read_file_as(model, path)
        problems += read.problems
        if read.loaded is not None:
            found.append(read.loaded)
    return [one for one in found if _primary(one) == _primary(found[0])]


def _primary(loaded: Loaded[Headed]) -> str:
    return loaded.document.language.partition("-")[0]


def _text(path: Path, problems: list[Problem]) -> str:
    try:
        return read_text(path)
    except DocumentError as error:
        problems += error.problems
        return ""


def _joined_places(
    first: Places, parts: Mapping[YamlPath, tuple[Places, YamlPath]]
) -> JoinedPlaces:
    return JoinedPlaces(first.file, first.values, first.keys, parts)


def _notes(replaced: Sequence[Replaced], what: str) -> Iterator[Problem]:
    """One note a file: which of its entries stand for others."""
    by_file: dict[tuple[str, str], list[Replaced]] = {}
    for one in replaced:
        by_file.setdefault((one[1].file, one[2].file), []).append(one)
    for (_, other), of_file in by_file.items():
        of_file.sort(key=lambda one: (one[1].line, one[1].column))
        names = ", ".join(one[0] for one in of_file[:_NAMED_AT_MOST])
        more = len(of_file) - _NAMED_AT_MOST
        names += f" and {more} more" if more > 0 else ""
        plural = "s" if len(of_file) > 1 else ""
        found = f"the {what}{plural} {names} in place of what {other} has"
        expected = "expected so only if it is meant: this one counts"
        yield replace(of_file[0][1].problem(found, expected), note=True)
