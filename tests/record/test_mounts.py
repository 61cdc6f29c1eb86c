"""Records are not written to a network file system."""

from __future__ import annotations

from pathlib import Path

import pytest
from cases import keep, opened

from voicelist.errors import RecordError
from voicelist.record import mounts
from voicelist.record.mounts import file_system_of, refuse_network
from voicelist.record.store import Reader, Store

# In the form of the example of proc_pid_mountinfo(5).
_LINE = "36 35 98:0 / {point} rw,noatime master:1 - {kind} /dev/root rw,errors=continue\n"


def _mounted(folder: Path, *points: tuple[object, str]) -> Path:
    table = folder / "mountinfo"
    lines = [_LINE.format(point=str(p).replace(" ", r"\040"), kind=kind) for p, kind in points]
    table.write_text("".join(lines))
    return table


@pytest.mark.parametrize("kind", ["nfs", "nfs4", "cifs", "smb3", "9p", "fuse.sshfs", "ceph"])
def test_a_store_on_a_network_is_refused_before_anything_is_made(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, kind: str
) -> None:
    share = tmp_path / "a share"
    share.mkdir()
    keep(Store(f"sqlite:///{share / 'old.sqlite3'}"), "case-1", (opened(),))
    before = sorted(share.iterdir())
    monkeypatch.setattr(
        mounts.refuse_network, "__defaults__", (_mounted(tmp_path, ("/", "ext4"), (share, kind)),)
    )
    for name in ("new.sqlite3", "deeper/new.sqlite3", "old.sqlite3"):
        with pytest.raises(RecordError, match=rf"on a network \({kind}\).*--store"):
            Store(f"sqlite:///{share / name}").open_case("case-2")
    assert sorted(share.iterdir()) == before
    assert Reader(f"sqlite:///{share / 'old.sqlite3'}").codes() == ("case-1",)
    keep(Store(f"sqlite:///{tmp_path / 'local.sqlite3'}"), "case-1", (opened(),))


def test_the_innermost_and_the_last_mount_counts(tmp_path: Path) -> None:
    table = _mounted(
        tmp_path,
        ("/", "nfs4"),
        (tmp_path, "ext4"),
        (tmp_path / "over", "cifs"),
        (tmp_path / "over", "btrfs"),
        (tmp_path / "ove", "cifs"),
    )
    assert file_system_of(Path("/elsewhere/x"), table) == "nfs4"
    assert file_system_of(tmp_path / "x", table) == "ext4"
    assert file_system_of(tmp_path / "over" / "x", table) == "btrfs"
    (tmp_path / "link").symlink_to(tmp_path / "ove")
    with pytest.raises(RecordError, match="cifs"):
        refuse_network(tmp_path / "link" / "x", table)


def test_where_nobody_says_what_is_mounted_nothing_is_refused(tmp_path: Path) -> None:
    assert file_system_of(tmp_path, tmp_path / "none") == ""
    refuse_network(tmp_path, tmp_path / "none")
    damaged = tmp_path / "mountinfo"
    damaged.write_text("36 35 98:0\n\n - nfs x\n")
    assert file_system_of(tmp_path, damaged) == ""
