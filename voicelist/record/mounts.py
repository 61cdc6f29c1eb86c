"""Whether a file would lie on a network: SQLite's write-ahead log does not work there.

So says its page "Write-Ahead Logging" (sqlite.org/wal.html): all processes have to be on one
computer. On Linux the kernel says what each folder is mounted from (proc_pid_mountinfo(5));
elsewhere nobody is asked.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Final

from voicelist.errors import RecordError

MOUNTS: Final = Path("/proc/self/mountinfo")
# What the command `stat` of GNU coreutils counts as remote (its src/stat.c), by the names of
# mountinfo; from memory, what a virtual machine shares with its host, and programs (`fuse.NAME`).
NETWORK: Final = frozenset(
    (
        *("acfs", "afs", "beegfs", "ceph", "cifs", "coda", "fhgfs", "gfs2", "gpfs", "ibrix"),
        *("lustre", "ncpfs", "nfs", "nfs4", "ocfs2", "panfs", "prl_fs", "smb3", "smbfs", "snfs"),
        *("9p", "vboxsf", "virtiofs", "vmhgfs", "vmhgfs-fuse"),
        *("curlftpfs", "davfs", "davfs2", "glusterfs", "orangefs", "pvfs2", "rclone", "s3fs"),
        *("smbnetfs", "sshfs"),
    )
)
_ESCAPED = re.compile(r"\\([0-7]{3})")


def refuse_network(file: Path, mounts: Path = MOUNTS) -> None:
    """Raises RecordError if the file lies, or would lie, on a file system of a network."""
    kind = file_system_of(file, mounts)
    if kind.removeprefix("fuse.") in NETWORK:
        raise RecordError(
            f"{file} lies on a network ({kind}), where SQLite cannot keep records safe: name a "
            "file on a local disk, or a database server, with --store."
        )


def file_system_of(file: Path, mounts: Path = MOUNTS) -> str:
    """The type of the file system that the file, or the folder nearest to it, lies on; "" where
    that cannot be known."""
    try:
        lines = mounts.read_text(encoding="utf-8", errors="surrogateescape").splitlines()
        path = file.absolute().resolve()
    except (OSError, RuntimeError):
        return ""
    longest, kind = -1, ""
    for line in lines:
        before, _, after = line.partition(" - ")
        fields = before.split(" ")
        if len(fields) < 5 or not after:
            continue
        point = Path(_ESCAPED.sub(lambda found: chr(int(found[1], 8)), fields[4]))
        # Of several mounts at one place the last lies on top.
        if path.is_relative_to(point) and len(point.parts) >= longest:
            longest, kind = len(point.parts), after.split(" ")[0]
    return kind
