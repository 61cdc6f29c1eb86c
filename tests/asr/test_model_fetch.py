"""Fetching the speech model: every way in which a line, a server or an archive can fail."""

from __future__ import annotations

import hashlib
import http.server
import io
import os
import re
import shutil
import stat
import subprocess
import sys
import threading
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from voicelist.asr.fetch import MavenArtifact, fetch_model
from voicelist.asr.manifest import FileMark, ModelManifest, manifest_of, save_manifest
from voicelist.asr.model import FETCHED_LIST, ModelPlace, find_model
from voicelist.errors import MissingPart

NAME = "tiny-model"
FILES = {
    "am/final.mdl": os.urandom(90_000),
    "conf/mfcc.conf": b"--sample-frequency=16000\n",
    "conf/model.conf": b"--beam=10.0\n",
    "graph/Gr.fst": os.urandom(60_000),
}


def mark(name: str, content: bytes) -> FileMark:
    return FileMark(name, len(content), hashlib.sha256(content).hexdigest())


MANIFEST = ModelManifest(NAME, tuple(mark(name, FILES[name]) for name in sorted(FILES)))


def packed(files: dict[str, bytes], top: str = NAME) -> bytes:
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w") as archive:
        for name, content in files.items():
            archive.writestr(f"{top}/{name}", content)
    return held.getvalue()


@dataclass
class Server:
    """A server of one archive, with the faults that a test asks for."""

    archive: bytes
    ranges: bool = True
    cut_after: list[int] = field(default_factory=list)
    status: int = 200
    asked: list[str | None] = field(default_factory=list)
    base: str = ""


def handler_for(server: Server) -> type[http.server.BaseHTTPRequestHandler]:
    class Handler(http.server.BaseHTTPRequestHandler):
        def log_message(self, *_: object) -> None:
            pass

        def do_GET(self) -> None:
            if self.path != f"/{NAME}.zip":
                self.answer(404, b"", {})
                return
            wanted = self.headers.get("Range")
            server.asked.append(wanted)
            start = int(re.findall(r"\d+", wanted)[0]) if wanted and server.ranges else 0
            total = len(server.archive)
            if server.status != 200:
                self.answer(server.status, b"", {})
            elif start >= total:
                self.answer(416, b"", {"Content-Range": f"bytes */{total}"})
            elif start:
                extent = {"Content-Range": f"bytes {start}-{total - 1}/{total}"}
                self.answer(206, server.archive[start:], extent)
            else:
                self.answer(200, server.archive, {})

        def answer(self, status: int, body: bytes, headers: dict[str, str]) -> None:
            self.send_response(status)
            for name, value in headers.items():
                self.send_header(name, value)
            self.send_header("Content-Length", str(len(body)))
            self.end_headers()
            self.wfile.write(body[: server.cut_after.pop(0)] if server.cut_after else body)

    return Handler


@pytest.fixture
def server() -> Iterator[Server]:
    described = Server(packed(FILES))
    running = http.server.ThreadingHTTPServer(("127.0.0.1", 0), handler_for(described))
    described.base = f"http://127.0.0.1:{running.server_port}/"
    threading.Thread(target=running.serve_forever, args=(0.01,), daemon=True).start()
    yield described
    running.shutdown()
    running.server_close()


@pytest.fixture
def cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.delenv("VOICELIST_MODEL", raising=False)
    for name in ("http_proxy", "HTTP_PROXY", "all_proxy", "ALL_PROXY"):
        monkeypatch.delenv(name, raising=False)
    return tmp_path / "cache"


def fetch(server: Server, cache: Path) -> ModelPlace:
    return fetch_model(
        lambda *_: None,
        cache=cache,
        manifest=MANIFEST,
        artifact=None,
        archives=server.base,
        pause_s=0.0,
    )


def assert_nothing_usable(cache: Path) -> None:
    with pytest.raises(MissingPart):
        find_model(cache, MANIFEST)
    assert not (cache / "models" / NAME).exists()
    assert not list((cache / "models").glob(".*"))


def assert_whole(place: ModelPlace) -> None:
    for name, content in FILES.items():
        assert (place.path / name).read_bytes() == content
    assert place.fingerprint == MANIFEST.fingerprint
    assert place.note is None


def test_a_model_is_fetched_checked_and_put_in_place(server: Server, cache: Path) -> None:
    reports: list[tuple[str, int, int | None]] = []
    place = fetch_model(
        lambda what, done, total: reports.append((what, done, total)),
        cache=cache,
        manifest=MANIFEST,
        artifact=None,
        archives=server.base,
    )
    assert_whole(place)
    assert ("the speech model", len(server.archive), len(server.archive)) in reports
    assert sorted(path.name for path in (cache / "models").iterdir()) == ["stamps", NAME]


def test_a_good_model_in_the_cache_is_verified_and_not_fetched_again(
    server: Server, cache: Path
) -> None:
    fetch(server, cache)
    server.asked.clear()
    assert_whole(fetch(server, cache))
    assert server.asked == []


def test_a_damaged_model_in_the_cache_is_fetched_again(server: Server, cache: Path) -> None:
    place = fetch(server, cache)
    damaged = place.path / "am" / "final.mdl"
    damaged.write_bytes(bytes(len(FILES["am/final.mdl"])))
    assert_whole(fetch(server, cache))


def test_a_cut_line_is_taken_up_where_it_broke(server: Server, cache: Path) -> None:
    server.cut_after = [50_000, 40_000]
    assert_whole(fetch(server, cache))
    assert server.asked == [None, "bytes=50000-", "bytes=90000-"]


def test_a_server_without_ranges_is_asked_again_from_the_start(server: Server, cache: Path) -> None:
    server.ranges = False
    server.cut_after = [50_000]
    assert_whole(fetch(server, cache))
    assert server.asked == [None, "bytes=50000-"]


def test_a_part_kept_from_yesterday_is_completed(server: Server, cache: Path) -> None:
    part = cache / "models" / f"{NAME}.zip.part"
    part.parent.mkdir(parents=True)
    part.write_bytes(server.archive[:70_000])
    assert_whole(fetch(server, cache))
    assert server.asked == ["bytes=70000-"]
    assert not part.exists()


def test_a_complete_part_is_not_fetched_again(server: Server, cache: Path) -> None:
    part = cache / "models" / f"{NAME}.zip.part"
    part.parent.mkdir(parents=True)
    part.write_bytes(server.archive)
    assert_whole(fetch(server, cache))
    assert server.asked == [f"bytes={len(server.archive)}-"]


@pytest.mark.parametrize("kept", [b"x" * 70_000, b"x" * 500_000])
def test_a_kept_part_that_does_not_fit_is_thrown_away(
    server: Server, cache: Path, kept: bytes
) -> None:
    part = cache / "models" / f"{NAME}.zip.part"
    part.parent.mkdir(parents=True)
    part.write_bytes(kept)
    assert_whole(fetch(server, cache))
    assert server.asked[-1] is None


def test_changed_bytes_are_refused(server: Server, cache: Path) -> None:
    server.archive = packed({**FILES, "am/final.mdl": bytes(90_000)})
    with pytest.raises(MissingPart, match=r"not the speech model .* VOICELIST_MODEL"):
        fetch(server, cache)
    assert_nothing_usable(cache)


def test_bytes_damaged_on_the_way_are_refused(server: Server, cache: Path) -> None:
    middle = len(server.archive) // 2
    broken = bytearray(server.archive)
    broken[middle] ^= 0xFF
    server.archive = bytes(broken)
    with pytest.raises(MissingPart, match=r"damaged.*voicelist model"):
        fetch(server, cache)
    assert_nothing_usable(cache)


OTHERS = [
    {**FILES, "am/final.mdl": b"newer"},
    {**FILES, "graph/more": b"one file more"},
    {name: content for name, content in FILES.items() if name != "graph/Gr.fst"},
]


@pytest.mark.parametrize("others", OTHERS, ids=["changed", "more", "less"])
def test_another_model_is_refused_whatever_its_server_says_of_it(
    server: Server, cache: Path, others: dict[str, bytes]
) -> None:
    server.archive = packed(others)
    with pytest.raises(MissingPart, match="not the speech model that voicelist was measured with"):
        fetch(server, cache)
    assert_nothing_usable(cache)


def model_of(files: dict[str, bytes], folder: Path) -> Path:
    """A whole model with a list of its own files, as an earlier version may have left it."""
    for name, content in files.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
    save_manifest(manifest_of(folder, NAME), folder / FETCHED_LIST)
    return folder


@pytest.mark.parametrize("others", OTHERS, ids=["changed", "more", "less"])
def test_another_model_in_the_cache_is_not_used_and_is_replaced(
    server: Server, cache: Path, others: dict[str, bytes]
) -> None:
    model_of(others, cache / "models" / NAME)
    for _ in range(2):
        with pytest.raises(MissingPart, match=r"not the one .* run `voicelist model`"):
            find_model(cache, MANIFEST)
    assert_whole(fetch(server, cache))
    assert_whole(find_model(cache, MANIFEST))


def test_another_model_is_used_where_its_folder_is_named_and_says_so(
    server: Server, cache: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    chosen = model_of(OTHERS[0], tmp_path / "chosen")
    monkeypatch.setenv("VOICELIST_MODEL", str(chosen))
    place = find_model(cache, MANIFEST)
    assert place.path == chosen
    assert place.note is not None
    assert "not the one that voicelist was measured with" in place.note
    assert place.fingerprint[:12] in place.note
    assert fetch(server, cache) == place
    assert server.asked == []


def test_a_named_folder_that_is_not_as_it_was_fetched_is_refused(
    server: Server, cache: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    chosen = model_of(OTHERS[0], tmp_path / "chosen")
    (chosen / "am" / "final.mdl").write_bytes(b"other")
    monkeypatch.setenv("VOICELIST_MODEL", str(chosen))
    for ask in (lambda: find_model(cache, MANIFEST), lambda: fetch(server, cache)):
        with pytest.raises(MissingPart, match="damaged; put it there again"):
            ask()
    assert server.asked == []


@pytest.mark.parametrize(("status", "times"), [(404, 1), (503, 5)])
def test_a_refusing_server_is_named(server: Server, cache: Path, status: int, times: int) -> None:
    server.status = status
    with pytest.raises(MissingPart, match=f"the server says {status}"):
        fetch(server, cache)
    assert len(server.asked) == times
    assert_nothing_usable(cache)


def test_a_line_that_keeps_failing_ends_with_what_to_do(server: Server, cache: Path) -> None:
    server.cut_after = [10] * 5
    with pytest.raises(MissingPart, match="it goes on where it stopped"):
        fetch(server, cache)
    assert (cache / "models" / f"{NAME}.zip.part").stat().st_size == 50
    assert_nothing_usable(cache)


def test_a_truncated_archive_is_refused(server: Server, cache: Path) -> None:
    server.archive = server.archive[:-200]
    with pytest.raises(MissingPart, match="damaged"):
        fetch(server, cache)
    assert_nothing_usable(cache)


@pytest.mark.parametrize("name", ["../escaped", "/escaped", "..\\escaped", "C:\\escaped"])
def test_an_archive_that_reaches_outside_is_refused(server: Server, cache: Path, name: str) -> None:
    held = io.BytesIO(server.archive)
    with zipfile.ZipFile(held, "a") as archive:
        archive.writestr(zipfile.ZipInfo(name), b"out")
    server.archive = held.getvalue()
    with pytest.raises(MissingPart, match="outside its folder"):
        fetch(server, cache)
    assert not list(cache.parent.rglob("*escaped*"))
    assert_nothing_usable(cache)


def test_an_archive_with_a_link_is_refused(server: Server, cache: Path) -> None:
    held = io.BytesIO(server.archive)
    link = zipfile.ZipInfo(f"{NAME}/conf/link")
    link.external_attr = (stat.S_IFLNK | 0o777) << 16
    with zipfile.ZipFile(held, "a") as archive:
        archive.writestr(link, b"/etc")
    server.archive = held.getvalue()
    with pytest.raises(MissingPart, match="outside its folder"):
        fetch(server, cache)
    assert_nothing_usable(cache)


def fake_maven(folder: Path, packed_model: bytes, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A stand-in for `mvn` that copies a prepared artifact where `dependency:copy` would."""
    folder.mkdir()
    (folder / "prepared.aar").write_bytes(packed_model)
    script = folder / "mvn"
    script.write_text(
        f"#!{sys.executable}\n"
        "import pathlib, shutil, sys\n"
        f"pathlib.Path({str(folder / 'asked')!r}).write_text(' '.join(sys.argv[1:]))\n"
        "into = next(a.split('=', 1)[1] for a in sys.argv if a.startswith('-DoutputDirectory='))\n"
        f"shutil.copy({str(folder / 'prepared.aar')!r}, into + '/vosk-model.aar')\n"
    )
    script.chmod(0o755)
    monkeypatch.setenv("PATH", str(folder))
    return script


def artifact_of(packed_model: bytes) -> MavenArtifact:
    return MavenArtifact("a:b:1:aar", hashlib.sha256(packed_model).hexdigest(), "assets/model")


def fetch_with_maven(server: Server, cache: Path, artifact: MavenArtifact) -> ModelPlace:
    return fetch_model(
        lambda *_: None,
        cache=cache,
        manifest=MANIFEST,
        artifact=artifact,
        archives=server.base,
        pause_s=0.0,
    )


posix_only = pytest.mark.skipif(os.name != "posix", reason="the stand-in is a script")


@posix_only
def test_maven_delivers_the_model(
    server: Server, cache: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    aar = packed(FILES, "assets/model")
    script = fake_maven(tmp_path / "bin", aar, monkeypatch)
    assert_whole(fetch_with_maven(server, cache, artifact_of(aar)))
    assert server.asked == []
    assert "-Dartifact=a:b:1:aar" in (script.parent / "asked").read_text()


@posix_only
def test_when_maven_delivers_other_bytes_the_archive_is_fetched(
    server: Server, cache: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    aar = packed(FILES, "assets/model")
    fake_maven(tmp_path / "bin", aar + b"!", monkeypatch)
    assert_whole(fetch_with_maven(server, cache, artifact_of(aar)))
    assert server.asked == [None]


@posix_only
def test_when_maven_fails_the_archive_is_fetched(
    server: Server, cache: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    script = fake_maven(tmp_path / "bin", b"", monkeypatch)
    script.write_text(f"#!{sys.executable}\nimport sys\nsys.exit(1)\n")
    assert_whole(fetch_with_maven(server, cache, artifact_of(b"")))
    assert server.asked == [None]


def test_without_maven_the_archive_is_fetched(
    server: Server, cache: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    assert_whole(fetch_with_maven(server, cache, artifact_of(b"")))
    assert server.asked == [None]


FETCH_AND_DIE = """
import os, sys
from pathlib import Path
from voicelist.asr.fetch import fetch_model
from voicelist.asr.manifest import load_manifest

cache, manifest, base, deadly = Path(sys.argv[1]), Path(sys.argv[2]), sys.argv[3], int(sys.argv[4])
touched = 0

def die_at_the_deadly_one(event, args):
    global touched
    changing = ("open", "os.rename", "os.mkdir", "os.remove", "os.rmdir")
    if event in changing and str(cache) in str(args):
        touched += 1
        if touched == deadly:
            os._exit(9)

wanted = load_manifest(manifest)
sys.addaudithook(die_at_the_deadly_one)
fetch_model(lambda *_: None, cache=cache, manifest=wanted, artifact=None, archives=base)
"""


def test_a_fetch_killed_at_any_file_operation_leaves_nothing_or_a_good_model(
    server: Server, cache: Path
) -> None:
    wanted = cache.parent / "manifest.json"
    save_manifest(MANIFEST, wanted)
    seen = {"good": 0, "nothing": 0}
    for deadly in range(1, 200):
        shutil.rmtree(cache, ignore_errors=True)
        arguments = [str(cache), str(wanted), server.base, str(deadly)]
        ended = subprocess.run([sys.executable, "-c", FETCH_AND_DIE, *arguments], check=False)
        if ended.returncode == 0:
            break
        try:
            assert_whole(find_model(cache, MANIFEST))
            seen["good"] += 1
        except MissingPart:
            seen["nothing"] += 1
            assert not (cache / "models" / NAME).exists()
    assert ended.returncode == 0
    assert seen["nothing"] > 10
    assert seen["good"] > 0


def test_what_an_interrupted_fetch_left_is_swept_away_later(server: Server, cache: Path) -> None:
    left, under_way = cache / "models" / ".unpack-old", cache / "models" / ".unpack-now"
    for folder in (left, under_way):
        folder.mkdir(parents=True)
    os.utime(left, (0, 0))
    fetch(server, cache)
    assert not left.exists()
    assert under_way.exists()
