"""What a power cut can leave: states of a folder, from the log of what was done to it.

What was synced is kept. Of what was not, any part may have reached the disk: whole writes or some
of their 512-byte sectors, a new size with or without the bytes, new and removed names. A sync that
failed made nothing sure, and no later one does (a failed sync may drop what it was to write, and
the next one succeed: so databases learned of `fsync` in 2018, from memory). Names are sure once a
sync of their folder has succeeded, also behind one that failed (file systems with a journal write
names into it again or stop; from memory). Pure: nothing here touches a disk.
"""

from __future__ import annotations

import hashlib
import os
import posixpath
import random
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field

from tests.soak.disk.oplog import Kind, Operation

SECTOR_BYTES = 512
Files = dict[str, bytes]


@dataclass(frozen=True, slots=True)
class Change:
    """A write, or with `data` None a new size. `doubtful`: a sync of it failed."""

    offset: int
    data: bytes | None = None
    doubtful: bool = False

    def upon(self, content: bytearray) -> None:
        """Makes the change."""
        if self.data is None:
            _resize(content, self.offset)
            return
        end = self.offset + len(self.data)
        if end > len(content):
            _resize(content, end)
        content[self.offset : end] = self.data


def _resize(content: bytearray, size: int) -> None:
    if size < len(content):
        del content[size:]
    else:
        content.extend(bytes(size - len(content)))


@dataclass(slots=True)
class File:
    """A file apart from its names: what is surely on disk, and the changes since, in order."""

    kept: bytearray = field(default_factory=bytearray)
    changes: list[Change] = field(default_factory=list)
    sure: int = 0  # so many of `changes`, doubtful ones apart, are on disk
    is_folder: bool = False

    def change(self, change: Change) -> None:
        self.changes.append(change)

    def synced(self) -> None:
        """A sync succeeded: all changes are sure, but for doubtful ones."""
        self.sure = len(self.changes)
        doubt = next((n for n, one in enumerate(self.changes) if one.doubtful), self.sure)
        for one in self.changes[:doubt]:
            one.upon(self.kept)
        del self.changes[:doubt]
        self.sure -= doubt

    def sync_failed(self) -> None:
        """No change since the last sync will ever be sure."""
        later = [Change(one.offset, one.data, True) for one in self.changes[self.sure :]]
        self.changes[self.sure :] = later

    def whole(self) -> bytes:
        """The content as the running system shows it."""
        content = bytearray(self.kept)
        for one in self.changes:
            one.upon(content)
        return bytes(content)

    def after_cut(self, chance: Chance) -> bytes:
        """The content after a cut in which `chance` decides."""
        content = bytearray(self.kept)
        for number, one in enumerate(self.changes):
            if number < self.sure and not one.doubtful:
                one.upon(content)
            else:
                chance.reach(one, content)
        return bytes(content)


@dataclass(slots=True)
class Chance:
    """Decides what of the unsynced reached the disk: each change with probability `share`."""

    random: random.Random
    share: float

    def holds(self) -> bool:
        return self.random.random() < self.share

    def reach(self, change: Change, content: bytearray) -> None:
        """Lets `change` reach the disk whole, in parts, as a size alone, or not at all."""
        data = change.data
        if data is None or self.share in (0.0, 1.0):
            if self.holds():
                change.upon(content)
            return
        if not self.holds():
            end = change.offset + len(data)
            if end > len(content) and self.random.random() < 0.3:
                self._grow(content, end)
            return
        if self.random.random() < 0.3:
            self._torn(change.offset, data, content)
        else:
            change.upon(content)

    def _grow(self, content: bytearray, end: int) -> None:
        """The new size arrived, the bytes did not: zeros, or what lay there before."""
        grown = end - len(content)
        content.extend(bytes(grown) if self.random.random() < 0.7 else self.random.randbytes(grown))

    def _torn(self, offset: int, data: bytes, content: bytearray) -> None:
        """Some of the sectors: the first ones, or any."""
        pieces = list(sectors(offset, data))
        if self.random.random() < 0.5:
            pieces = pieces[: self.random.randrange(len(pieces) + 1)]
        else:
            pieces = [one for one in pieces if self.random.random() < 0.5]
        for one in pieces:
            one.upon(content)


def sectors(offset: int, data: bytes) -> Iterator[Change]:
    """A write, split where sectors of the disk end."""
    at = 0
    while at < len(data):
        size = SECTOR_BYTES - (offset + at) % SECTOR_BYTES
        yield Change(offset + at, data[at : at + size])
        at += size


@dataclass(frozen=True, slots=True)
class Naming:
    """Names that changed together; None is a removed one."""

    names: tuple[tuple[str, File | None], ...]

    def in_folder(self, folder: str) -> bool:
        return all(posixpath.dirname(name) == folder for name, _ in self.names)


class Disk:
    """A folder as it stands, and what of it is sure. Folders are files without content."""

    def __init__(self, files: Mapping[str, bytes]) -> None:
        """`files` are there and on disk; so are their folders."""
        self._kept: dict[str, File] = {}
        for name, content in files.items():
            self._kept[name] = File(bytearray(content))
            for folder in _folders(name):
                self._kept.setdefault(folder, File(is_folder=True))
        self._shown = dict(self._kept)
        self._namings: list[Naming] = []
        self._open: dict[int, File] = {}
        self._folders: dict[int, str] = {}

    def apply(self, one: Operation) -> None:
        """One operation, as it went. Raises KeyError for a file that was never there."""
        match one.kind:
            case Kind.START:
                self._open.clear()
                self._folders.clear()
            case Kind.OPEN if not one.failed:
                self._opened(one)
            case Kind.WRITE if one.data:
                self._open[one.descriptor].change(Change(one.offset, one.data))
            case Kind.TRUNCATE if not one.failed:
                self._open[one.descriptor].change(Change(one.offset))
            case Kind.SYNC:
                self._synced(one)
            case Kind.UNLINK if not one.failed:
                self._name(((one.path, None),))
            case Kind.RENAME if not one.failed:
                self._name(((one.path, None), (one.data.decode(), self._shown[one.path])))
            case Kind.MKDIR if not one.failed:
                self._name(((one.path, File(is_folder=True)),))
            case Kind.CLOSE:
                self._open.pop(one.descriptor, None)
                self._folders.pop(one.descriptor, None)
            case _:
                pass

    def _opened(self, one: Operation) -> None:
        flags = one.offset
        known = self._shown.get(one.path)
        if one.path == "." or (known is not None and known.is_folder):
            self._folders[one.descriptor] = "" if one.path == "." else one.path
            return
        if one.path not in self._shown and flags & os.O_CREAT:
            self._name(((one.path, File()),))
        file = self._shown[one.path]
        if flags & os.O_TRUNC:
            file.change(Change(0))
        self._open[one.descriptor] = file

    def _name(self, names: tuple[tuple[str, File | None], ...]) -> None:
        self._namings.append(Naming(names))
        _rename(self._shown, names)

    def _synced(self, one: Operation) -> None:
        folder = self._folders.get(one.descriptor)
        if folder is not None:
            if not one.failed:
                self._names_synced(folder)
        elif one.failed:
            self._open[one.descriptor].sync_failed()
        else:
            self._open[one.descriptor].synced()

    def _names_synced(self, folder: str) -> None:
        later: list[Naming] = []
        for naming in self._namings:
            if naming.in_folder(folder):
                _rename(self._kept, naming.names)
            else:
                later.append(naming)
        self._namings = later

    def is_log(self, descriptor: int) -> bool:
        """Whether it belongs to a write-ahead log or a rollback journal."""
        file = self._open.get(descriptor)
        names = [name for name, one in self._shown.items() if one is file]
        return any(name.endswith(("-wal", "-journal")) for name in names)

    def unsynced(self, descriptor: int) -> bool:
        """Whether a sync of it would make anything sure."""
        file = self._open.get(descriptor)
        return file is not None and len(file.changes) > file.sure

    def shown(self) -> Files:
        """The files as the running system shows them."""
        return {name: file.whole() for name, file in self._shown.items() if not file.is_folder}

    def after_cut(self, chance: Chance) -> Files:
        """The files after a cut in which `chance` decides what of the unsynced is there."""
        names = dict(self._kept)
        for naming in self._namings:
            if chance.holds():
                _rename(names, naming.names)
        there = sorted(name for name in names if all(one in names for one in _folders(name)))
        return {name: names[name].after_cut(chance) for name in there if not names[name].is_folder}


def _rename(names: dict[str, File], changed: Iterable[tuple[str, File | None]]) -> None:
    for name, file in changed:
        if file is None:
            names.pop(name, None)
        else:
            names[name] = file


def _folders(name: str) -> Iterator[str]:
    """The folders above a name, the nearest first."""
    while name := posixpath.dirname(name):
        yield name


@dataclass(frozen=True, slots=True)
class Cut:
    """A state, behind so many operations; `told` is what the program had put out by then."""

    behind: int
    files: Files
    told: bytes


_SHARES = (0.0, 1.0, 0.2, 0.5, 0.8)


def cuts(
    log: Iterable[Operation], files: Mapping[str, bytes], count: int, seed: int
) -> Iterator[Cut]:
    """About `count` states that differ, spread over all moments of `log`; at the same moment each
    time something else reached the disk."""
    log = list(log)
    moments = [n for n, one in enumerate(log) if one.kind not in (Kind.START, Kind.CLOSE)]
    chance = random.Random(seed)
    tries = {n: count // len(moments) for n in moments} if moments else {}
    for n in chance.sample(moments, count % len(moments)) if moments else ():
        tries[n] += 1
    disk, told, met = Disk(files), b"", set[bytes]()
    for number, one in enumerate(log):
        disk.apply(one)
        if one.kind is Kind.OUTPUT and one.descriptor == 1:
            told += one.data
        for turn in range(tries.get(number, 0)):
            share = _SHARES[(number + turn) % len(_SHARES)]
            state = disk.after_cut(Chance(chance, share))
            digest = _digest(state, told)
            if digest not in met:
                met.add(digest)
                yield Cut(number + 1, state, told)


def _digest(files: Files, told: bytes) -> bytes:
    whole = hashlib.blake2b(told)
    for name, content in files.items():
        whole.update(f"{name} {len(content)} ".encode())
        whole.update(content)
    return whole.digest()
