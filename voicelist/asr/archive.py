"""Unpack a model out of a zip archive, refusing members that would land elsewhere."""

from __future__ import annotations

import shutil
import stat
import zipfile
from pathlib import Path, PurePosixPath

from voicelist.errors import MissingPart

# Ten times the small models' size: room for others, none for a zip bomb.
_LARGEST_UNPACKED = 700 * 1024 * 1024


def unpack_model(archive: Path, into: Path, prefix: str | None = None) -> None:
    """Unpack the members under `prefix` (None: the archive's single top folder) into `into`.

    Nothing is written unless every member of the archive is acceptable. Raises MissingPart when the
    archive is damaged or unacceptable.
    """
    try:
        with zipfile.ZipFile(archive) as opened:
            members = [member for member in opened.infolist() if not member.is_dir()]
            _refuse_escapes(opened.infolist())
            top = prefix if prefix is not None else _single_top(members)
            wanted = [(member, _below(member.filename, top)) for member in members]
            for member, name in wanted:
                if name is not None:
                    _write(opened, member, into / name)
    except (zipfile.BadZipFile, EOFError, NotImplementedError, RuntimeError, OSError) as error:
        raise MissingPart(
            f"The archive {archive.name} of the speech model is damaged ({error}); "
            "run `voicelist model` to fetch it again."
        ) from error


def _write(opened: zipfile.ZipFile, member: zipfile.ZipInfo, target: Path) -> None:
    target.parent.mkdir(parents=True, exist_ok=True)
    with opened.open(member) as source, target.open("wb") as file:
        shutil.copyfileobj(source, file)


def _refuse_escapes(members: list[zipfile.ZipInfo]) -> None:
    if sum(member.file_size for member in members) > _LARGEST_UNPACKED:
        raise MissingPart("The speech model's archive unpacks to too much; it is not used.")
    for member in members:
        path = PurePosixPath(member.filename.replace("\\", "/"))
        is_link = stat.S_ISLNK(member.external_attr >> 16)
        drive = len(member.filename) > 1 and member.filename[1] == ":"
        if path.is_absolute() or ".." in path.parts or is_link or drive:
            raise MissingPart(
                f"The speech model's archive holds {member.filename!r}, which would be written "
                "outside its folder; the archive is not used."
            )


def _single_top(members: list[zipfile.ZipInfo]) -> str:
    tops = {PurePosixPath(member.filename).parts[0] for member in members}
    if len(tops) != 1:
        raise zipfile.BadZipFile("not one folder")
    return tops.pop()


def _below(filename: str, top: str) -> str | None:
    prefix = top.rstrip("/") + "/"
    return filename[len(prefix) :] if filename.startswith(prefix) else None
