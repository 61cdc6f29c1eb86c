"""The simulator of power cuts: what may be left of a folder, from the log of what was done."""

from __future__ import annotations

import os
import random

import pytest

from tests.soak.disk.cuts import SECTOR_BYTES, Chance, Disk, Files, cuts, sectors
from tests.soak.disk.oplog import Kind, Operation

FILE = 7
FOLDER = 8


def opened(path: str, descriptor: int = FILE, flags: int = os.O_RDWR | os.O_CREAT) -> Operation:
    return Operation(Kind.OPEN, descriptor=descriptor, offset=flags, result=descriptor, path=path)


def written(data: bytes, offset: int = 0, descriptor: int = FILE) -> Operation:
    return Operation(Kind.WRITE, descriptor=descriptor, offset=offset, result=len(data), data=data)


def synced(descriptor: int = FILE, *, failed: bool = False) -> Operation:
    return Operation(Kind.SYNC, descriptor=descriptor, result=-1 if failed else 0)


def resized(size: int) -> Operation:
    return Operation(Kind.TRUNCATE, descriptor=FILE, offset=size)


def removed(path: str) -> Operation:
    return Operation(Kind.UNLINK, path=path)


def told(text: bytes) -> Operation:
    return Operation(Kind.OUTPUT, descriptor=1, result=len(text), data=text)


FOLDER_OPENED = opened(".", FOLDER, os.O_RDONLY)
FOLDER_SYNCED = (FOLDER_OPENED, synced(FOLDER))


def disk(*log: Operation, files: Files | None = None) -> Disk:
    made = Disk(files or {})
    for one in log:
        made.apply(one)
    return made


def left(made: Disk, share: float) -> Files:
    return made.after_cut(Chance(random.Random(1), share))


def possible(made: Disk, tries: int = 400) -> list[Files]:
    chance = random.Random(1)
    return [made.after_cut(Chance(chance, 0.5)) for _ in range(tries)]


OLD = {"a": b"old"}


def test_what_was_synced_is_kept_and_the_rest_may_be_missing() -> None:
    made = disk(opened("a"), written(b"new"), synced(), written(b"more", 3), files=OLD)
    assert left(made, 0.0) == {"a": b"new"}
    assert left(made, 1.0) == {"a": b"newmore"}
    assert made.shown() == {"a": b"newmore"}


def test_without_a_sync_the_old_content_may_come_back() -> None:
    made = disk(opened("a"), written(b"new"), files=OLD)
    assert {one["a"] for one in possible(made)} == {b"old", b"new"}


def test_a_sync_of_one_file_makes_no_other_sure() -> None:
    log = opened("a"), written(b"new"), opened("b", 9), written(b"x", descriptor=9), synced(9)
    assert left(disk(*log, files={"a": b"old", "b": b""}), 0.0) == {"a": b"old", "b": b"x"}


def test_later_writes_may_arrive_without_earlier_ones() -> None:
    made = disk(opened("a"), written(b"1", 0), written(b"2", 1), files={"a": b".."})
    assert {one["a"] for one in possible(made)} == {b"..", b"1.", b".2", b"12"}


def test_a_new_name_is_there_for_sure_once_its_folder_was_synced() -> None:
    made = disk(opened("a"), written(b"x"), synced())
    assert left(made, 0.0) == {}
    for one in FOLDER_SYNCED:
        made.apply(one)
    assert left(made, 0.0) == {"a": b"x"}


def test_a_removed_file_may_come_back_until_its_folder_is_synced() -> None:
    made = disk(removed("a"), files=OLD)
    assert left(made, 0.0) == OLD
    assert left(made, 1.0) == made.shown() == {}
    assert left(disk(removed("a"), *FOLDER_SYNCED, files=OLD), 0.0) == {}


def test_a_folder_that_was_not_synced_into_its_parent_may_be_missing_with_all_in_it() -> None:
    made = disk(
        Operation(Kind.MKDIR, path="data"),
        opened("data/a"),
        written(b"x"),
        synced(),
        opened("data", FOLDER, os.O_RDONLY),
        synced(FOLDER),
    )
    assert left(made, 0.0) == {}
    for one in (opened(".", 9, os.O_RDONLY), synced(9)):
        made.apply(one)
    assert left(made, 0.0) == {"data/a": b"x"}


def test_a_renaming_happened_whole_or_not_at_all() -> None:
    made = disk(Operation(Kind.RENAME, path="a", data=b"b"), files={"a": b"1", "b": b"2"})
    met = {tuple(sorted(one.items())) for one in possible(made)}
    assert met == {(("a", b"1"), ("b", b"2")), (("b", b"1"),)}


def test_after_a_failed_sync_no_later_one_makes_the_same_write_sure() -> None:
    made = disk(opened("a"), written(b"new"), synced(failed=True), synced(), files=OLD)
    assert left(made, 0.0) == OLD
    made.apply(written(b"NEW"))
    made.apply(synced())
    assert {one["a"] for one in possible(made)} == {b"NEW"}


def test_names_are_sure_by_a_later_sync_of_their_folder() -> None:
    failed = (FOLDER_OPENED, synced(FOLDER, failed=True))
    made = disk(opened("a"), *failed)
    assert left(made, 0.0) == {}
    made.apply(synced(FOLDER))
    assert left(made, 0.0) == {"a": b""}


def test_a_new_size_is_as_unsure_as_a_write() -> None:
    made = disk(opened("a"), resized(1), files=OLD)
    assert {one["a"] for one in possible(made)} == {b"old", b"o"}
    assert left(disk(opened("a"), resized(1), synced(), files=OLD), 0.0) == {"a": b"o"}


def test_a_write_is_torn_at_sectors_and_a_size_may_come_without_its_bytes() -> None:
    data = bytes([1]) * (3 * SECTOR_BYTES)
    contents = {one["a"] for one in possible(disk(opened("a"), written(data), files={"a": b""}))}
    assert {b"", data, bytes(len(data))} <= contents
    torn = [one for one in contents if 0 < one.count(1) < len(data) and set(one) <= {0, 1}]
    assert torn
    for one in torn:
        pieces = (one[at : at + SECTOR_BYTES] for at in range(0, len(one), SECTOR_BYTES))
        assert all(len(set(piece)) == 1 for piece in pieces)


@pytest.mark.parametrize("offset", [0, 24, 511, 512, 4152])
def test_sectors_of_a_write_end_where_those_of_the_disk_do(offset: int) -> None:
    pieces = list(sectors(offset, bytes(1300)))
    assert sum(len(one.data or b"") for one in pieces) == 1300
    assert pieces[0].offset == offset
    assert all(one.offset % SECTOR_BYTES == 0 for one in pieces[1:])


def test_a_new_process_has_none_of_the_old_descriptors() -> None:
    made = disk(opened("a"), Operation(Kind.START), files=OLD)
    with pytest.raises(KeyError):
        made.apply(written(b"x"))


def test_cuts_differ_and_know_what_had_been_told() -> None:
    log = [opened("a"), written(b"1"), synced(), told(b"ack"), written(b"2", 1)]
    states = list(cuts(log, {"a": b""}, 60, 1))
    assert len({(one.told, *one.files.items()) for one in states}) == len(states)
    assert {one.files["a"] for one in states} >= {b"", b"1", b"12"}
    assert all(one.files["a"].startswith(b"1") for one in states if one.told)
    assert states == list(cuts(log, {"a": b""}, 60, 1))
