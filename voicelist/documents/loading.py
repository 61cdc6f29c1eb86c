"""Document files -> models with places; what kind a file is; a JSON Schema for each kind."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any, Generic, TypeVar

from pydantic import ValidationError

from voicelist.documents.base import FORMATS_READ, Headed
from voicelist.documents.faults import problems_of
from voicelist.documents.marks import Place, Places, YamlPath
from voicelist.documents.models import MODELS, Card, Checklist, Lexicon, Plan, Sentences, SiteLimits
from voicelist.documents.names import Kind, Part
from voicelist.documents.salvage import what_is_left
from voicelist.documents.text_file import read_text
from voicelist.documents.wording import one_of
from voicelist.documents.yaml_reader import YamlDocument, read_yaml
from voicelist.errors import DocumentError, Problem

DocumentT_co = TypeVar("DocumentT_co", bound=Headed, covariant=True)
DocumentT = TypeVar("DocumentT", bound=Headed)

_SCHEMA = "https://json-schema.org/draft/2020-12/schema"
_KIND_OF_FOLDER: Mapping[str, Kind] = {
    "checklists": "checklist",
    "cards": "card",
    "plans": "plan",
}
_KIND_OF_STEM: Mapping[str, Kind] = {
    "lexicon": "lexicon",
    "sentences": "sentences",
    "limits": "limits",
}
_KIND_OF_KEY: Mapping[str, Kind] = {
    "sections": "checklist",
    "grades": "card",
    "case": "plan",
    "words": "lexicon",
    "sentences": "sentences",
    "limits": "limits",
}


@dataclass(frozen=True, slots=True)
class Loaded(Generic[DocumentT_co]):
    """A valid document and where its parts are written."""

    document: DocumentT_co
    places: Places

    def place_of(self, path: YamlPath) -> Place:
        """Where the value at `path` starts; keys are spelled as in the file."""
        return self.places.of(path)


@dataclass(frozen=True, slots=True)
class Read(Generic[DocumentT_co]):
    """What a file amounts to, with all that is wrong in it. Where something is, `loaded` is what is
    left without that, for looking at: None where nothing is, and not `whole` where entries of a
    list are left out."""

    loaded: Loaded[DocumentT_co] | None
    problems: tuple[Problem, ...] = ()
    whole: bool = True


def parse_document(model: type[DocumentT], text: str, file: str) -> Loaded[DocumentT]:
    """A document from its text. Raises DocumentError with every problem, in the text's order."""
    read = read_document(model, text, file)
    if read.problems or read.loaded is None:
        raise DocumentError(read.problems)
    return read.loaded


def read_document(model: type[DocumentT], text: str, file: str) -> Read[DocumentT]:
    """The same, but raising nothing."""
    found: Read[DocumentT] = _read_once(model, text, file)
    return found


@lru_cache(maxsize=128)
def _read_once(model: type[Headed], text: str, file: str) -> Read[Any]:
    """Catalogue, lexicon and checklists are read again for each plan; none of them changes."""
    try:
        yaml = read_yaml(text, file)
    except DocumentError as error:
        return Read(None, error.problems)
    problems = list(yaml.problems)
    try:
        document = model.model_validate(yaml.data)
    except ValidationError as error:
        found = problems_of(error, yaml.places, yaml.unusable)
        of_format = _of_the_format(yaml, found)
        problems += of_format or found
        if of_format:
            return Read(None, _in_order(problems))
    else:
        if not problems:
            return Read(Loaded(document, yaml.places))
    left = what_is_left(model, yaml)
    if left is None:
        return Read(None, _in_order(problems))
    return Read(Loaded(left.document, left.places), _in_order(problems), left.whole)


def _in_order(problems: list[Problem]) -> tuple[Problem, ...]:
    return tuple(sorted(problems, key=lambda one: (one.line, one.column)))


def read_file_as(model: type[DocumentT], path: Path) -> Read[DocumentT]:
    """What a file amounts to as a document of a kind; raises nothing."""
    try:
        text = read_text(path)
    except DocumentError as error:
        return Read(None, error.problems)
    return read_document(model, text, str(path))


def _of_the_format(yaml: YamlDocument, problems: list[Problem]) -> list[Problem]:
    """In a document of another format, that is all there is to say: its keys may well differ."""
    stated = yaml.data.get("format") if isinstance(yaml.data, dict) else None
    if type(stated) is not int or stated in FORMATS_READ:
        return []
    place = yaml.places.of(("format",))
    return [one for one in problems if (one.line, one.column) == (place.line, place.column)]


def load_checklist(path: Path | str) -> Loaded[Checklist]:
    return _load(Checklist, path)


def load_card(path: Path | str) -> Loaded[Card]:
    return _load(Card, path)


def load_plan(path: Path | str) -> Loaded[Plan]:
    return _load(Plan, path)


def load_lexicon(path: Path | str) -> Loaded[Lexicon]:
    return _load(Lexicon, path)


def load_sentences(path: Path | str) -> Loaded[Sentences]:
    return _load(Sentences, path)


def load_limits(path: Path | str) -> Loaded[SiteLimits]:
    return _load(SiteLimits, path)


def load_document(path: Path | str, kind: Kind) -> Loaded[Headed]:
    """A document of a kind that is known only at run time."""
    return _load(MODELS[kind], path)


def _load(model: type[DocumentT], path: Path | str) -> Loaded[DocumentT]:
    return parse_document(model, read_text(Path(path)), str(path))


def sniff_kind(path: Path | str) -> Part:
    """What a file is, by its name or folder, else by its keys. Raises DocumentError."""
    path = Path(path)
    kind = _kind_by_name(path)
    if kind is not None:
        return kind
    data = read_yaml(read_text(path), str(path)).data
    kinds = [kind for key, kind in _KIND_OF_KEY.items() if isinstance(data, dict) and key in data]
    if len(kinds) == 1:
        return kinds[0]
    expected = f"expected a YAML document with {one_of(_KIND_OF_KEY)}, or ABNF rules (.abnf)"
    raise DocumentError((Place(str(path), 1, 1).problem("no known kind of document", expected),))


def _kind_by_name(path: Path) -> Part | None:
    if path.suffix == ".abnf":
        return "rules"
    folder = path.absolute().parent.name
    if folder in _KIND_OF_FOLDER:
        return _KIND_OF_FOLDER[folder]
    stem = path.name.partition(".")[0]
    return _KIND_OF_STEM.get(stem)


def json_schema(kind: Kind) -> dict[str, Any]:
    """The JSON Schema (2020-12) of one kind of document, for editors."""
    schema = MODELS[kind].model_json_schema(by_alias=True)
    return {"$schema": _SCHEMA, "title": f"voicelist {kind}"} | {
        key: part for key, part in schema.items() if key != "title"
    }
