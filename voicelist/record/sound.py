"""The sound of utterances, where a site keeps it: one encrypted file each, beside the store.

A file is FLAC in the age format (age-encryption.org/v1, by the library pyrage), encrypted for the
public keys of the site. The computer in the theatre has no key that opens it; the secret one is
kept elsewhere. Its name says to which event of the journal it belongs, and which samples of which
channel it holds. It belongs to no chain: deleted, it leaves the record as it is.
"""

from __future__ import annotations

import contextlib
import hashlib
import io
import os
import re
import shutil
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from voicelist.errors import MissingPart, RecordError, UsageError
from voicelist.places import data_folder
from voicelist.record.database import StorePlace
from voicelist.record.store_file import make_folder

RATE_HZ: Final = 16_000
_NAME = re.compile(r"event-(\d{6,})-channel-(\d)-samples-(\d{9,})-(\d{9,})\.flac\.age")
_PUBLIC = "sound-keys.txt"


@dataclass(frozen=True, slots=True)
class KeptSound:
    """One utterance: the event of the journal that tells of it, its channel and its samples (first,
    behind the last), counted at 16 kHz since the sound of its run began."""

    file: Path
    seq: int
    channel: int
    start_sample: int
    end_sample: int


@dataclass(frozen=True, slots=True)
class SoundFolder:
    """Where the sound of one case lies."""

    path: Path

    def keep(
        self,
        seq: int,
        channel: int,
        start_sample: int,
        sound: npt.NDArray[np.int16],
        keys: Iterable[str],
    ) -> Path:
        """Encrypts one utterance for the public keys; its owner alone may read the file. Raises
        OSError if it cannot be written."""
        end = start_sample + len(sound)
        name = f"event-{seq:06}-channel-{channel}-samples-{start_sample:09}-{end:09}.flac.age"
        data = _encrypted(_flac(sound), keys)
        make_folder(self.path)
        file = self.path / name
        descriptor = os.open(file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(descriptor, "wb") as opened:
            opened.write(data)
        return file

    def kept(self) -> tuple[KeptSound, ...]:
        """All utterances that are kept, in the order of their events."""
        with contextlib.suppress(FileNotFoundError):
            return tuple(sorted(self._found(), key=lambda one: (one.seq, one.channel)))
        return ()

    def _found(self) -> Iterator[KeptSound]:
        for file in self.path.iterdir():
            named = _NAME.fullmatch(file.name)
            if named:
                yield KeptSound(file, *map(int, named.groups()))

    def delete(self) -> int:
        """Deletes all of it, and says how many utterances that were. Raises OSError."""
        count = len(self.kept())
        if self.path.exists():
            shutil.rmtree(self.path)
        return count


def sound_folder(place: StorePlace, case: str) -> SoundFolder:
    """Where the sound of a case of this store lies; a folder's name does not tell the case code."""
    beside = place.file
    above = data_folder() / "sound" if beside is None else beside.with_name(f"{beside.name}-sound")
    return SoundFolder(above / hashlib.sha256(case.encode()).hexdigest()[:32])


def new_sound_key() -> tuple[str, str]:
    """A secret key and its public key, as text. Raises MissingPart without the library."""
    identity = _library().x25519.Identity.generate()
    return str(identity), str(identity.to_public())


def add_public_key(public: str) -> Path:
    """Has sound encrypted for this key, too, from now on. Returns the file of the public keys.
    Raises UsageError for what is no such key."""
    _recipient(public)
    file = data_folder() / _PUBLIC
    make_folder(file.parent)
    with open(os.open(file, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600), "a") as opened:
        opened.write(f"{public}\n")
    return file


def public_keys() -> tuple[str, ...]:
    """The keys that sound is encrypted for. Raises UsageError if there are none."""
    file = data_folder() / _PUBLIC
    try:
        lines = file.read_text(encoding="ascii").split()
    except (OSError, UnicodeDecodeError):
        lines = []
    if not lines:
        raise UsageError(
            f"There is no key to encrypt sound for in {file}. Make one with: voicelist record "
            "sound-key -o FILE, and keep that file away from this computer."
        )
    for line in lines:
        _recipient(line)
    return tuple(lines)


def opened_sound(sound: KeptSound, secret: str) -> bytes:
    """The FLAC file of an utterance. Raises UsageError for what is no secret key, RecordError if it
    does not open the sound."""
    library = _library()
    lines = [line for line in secret.split() if line.startswith("AGE-SECRET-KEY-")]
    try:
        identities = [library.x25519.Identity.from_str(line) for line in lines]
    except library.IdentityError:
        identities = []
    if not identities:
        raise UsageError("This is no secret key as voicelist record sound-key writes it.")
    try:
        return bytes(library.decrypt(sound.file.read_bytes(), identities))
    except (library.DecryptError, OSError) as error:
        raise RecordError(
            f"{sound.file.name} cannot be opened with this key, or was changed ({error})."
        ) from error


def _flac(sound: npt.NDArray[np.int16]) -> bytes:
    import soundfile

    file = io.BytesIO()
    soundfile.write(file, sound, RATE_HZ, format="FLAC", subtype="PCM_16")
    return file.getvalue()


def _encrypted(data: bytes, keys: Iterable[str]) -> bytes:
    return bytes(_library().encrypt(data, [_recipient(key) for key in keys]))


def _recipient(public: str) -> Any:
    library = _library()
    try:
        return library.x25519.Recipient.from_str(public)
    except library.RecipientError as error:
        raise UsageError(f"{public!r} is no public key for sound.") from error


def _library() -> Any:
    try:
        import pyrage
    except ImportError as error:
        raise MissingPart(
            "Keeping sound needs the Python package pyrage: pip install pyrage."
        ) from error
    return pyrage
