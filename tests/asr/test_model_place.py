"""Finding and verifying the speech model, and reading its words without loading it."""

from __future__ import annotations

import os
import shutil
import struct
from collections.abc import Callable
from pathlib import Path

import pytest
from spoken import Sentences, say, texts, with_silence

from voicelist.asr.manifest import manifest_of, save_manifest, sha256_of, shipped_manifest
from voicelist.asr.model import ModelPlace, find_model, verify_model
from voicelist.asr.offline import decode_whole
from voicelist.asr.recogniser import Recogniser
from voicelist.asr.vocabulary import vocabulary, words_alone
from voicelist.asr.wide_beam import verified_wide_model, wide_search_model
from voicelist.errors import MissingPart

CONF = "--beam=10.0\n--lattice-beam=2.0\n--max-active=3000\n--acoustic-scale=1.0\n"


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A tiny model named by the environment."""
    made = tmp_path / "model"
    for name, text in {
        "am/final.mdl": "sound",
        "conf/mfcc.conf": "",
        "conf/model.conf": CONF,
    }.items():
        path = made / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text)
    monkeypatch.setenv("VOICELIST_MODEL", str(made))
    return made


@pytest.fixture
def cache(tmp_path: Path) -> Path:
    return tmp_path / "cache"


def refuse_links(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object) -> None:
        raise OSError("no links here")

    monkeypatch.setattr(os, "link", refuse)
    monkeypatch.setattr(os, "symlink", refuse)


def count_hashing(monkeypatch: pytest.MonkeyPatch) -> list[Path]:
    hashed: list[Path] = []

    def counting(where: Path, name: str) -> object:
        hashed.append(where)
        return manifest_of(where, name)

    monkeypatch.setattr("voicelist.asr.model.manifest_of", counting)
    return hashed


def test_the_environment_names_the_model(folder: Path, cache: Path) -> None:
    place = find_model(cache)
    assert place.path == folder
    assert place.fingerprint == manifest_of(folder, "any name").fingerprint
    assert place.note is not None
    assert "not the one that voicelist was measured with" in place.note


def test_a_model_is_hashed_once_and_then_remembered(
    folder: Path, cache: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    hashed = count_hashing(monkeypatch)
    assert find_model(cache) == find_model(cache)
    assert hashed == [folder]


def test_a_changed_file_is_noticed(folder: Path, cache: Path) -> None:
    before = find_model(cache)
    changed = folder / "am" / "final.mdl"
    changed.write_text("other")
    os.utime(changed, (1, 1))
    assert find_model(cache).fingerprint != before.fingerprint
    with pytest.raises(MissingPart, match="damaged"):
        verify_model(before, cache)


def test_verification_hashes_even_what_looks_unchanged(folder: Path, cache: Path) -> None:
    before = find_model(cache)
    changed = folder / "am" / "final.mdl"
    times = changed.stat()
    changed.write_text("other")
    os.utime(changed, ns=(times.st_atime_ns, times.st_mtime_ns))
    assert find_model(cache) == before
    with pytest.raises(MissingPart, match="damaged"):
        verify_model(before, cache)


def test_labels_in_a_model_folder_do_not_change_its_fingerprint(folder: Path, cache: Path) -> None:
    before = find_model(cache).fingerprint
    (folder / "README").write_text("a label")
    assert find_model(cache).fingerprint == before


def test_an_absent_model_says_which_command_fetches_it(
    cache: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("VOICELIST_MODEL", raising=False)
    with pytest.raises(MissingPart, match="run `voicelist model`"):
        find_model(cache)
    assert not cache.exists()


def test_a_wrong_environment_is_named(cache: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("VOICELIST_MODEL", "/nowhere/at/all")
    with pytest.raises(MissingPart, match="VOICELIST_MODEL names /nowhere/at/all"):
        find_model(cache)


def test_an_unwritable_cache_does_not_hinder(folder: Path, cache: Path) -> None:
    cache.write_text("a file where the folder should be")
    assert find_model(cache).path == folder


def test_the_wide_search_is_a_linked_copy_with_its_own_settings(folder: Path, cache: Path) -> None:
    place = find_model(cache)
    wide = wide_search_model(place, cache)
    lines = (wide / "conf" / "model.conf").read_text().splitlines()
    options = dict(line.split("=") for line in lines)
    assert len(options) == len(lines)
    assert options["--lattice-beam"] == "6.0"
    assert options["--acoustic-scale"] == "1.0"
    assert (wide / "conf" / "mfcc.conf").read_text() == "--dither=0.0\n"
    assert (folder / "conf" / "mfcc.conf").read_text() == ""
    assert (folder / "conf" / "model.conf").read_text() == CONF
    assert (wide / "am" / "final.mdl").samefile(folder / "am" / "final.mdl")
    assert wide_search_model(place, cache) == wide
    assert not list(wide.parent.glob(".*"))


def test_a_broken_wide_copy_is_made_again(folder: Path, cache: Path) -> None:
    place = find_model(cache)
    wide = wide_search_model(place, cache)
    (wide / "am" / "final.mdl").unlink()
    assert wide_search_model(place, cache) == wide
    assert (wide / "am" / "final.mdl").read_text() == "sound"


# The files of the copy that are its own.
OWN = ("conf/model.conf", "conf/mfcc.conf", "graph/Gr.fst", "made.json")


def place_with_words(folder: Path, cache: Path) -> ModelPlace:
    graph = folder / "graph" / "Gr.fst"
    graph.parent.mkdir()
    graph.write_bytes(table(["<eps>", "firm", "loose"]) + bytes(500))
    return find_model(cache)


def changed_in_place(path: Path) -> None:
    """Other bytes, the same size, the same times, in a file that nothing else links to."""
    content, times = path.read_bytes(), path.stat()
    path.unlink()
    path.write_bytes(content[:-1] + bytes([content[-1] ^ 1]))
    os.utime(path, ns=(times.st_atime_ns, times.st_mtime_ns))


def bytes_of(folder: Path) -> dict[str, bytes]:
    files = (path for path in folder.rglob("*") if path.is_file())
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in files}


@pytest.mark.parametrize("prepare", [wide_search_model, verified_wide_model])
@pytest.mark.parametrize("name", [*OWN, "am/final.mdl"])
@pytest.mark.parametrize("links", [True, False], ids=["linked", "copied"])
def test_a_wide_copy_that_was_changed_is_made_again(
    folder: Path,
    cache: Path,
    prepare: Callable[..., Path],
    name: str,
    links: bool,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    if not links:
        refuse_links(monkeypatch)
    place = place_with_words(folder, cache)
    wide = wide_search_model(place, cache)
    good, model = bytes_of(wide), bytes_of(folder)
    changed_in_place(wide / name)
    assert bytes_of(wide) != good
    assert prepare(place, cache) == wide
    assert bytes_of(wide) == good
    assert bytes_of(folder) == model


@pytest.mark.parametrize("spoil", [Path.unlink, lambda path: path.write_bytes(b"")])
@pytest.mark.parametrize("name", OWN)
def test_a_wide_copy_that_lost_something_is_made_again(
    folder: Path, cache: Path, name: str, spoil: Callable[[Path], object]
) -> None:
    place = place_with_words(folder, cache)
    wide = wide_search_model(place, cache)
    good = bytes_of(wide)
    spoil(wide / name)
    assert wide_search_model(place, cache) == wide
    assert bytes_of(wide) == good


def test_a_file_more_in_the_wide_copy_is_taken_out(folder: Path, cache: Path) -> None:
    place = find_model(cache)
    wide = wide_search_model(place, cache)
    good = bytes_of(wide)
    (wide / "ivector").mkdir()
    (wide / "ivector" / "more.conf").write_text("--more=1\n")
    wide_search_model(place, cache)
    assert bytes_of(wide) == good


def test_a_list_that_fits_a_changed_copy_is_found_out_when_verified(
    folder: Path, cache: Path
) -> None:
    place = place_with_words(folder, cache)
    wide = wide_search_model(place, cache)
    good = bytes_of(wide)
    changed_in_place(wide / "graph" / "Gr.fst")
    save_manifest(manifest_of(wide, folder.name), wide / "made.json")
    verified_wide_model(place, cache)
    assert bytes_of(wide) == good


def test_a_good_wide_copy_is_left_alone_and_only_what_is_its_own_is_hashed(
    folder: Path, cache: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    place = place_with_words(folder, cache)
    wide = wide_search_model(place, cache)
    before = {path: path.stat().st_ino for path in wide.rglob("*")}
    hashed: list[Path] = []

    def counting(path: Path) -> str:
        hashed.append(path)
        return sha256_of(path)

    monkeypatch.setattr("voicelist.asr.wide_beam.sha256_of", counting)
    assert wide_search_model(place, cache) == verified_wide_model(place, cache) == wide
    assert {path: path.stat().st_ino for path in wide.rglob("*")} == before
    assert set(hashed) == {wide / "graph" / "Gr.fst"}


def test_a_disk_that_does_not_keep_what_is_written_is_named_and_nothing_is_put_there(
    folder: Path, cache: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    place = place_with_words(folder, cache)
    wide = wide_search_model(place, cache)
    changed_in_place(wide / "graph" / "Gr.fst")
    left = bytes_of(wide)
    write = Path.write_bytes
    monkeypatch.setattr(Path, "write_bytes", lambda path, data: write(path, bytes(len(data))))
    for prepare in (wide_search_model, verified_wide_model):
        with pytest.raises(MissingPart, match=r"check the disk, then run `voicelist model`"):
            prepare(place, cache)
    assert bytes_of(wide) == left
    assert not list(wide.parent.glob(".*"))


def test_nothing_is_made_of_a_model_that_is_not_what_it_was(folder: Path, cache: Path) -> None:
    place = place_with_words(folder, cache)
    changed_in_place(folder / "am" / "final.mdl")
    with pytest.raises(MissingPart, match=r"damaged; run `voicelist model`"):
        wide_search_model(place, cache)
    assert not list((cache / "models").glob("wide-*"))


def test_where_links_are_impossible_files_are_copied(
    folder: Path, cache: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    refuse_links(monkeypatch)
    wide = wide_search_model(find_model(cache), cache)
    assert (wide / "am" / "final.mdl").read_text() == "sound"
    assert not (wide / "am" / "final.mdl").samefile(folder / "am" / "final.mdl")


def table(words: list[str]) -> bytes:
    """An OpenFst header with an embedded symbol table, as the small models have it."""

    def text(value: str) -> bytes:
        return struct.pack("<i", len(value.encode())) + value.encode()

    header = struct.pack("<i", 2125659606) + text("ngram") + text("standard")
    header += struct.pack("<ii4q", 4, 3, 0, 0, 0, 0)
    entries = b"".join(text(word) + struct.pack("<q", at) for at, word in enumerate(words))
    return (
        header
        + struct.pack("<i", 2125658996)
        + text("words")
        + struct.pack("<qq", len(words), len(words))
        + entries
    )


def test_words_are_read_from_the_graph(tmp_path: Path) -> None:
    (tmp_path / "graph").mkdir()
    (tmp_path / "graph" / "Gr.fst").write_bytes(
        table(["<eps>", "!SIL", "a", "über", "[unk]", "#0"])
    )
    assert vocabulary(tmp_path) == {"a", "über", "[unk]"}


def test_words_are_read_from_a_list_where_there_is_one(tmp_path: Path) -> None:
    (tmp_path / "graph").mkdir()
    (tmp_path / "graph" / "words.txt").write_text("<eps> 0\nfirm 1\n#0 2\n")
    assert vocabulary(tmp_path) == {"firm"}


@pytest.mark.parametrize("content", [b"", b"not a graph at all", table(["a"] * 50)[:200]])
def test_a_damaged_word_table_is_named(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "graph").mkdir()
    (tmp_path / "graph" / "Gr.fst").write_bytes(content)
    with pytest.raises(MissingPart, match="words of the speech model"):
        vocabulary(tmp_path)


@pytest.mark.parametrize("content", [b"", b"not a graph at all", table(["a"] * 50)[:200]])
def test_a_graph_without_words_is_left_as_it_is(folder: Path, cache: Path, content: bytes) -> None:
    (folder / "graph").mkdir()
    graph = folder / "graph" / "Gr.fst"
    graph.write_bytes(content)
    assert words_alone(graph) is None
    wide = wide_search_model(find_model(cache), cache)
    assert (wide / "graph" / "Gr.fst").read_bytes() == content


def test_of_the_graph_only_the_words_are_kept(speech_model: ModelPlace, tmp_path: Path) -> None:
    wide = wide_search_model(speech_model, tmp_path)
    assert wide_search_model(speech_model, tmp_path) == wide
    graph, whole = (one / "graph" / "Gr.fst" for one in (wide, speech_model.path))
    assert graph.stat().st_size < whole.stat().st_size / 5
    assert vocabulary(wide) == vocabulary(speech_model.path)
    assert words_alone(graph) == graph.read_bytes()


def test_without_the_rest_of_the_graph_phrases_are_heard_the_same(
    speech_model: ModelPlace, tmp_path: Path
) -> None:
    wide = wide_search_model(speech_model, tmp_path)
    whole = tmp_path / "whole"
    shutil.copytree(wide, whole, copy_function=os.link)
    (whole / "graph" / "Gr.fst").unlink()
    (whole / "graph" / "Gr.fst").symlink_to(speech_model.path / "graph" / "Gr.fst")
    sound = with_silence(say("vacuum three fifty five"))
    alike = [decode_whole(Recogniser(one), sound, Sentences()) for one in (wide, whole)]
    assert texts(alike[0])[0] == "vacuum three fifty five"
    assert alike[0].passes.first == alike[1].passes.first
    assert alike[0].passes.second == alike[1].passes.second


def test_the_real_model_is_the_one_in_the_manifest(speech_model: ModelPlace) -> None:
    found = manifest_of(speech_model.path, shipped_manifest().name)
    if speech_model.note is not None:
        pytest.skip(speech_model.note)
    assert found == shipped_manifest()


def test_the_words_read_are_the_words_known(speech_model: ModelPlace) -> None:
    import vosk

    vosk.SetLogLevel(-1)
    words = vocabulary(speech_model.path)
    model = vosk.Model(str(speech_model.path))
    assert {"irrigation", "firm", "[unk]"} <= words
    assert not {"phacoemulsification", "dioptre", "capsulorhexis"} & words
    assert all(model.vosk_model_find_word(word) >= 0 for word in words)
    assert model.vosk_model_find_word("phacoemulsification") < 0
