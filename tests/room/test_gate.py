"""The display's server: what it refuses, what it sends, and readers who take their time.

The headers are those of published standards: Content Security Policy Level 3 (W3C), Fetch (WHATWG:
`X-Content-Type-Options`, `Cross-Origin-Resource-Policy`), RFC 9111 (`no-store`), Referrer Policy
(W3C); methods are those of RFC 9110 and of the IANA registry of HTTP methods.
"""

from __future__ import annotations

import json
import socket
import sys
import time
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.command import PLAN, Command, voicelist
from voicelist.errors import UsageError
from voicelist.room.address import Address, kept_token, open_address
from voicelist.room.gate import HEADERS, Access
from voicelist.room.server import Board, serve

__all__ = ["voicelist"]

# RFC 9110, section 9, and the IANA registry of HTTP methods; two that nobody registered.
REFUSED = ("POST", "PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "CONNECT", "PROPFIND", "MKCOL")
REFUSED += ("LOCK", "SEARCH", "BIND", "PRI", "get", "STOP")
PAGES = ("/", "/page.css", "/page.js", "/feed")
NOWHERE = ("/x", "/feed/", "//", "/../etc/passwd", "/%2e%2e/etc/passwd", "/page.css%00", "/%66eed")
NOWHERE += ("/page/page.html", "/..%2fserver.py", "/record", "/favicon.ico", "/./", "/;/", "/*")


@dataclass(frozen=True, slots=True)
class Answer:
    status: int
    headers: dict[str, str]
    body: bytes


@dataclass(frozen=True, slots=True)
class Served:
    board: Board
    address: Address
    token: str = ""

    @property
    def port(self) -> int:
        return int(self.address.listening.getsockname()[1])

    def connect(self, receive_bytes: int | None = None) -> socket.socket:
        client = socket.socket()
        if receive_bytes is not None:
            client.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, receive_bytes)
        client.settimeout(10)
        client.connect(("127.0.0.1", self.port))
        return client

    def ask(
        self, method: str, path: str, *more: str, host: str | None = None, body: bytes = b""
    ) -> Answer:
        """One request and its whole answer; of a feed only the beginning."""
        names = f"Host: {host or f'127.0.0.1:{self.port}'}"
        lines = [f"{method} {path} HTTP/1.1", names, "Connection: close", *more]
        with self.connect() as client:
            client.sendall("\r\n".join((*lines, "", "")).encode() + body)
            raw = b""
            while part := client.recv(65536):
                raw += part
                if b"text/event-stream" in raw and b"\r\n\r\n" in raw:
                    break
        head, _, rest = raw.partition(b"\r\n\r\n")
        first, *fields = head.decode("latin-1").split("\r\n")
        headers = dict(one.lower().split(": ", 1) for one in fields)
        return Answer(int(first.split(" ")[1]), headers, rest)


def started(access: Access, address: Address) -> Served:
    board = Board()
    serve(board, address.listening, access)
    return Served(board, address, access.token)


@pytest.fixture(scope="module")
def served() -> Served:
    address = open_address(None, 0)
    return started(Access("", address.hosts), address)


@pytest.fixture(scope="module")
def guarded(tmp_path_factory: pytest.TempPathFactory) -> Served:
    """As where a host is named."""
    token = kept_token(tmp_path_factory.mktemp("data"))
    address = open_address(None, 0)
    return started(Access(token), address)


@pytest.mark.parametrize("path", PAGES)
def test_whoever_may_read_reads_and_nothing_else_is_loaded_or_kept(
    served: Served, path: str
) -> None:
    for method in ("GET", "HEAD"):
        answer = served.ask(method, path)
        assert answer.status == 200
        wanted = {name: value.lower() for name, value in HEADERS.items()}
        assert {**answer.headers, **wanted} == answer.headers
        assert "server" not in answer.headers
    policy = answer.headers["content-security-policy"]
    assert policy.startswith("default-src 'none';")
    assert "unsafe" not in policy
    assert "http" not in policy
    assert "*" not in policy


@pytest.mark.parametrize("method", REFUSED)
def test_every_method_that_could_change_something_is_refused(served: Served, method: str) -> None:
    for path in (*PAGES, "/x", "*"):
        answer = served.ask(method, path)
        assert answer.status in (400, 404, 405), path
        if answer.status == 405:
            assert answer.headers["allow"] == "get, head"
    assert served.ask("GET", "/").status == 200, "it goes on"


@pytest.mark.parametrize("path", NOWHERE)
def test_every_other_path_leads_nowhere(served: Served, path: str) -> None:
    answer = served.ask("GET", path)
    assert answer.status in (400, 404)
    assert b"html" not in answer.body


def test_a_request_that_brings_something_is_refused(served: Served) -> None:
    brought = served.ask("GET", "/", "Content-Length: 4", body=b"tick")
    assert brought.status == 413
    chunked = served.ask("GET", "/", "Transfer-Encoding: chunked", body=b"0\r\n\r\n")
    assert chunked.status == 413


def test_another_name_is_refused_so_that_no_page_of_elsewhere_reads_along(served: Served) -> None:
    for host in ("evil.example", f"evil.example:{served.port}", "127.0.0.1", "127.0.0.1:1"):
        assert served.ask("GET", "/", host=host).status == 421, host
    assert served.ask("GET", "/feed", host=f"localhost:{served.port}").status == 200
    twice = served.ask("GET", "/", "Host: evil.example")
    assert twice.status in (400, 421)


def test_another_page_does_not_read_along(served: Served) -> None:
    for site in ("cross-site", "same-site"):
        told = (f"Sec-Fetch-Site: {site}", "Sec-Fetch-Mode: cors")
        assert served.ask("GET", "/feed", *told).status == 403
    assert served.ask("GET", "/feed", "Sec-Fetch-Site: same-origin").status == 200
    opened = ("Sec-Fetch-Site: cross-site", "Sec-Fetch-Mode: navigate")
    assert served.ask("GET", "/", *opened).status == 200, "somebody followed a link"


def test_no_socket_of_another_kind_is_opened(served: Served) -> None:
    wanted = ("Upgrade: websocket", "Sec-WebSocket-Version: 13", "Sec-WebSocket-Key: eA==")
    assert served.ask("GET", "/feed", *wanted).status != 101


def test_a_request_that_never_ends_is_cut(served: Served) -> None:
    with served.connect() as client:
        client.sendall(b"GET / HTTP/1.1\r\nX: " + b"x" * 40_000)
        assert b" 400 " in client.recv(1000)


def test_without_the_token_nothing_is_read(guarded: Served) -> None:
    for path in (*PAGES, "/?token=", "/?token=x", "/?other=1"):
        for cookie in ((), ("Cookie: voicelist-display=wrong",), ("Cookie: =;;=",)):
            answer = guarded.ask("GET", path, *cookie)
            assert answer.status == 403, path
            assert b"html" not in answer.body
    assert guarded.ask("POST", "/?token=x").status == 405


def test_the_token_is_brought_once_and_kept_where_no_script_reads_it(guarded: Served) -> None:
    token = guarded.token
    entered = guarded.ask("GET", f"/?token={token}", host="theatre-2.example:80")
    assert (entered.status, entered.headers["location"]) == (303, "/")
    cookie = entered.headers["set-cookie"]
    assert "httponly" in cookie
    assert "samesite=strict" in cookie
    for path in PAGES:
        assert guarded.ask("GET", path, f"Cookie: voicelist-display={token}").status == 200
    assert guarded.ask("GET", f"/feed?token={token}").status == 403, "only at the door"


def test_on_loopback_there_is_no_token_and_on_a_named_host_there_is(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    alone = open_address(None, 0)
    assert (alone.token, alone.listening.getsockname()[0]) == ("", "127.0.0.1")
    alone.close()
    for_others = open_address("0.0.0.0", 0)
    file = tmp_path / "voicelist" / "display-token"
    assert len(for_others.token) >= 24
    assert for_others.url.endswith(f"/?token={for_others.token}")
    assert for_others.hosts == frozenset()
    assert file.stat().st_mode & 0o777 == 0o600
    for_others.close()
    again = open_address("0.0.0.0", 0)
    assert again.token == for_others.token, "a screen on the wall comes back by itself"
    again.close()


def test_a_port_in_use_and_a_host_of_elsewhere_are_told() -> None:
    held = open_address(None, 0)
    port = held.listening.getsockname()[1]
    with pytest.raises(UsageError, match="--display-port"):
        open_address(None, port)
    held.close()
    with pytest.raises(UsageError, match="--display-host"):
        open_address("192.0.2.1", 0)


def test_a_slow_reader_gets_the_newest_and_not_all_of_it(served: Served) -> None:
    """5,000 states while nobody reads: what is left out is what was old by then."""
    with served.connect(receive_bytes=4096) as client:
        told = f"GET /feed HTTP/1.1\r\nHost: 127.0.0.1:{served.port}\r\n\r\n"
        client.sendall(told.encode())
        for number in range(5000):
            served.board.publish({"number": number, "filling": "x" * 4000})
            if number % 500 == 0:
                time.sleep(0.02)
        numbers: list[int] = []
        raw = b""
        while not numbers or numbers[-1] != 4999:
            raw += client.recv(65536)
            *whole, raw = raw.split(b"\n\n")
            events = [one.partition(b"data: ")[2] for one in whole if b"data: " in one]
            numbers += [json.loads(one.split(b"\r\n")[0])["number"] for one in events]
    assert numbers == sorted(set(numbers))
    assert len(numbers) < 1000


def test_more_readers_than_there_is_room_for_are_told(
    served: Served, monkeypatch: pytest.MonkeyPatch
) -> None:
    gone_by_s = time.monotonic() + 10.0
    while served.board.readers and time.monotonic() < gone_by_s:
        time.sleep(0.02)  # those of other tests
    monkeypatch.setattr("voicelist.room.server.READERS_AT_MOST", served.board.readers + 1)
    told = f"GET /feed HTTP/1.1\r\nHost: 127.0.0.1:{served.port}\r\n\r\n".encode()
    with served.connect() as first:
        first.sendall(told)
        assert b" 200 " in first.recv(1000)
        assert served.ask("GET", "/feed").status == 503
        assert served.ask("GET", "/").status == 200


def test_without_its_libraries_the_display_says_what_to_install(
    voicelist: Command, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    whole = sys.modules["voicelist"]
    monkeypatch.setattr(whole, "room", whole.room)  # a second import takes its place
    for name in [one for one in sys.modules if one.startswith("voicelist.room")]:
        monkeypatch.delitem(sys.modules, name)
    monkeypatch.setitem(sys.modules, "starlette.datastructures", None)
    answer = voicelist("run", PLAN, "--typed", "--display", typed="irrigation line firm\n")
    assert answer.code == 3
    assert "pip install 'voicelist[display]'" in answer.err
    assert not list((tmp_path / "data").rglob("*.sqlite3"))
