"""Sound is kept only where that was asked for, encrypted, linked to its events, deletable alone."""

from __future__ import annotations

import json
import stat
from pathlib import Path

import numpy as np
import pytest
import soundfile

from tests.command import PLAN, Answer, Command, voicelist
from tests.record.cases import keep, stepped_store, whole_case
from voicelist import places
from voicelist.asr.model import ModelPlace
from voicelist.audio.samples import Samples
from voicelist.errors import RecordError, UsageError
from voicelist.listening.kept_sound import HeldSound, SoundKeeper
from voicelist.listening.sound import Piece
from voicelist.places import shipped
from voicelist.record.sound import (
    SoundFolder,
    add_public_key,
    new_sound_key,
    opened_sound,
    public_keys,
)
from voicelist.session.events import Stop
from voicelist.session.records import Answered, Heard

__all__ = ["voicelist"]

CLIPS = shipped("audio_fixtures_synthetic") / "demo"
CASE = "practice-007"


class _Pieces:
    """A source of pieces given beforehand."""

    channels = 2

    def __init__(self, *pieces: Piece | Stop) -> None:
        self._left = list(pieces)

    def cue(self, _: object) -> None:
        """Nothing waits for it."""

    def answered(self) -> None:
        """Nothing waits for it."""

    def read(self) -> Piece | Stop | None:
        return self._left.pop(0) if self._left else None


def _noise(seconds: float, seed: int) -> Samples:
    shape = (2, round(seconds * 16_000))
    return np.random.default_rng(seed).integers(-9_000, 9_000, shape, np.int16)


def _held(*pieces: Piece | Stop) -> HeldSound:
    held = HeldSound(_Pieces(*pieces))
    assert [held.read() for _ in range(len(pieces) + 1)] == [*pieces, None]
    return held


def test_an_utterance_is_cut_out_of_its_channel_with_a_little_around_it() -> None:
    sound = _noise(4, 1)
    pieces = [Piece(at, sound[:, at : at + 512]) for at in range(0, 64_000, 512)]
    start, cut = _held(*pieces, Stop("over")).cut(1, 1.0, 2.5)
    assert (start, len(cut)) == (12_800, round(1.9 * 16_000))
    assert np.array_equal(cut, sound[1, start : start + len(cut)])
    start, cut = _held(*pieces).cut(0, 0.1, 9.0)
    assert (start, len(cut)) == (0, 64_000)


def test_where_nothing_was_listened_to_there_is_silence_and_two_minutes_are_held() -> None:
    before, after = _noise(1, 2), _noise(1, 3)
    start, cut = _held(Piece(0, before), Piece(32_000, after)).cut(0, 0.5, 2.5)
    assert np.array_equal(cut[: 16_000 - start], before[0, start:])
    assert not cut[16_000 - start : 32_000 - start].any()
    assert cut[32_000 - start :].any()
    later = _held(Piece(0, before), *(Piece(n * 16_000, after) for n in range(1, 125)))
    assert not later.cut(0, 0.3, 0.6)[1].any()


@pytest.fixture
def key(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    """The secret key of a site whose public key is in a data folder of its own."""
    monkeypatch.setattr(places.platformdirs, "user_data_dir", lambda *_, **__: str(tmp_path / "d"))
    secret, public = new_sound_key()
    add_public_key(public)
    return secret


def test_sound_is_opened_by_the_secret_key_alone(key: str, tmp_path: Path) -> None:
    folder, sound = SoundFolder(tmp_path / "sound" / "case"), _noise(1, 4)[0]
    other, public = new_sound_key()
    file = folder.keep(12, 1, 32_000, sound, (*public_keys(), public))
    assert file.read_bytes().startswith(b"age-encryption.org/v1\n")
    assert {stat.S_IMODE(one.stat().st_mode) for one in (file.parent, file.parent.parent)} == {
        0o700
    }
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    (kept,) = folder.kept()
    assert (kept.seq, kept.channel, kept.start_sample, kept.end_sample) == (12, 1, 32_000, 48_000)
    for secret in (key, f"# public key: x\n{other}\n"):
        flac = tmp_path / "opened.flac"
        flac.write_bytes(opened_sound(kept, secret))
        assert np.array_equal(soundfile.read(flac, dtype="int16")[0], sound)
    with pytest.raises(RecordError, match="cannot be opened with this key"):
        opened_sound(kept, new_sound_key()[0])
    with pytest.raises(UsageError, match="no secret key"):
        opened_sound(kept, public)
    data = bytearray(file.read_bytes())
    data[-5] ^= 1
    file.write_bytes(data)
    with pytest.raises(RecordError, match="or was changed"):
        opened_sound(kept, key)
    assert folder.delete() == 1
    assert folder.kept() == ()


def test_only_what_the_record_has_words_of_is_kept(key: str, tmp_path: Path) -> None:
    told: list[str] = []
    folder = SoundFolder(tmp_path / "sound")
    keeper = SoundKeeper(_held(Piece(0, _noise(3, 5))), folder, public_keys(), told.append)
    said = {"channel": 0, "start_s": 1.0, "end_s": 2.0}
    keeper.keep(1, Heard("voice", "not-for-us", **said))
    keeper.keep(2, Heard("voice", "not-understood", why="it was said freely", **said))
    keeper.keep(3, Heard("typed", "understood", "bottle full"))
    keeper.keep(4, Answered("bottle", "said-done", "bottle full"))
    assert folder.kept() == ()
    keeper.keep(5, Heard("voice", "not-understood", "bottle", **said))
    assert [one.seq for one in folder.kept()] == [5]
    keeper.keep(5, Heard("voice", "understood", "bottle full", **said))
    keeper.keep(6, Heard("voice", "understood", "bottle full", **said))
    assert [one.seq for one in folder.kept()] == [5]
    assert len(told) == 1, "what cannot be kept is told once"
    assert "The record goes on" in told[0]


def test_without_a_key_no_sound_is_kept_and_no_case_begins(
    voicelist: Command, tmp_path: Path, speech_model: ModelPlace
) -> None:
    sound = tmp_path / "room.wav"
    soundfile.write(sound, np.zeros(16_000, np.int16), 16_000)
    run = ("run", PLAN, "--audio", sound, "--pace", "fast", "--voice", "none", "--keep-audio")
    refused = voicelist(*run)
    assert refused.code == 2
    assert "voicelist record sound-key -o FILE" in refused.err
    assert voicelist("run", PLAN, "--typed", "--keep-audio").code == 2
    assert voicelist("record", "list", "--json").out.strip() == "[]"


def _room(folder: Path) -> tuple[Path, Samples]:
    """An answer and talk of a stranger, with quiet around them."""
    quiet = np.random.default_rng(6).integers(-20, 20, 40_000).astype(np.int16)
    clips = [
        soundfile.read(CLIPS / name, dtype="int16")[0]
        for name in ("02-irrigation-line.flac", "05-bottle.flac")
    ]
    sound = np.concatenate([quiet, clips[0], quiet, clips[1], quiet, quiet])
    soundfile.write(folder / "room.wav", sound, 16_000)
    return folder / "room.wav", sound


def test_a_case_keeps_the_sound_of_its_answers_and_of_no_talk(
    voicelist: Command, tmp_path: Path, speech_model: ModelPlace
) -> None:
    file, sound = _room(tmp_path)
    secret, opened, journal = tmp_path / "secret", tmp_path / "opened", tmp_path / "journal"
    run = ("run", PLAN, "--audio", file, "--pace", "fast", "--voice", "none")
    store = f"sqlite:///{tmp_path / 'without.sqlite3'}"
    assert voicelist(*run, "--store", store).code == 0
    assert "No sound is kept" in voicelist("record", "sound", CASE, "--store", store).out
    assert voicelist("record", "sound-key", "-o", secret).code == 0
    assert stat.S_IMODE(secret.stat().st_mode) == 0o600
    assert "is kept, encrypted" in " ".join(voicelist(*run, "--keep-audio").out.split())

    assert voicelist(*_record(("sound", CASE, "--key", secret, "-o", opened))).code == 0
    exported = ("export", CASE, "--format", "journal", "-o", journal)
    head = voicelist(*_record(exported)).out.splitlines()[1].removeprefix("Head ")
    events = [json.loads(line) for line in journal.read_text(encoding="utf-8").splitlines()]
    assert events[0]["body"]["sound_kept"] is True
    heard = {one["seq"]: one["body"] for one in events if one["kind"] == "heard"}
    assert len(heard) == 2
    (flac,) = opened.iterdir()
    _, seq, _, channel, _, start, end = flac.stem.split("-")
    assert heard[int(seq)]["words"] == "irrigation line firm"
    assert int(start) / 16_000 == pytest.approx(heard[int(seq)]["start_s"] - 0.2, abs=0.001)
    cut = soundfile.read(flac, dtype="int16")[0]
    assert (int(channel), len(cut)) == (0, int(end) - int(start))
    assert np.array_equal(cut, sound[int(start) : int(end)])
    assert b"fLaC" not in b"".join(
        one.read_bytes() for one in (tmp_path / "data").rglob("*") if one.is_file()
    )
    _deleted_alone(voicelist, tmp_path, head)


def _record(arguments: tuple[object, ...]) -> tuple[object, ...]:
    return ("record", *arguments)


def _deleted_alone(voicelist: Command, folder: Path, head: str) -> Answer:
    """The record stays whole without its sound."""
    listed = voicelist("record", "sound", CASE)
    assert "irrigation line firm" in listed.out
    assert voicelist("record", "sound", CASE, "--delete").code == 0
    assert not list((folder / "data").rglob("*.age"))
    verified = voicelist("record", "verify", CASE, "--head", head)
    assert verified.code == 0
    return verified


def test_sound_goes_with_the_case_that_is_erased(key: str, tmp_path: Path) -> None:
    store = stepped_store(tmp_path / "records.sqlite3")
    for case in ("case-1", "case-2"):
        keep(store, case, whole_case())
        store.sound_folder(case).keep(2, 0, 0, _noise(1, 7)[0], public_keys())
    store.erase(("case-1",), role="team-lead", reason="asked for", code_too=True)
    assert store.sound_folder("case-1").kept() == ()
    assert len(store.sound_folder("case-2").kept()) == 1
    assert len(list(tmp_path.rglob("*.age"))) == 1
    assert b"case-1" not in str(list(tmp_path.rglob("*"))).encode()
