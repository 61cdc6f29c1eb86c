"""Where the documents of a case are looked for: beside the plan's folder, then what ships."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from voicelist.documents.marks import Place
from voicelist.documents.wording import did_you_mean, quoted
from voicelist.errors import Problem
from voicelist.places import shipped


@dataclass(frozen=True, slots=True)
class Shelves:
    """Folders that hold `checklists/`, `cards/`, `rules/` and so on; earlier ones go first."""

    folders: tuple[Path, ...]

    @classmethod
    def around(cls, folder: Path, grammars: Path | None = None) -> Shelves:
        """A folder that holds the documents of a site, then `grammars`, which is what ships with
        voicelist if none is given."""
        seen: dict[Path, Path] = {}
        for one in (folder, grammars or shipped("grammars")):
            seen.setdefault(one.resolve(), one)
        return cls(tuple(seen.values()))

    @classmethod
    def beside(cls, document: Path, grammars: Path | None = None) -> Shelves:
        """The same for a document in `plans/`, `checklists/`, ...: the folder around that one."""
        return cls.around(document.absolute().parent.parent, grammars)

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

    def find_all(self, name: str) -> tuple[Path, ...]:
        """All files of that name, the first folder's first."""
        return tuple(path for base in self.folders if (path := base / name).is_file())

    def rule_files(self) -> tuple[dict[str, Path], ...]:
        """By folder, the files in `rules/` by name without `.abnf`, sorted."""
        return tuple(
            {path.stem: path for path in sorted(base.glob("rules/*.abnf"))} for base in self.folders
        )

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
