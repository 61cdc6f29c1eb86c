"""Where the documents of a case are looked for: beside the plan's folder, then what ships."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from voicelist.documents.marks import Place
from voicelist.documents.text_file import read_text
from voicelist.documents.wording import did_you_mean, quoted
from voicelist.errors import DocumentError, Problem
from voicelist.places import shipped


@dataclass(frozen=True, slots=True)
class Shelves:
    """Folders that hold `checklists/`, `cards/`, `rules/` and so on; earlier ones go first."""

    folders: tuple[Path, ...]

    @classmethod
    def beside(cls, document: Path, grammars: Path | None = None) -> Shelves:
        """For a document in `plans/`, `checklists/`, ...: the folder around that one, then
        `grammars`, which is what ships with voicelist if none is given."""
        folders = (document.absolute().parent.parent, grammars or shipped("grammars"))
        seen: dict[Path, Path] = {}
        for folder in folders:
            seen.setdefault(folder.resolve(), folder)
        return cls(tuple(seen.values()))

    def find(self, name: str) -> Path | None:
        """The first file of that name, such as `cards/demo-surgeon.yaml`."""
        candidates = (folder / name for folder in self.folders)
        return next((path for path in candidates if path.is_file()), None)

    def ids(self, folder_name: str) -> tuple[str, ...]:
        """The ids of all documents in the folders of that name, sorted."""
        return tuple(
            sorted(
                {path.stem for base in self.folders for path in base.glob(f"{folder_name}/*.yaml")}
            )
        )

    def rule_files(self) -> dict[str, Path]:
        """The files in `rules/` by name without `.abnf`, sorted; of two, the earlier folder's."""
        files: dict[str, Path] = {}
        for base in reversed(self.folders):
            files |= {path.stem: path for path in base.glob("rules/*.abnf")}
        return dict(sorted(files.items()))

    def no_such_id(self, wanted: str, folder_name: str, place: Place) -> Problem:
        """`folder_name` has no document of that id: where was looked, and which ids there are."""
        ids = self.ids(folder_name)
        what = folder_name.removesuffix("s")
        looked = ", ".join(str(base / folder_name) for base in self.folders)
        found = f"the {what} {quoted(wanted)}, which is not in {looked}"
        known = ", ".join(ids) or "there is none yet"
        hint = did_you_mean(wanted, ids)
        return place.problem(found, f"{hint}expected the id of a {what}: {known}")

    def no_such_file(self, name: str, place: Place) -> Problem:
        looked = ", ".join(str(base) for base in self.folders)
        return place.problem(f"no {name} in {looked}", f"expected {name} in one of these folders")


def load_rules(shelves: Shelves) -> tuple[dict[str, str], dict[str, str]]:
    """Texts of the rule files, and their paths, by name. Raises DocumentError."""
    texts: dict[str, str] = {}
    files: dict[str, str] = {}
    problems: list[Problem] = []
    for name, path in shelves.rule_files().items():
        files[name] = str(path)
        try:
            texts[name] = read_text(path)
        except DocumentError as error:
            problems += error.problems
    if problems:
        raise DocumentError(tuple(problems))
    return texts, files
