"""What the commands about kept sound do, as functions."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from voicelist.errors import RecordError
from voicelist.reading import FILE_LIMITS, NotReadable, read_file
from voicelist.record.database import plainly
from voicelist.record.sound import RATE_HZ, KeptSound, opened_sound
from voicelist.record.store import Reader


def sound_words(case: str, url: str | None, *, practice: bool) -> str:
    """What sound is kept of a case, a line an utterance, with the words that the record has."""
    reader = Reader(url, practice=practice)
    words = {entry.seq: str(entry.body.get("words", "")) for entry in reader.entries(case)}
    lines = [f"{_of(one)}  {words.get(one.seq, '')}" for one in reader.sound_folder(case).kept()]
    return "\n".join(lines) or f"No sound is kept of {case}."


def _of(one: KeptSound) -> str:
    start_s, end_s = one.start_sample / RATE_HZ, one.end_sample / RATE_HZ
    return f"event {one.seq}  channel {one.channel}  {start_s:.2f} to {end_s:.2f} s"


def open_sound(
    case: str, key: Path, url: str | None, *, practice: bool
) -> Iterator[tuple[str, bytes]]:
    """The sound of a case, opened: for each utterance the name and the bytes of a FLAC file."""
    try:
        secret = read_file(key, FILE_LIMITS.manifest, "a secret key").decode("utf-8", "replace")
    except NotReadable as error:
        raise RecordError(str(error)) from error
    for one in Reader(url, practice=practice).sound_folder(case).kept():
        yield one.file.name.removesuffix(".age"), opened_sound(one, secret)


def delete_sound(case: str, url: str | None, *, practice: bool) -> str:
    """Deletes the sound of a case, and nothing of its record."""
    with plainly("The sound was not deleted"):
        count = Reader(url, practice=practice).sound_folder(case).delete()
    return f"Deleted: the sound of {count} utterances of {case}. Its record stays as it is."
