"""Serves the page and its feed to whoever may read, however slowly.

Each reader has no queue: it is sent the newest state when it has taken the one before, so that a
slow reader costs its socket's buffer and nothing else.
"""

from __future__ import annotations

import asyncio
import contextlib
import json
import socket
import threading
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import uvicorn
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route
from starlette.types import Receive, Scope, Send

from voicelist.room.gate import Access, Gate

READERS_AT_MOST = 250
# A reader that takes nothing for so long is let go.
_TAKES_WITHIN_S = 20.0
_RETRY_MS = 500
_SEND_BUFFER_BYTES = 64 * 1024
_REQUEST_BYTES_AT_MOST = 16 * 1024
_KEEP_ALIVE_S = 5
_PAGE = Path(__file__).resolve().parent / "page"
_FILES = {"/": ("page.html", "text/html"), "/page.css": ("page.css", "text/css")}
_FILES |= {"/page.js": ("page.js", "text/javascript")}


class Board:
    """The newest state. One thread publishes, the readers take it in the server's loop."""

    def __init__(self) -> None:
        self._newest = (0, b"")
        self._readers: set[asyncio.Event] = set()
        self._loop: asyncio.AbstractEventLoop | None = None

    @property
    def newest(self) -> tuple[int, bytes]:
        """Its number, 0 before the first, and the event as it is sent."""
        return self._newest

    @property
    def readers(self) -> int:
        return len(self._readers)

    def serve_in(self, loop: asyncio.AbstractEventLoop) -> None:
        self._loop = loop

    def publish(self, state: Mapping[str, Any]) -> None:
        """From now on this is the newest."""
        number = self._newest[0] + 1
        told = json.dumps(state, ensure_ascii=False, separators=(",", ":"))
        self._newest = (number, f"id: {number}\ndata: {told}\n\n".encode())
        if self._loop is not None:
            with contextlib.suppress(RuntimeError):  # the loop has ended
                self._loop.call_soon_threadsafe(self._wake)

    def _wake(self) -> None:
        for reader in self._readers:
            reader.set()

    @contextlib.contextmanager
    def reading(self) -> Any:
        """A reader's event, set whenever there may be something new."""
        event = asyncio.Event()
        self._readers.add(event)
        try:
            yield event
        finally:
            self._readers.discard(event)


class ServedFeed:
    """Server-sent events (WHATWG HTML, "Server-sent events"): the newest state, again and again."""

    def __init__(self, board: Board) -> None:
        self._board = board

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if self._board.readers >= READERS_AT_MOST:
            await Response("Too many readers.\n", 503)(scope, receive, send)
            return
        headers = [(b"content-type", b"text/event-stream; charset=utf-8")]
        await send({"type": "http.response.start", "status": 200, "headers": headers})
        if scope["method"] == "HEAD":
            await send({"type": "http.response.body", "body": b""})
            return
        gone = asyncio.create_task(_until_gone(receive))
        try:
            # Whoever takes nothing for long, or has gone, is let go.
            with contextlib.suppress(TimeoutError, OSError), self._board.reading() as news:
                await self._send_on(send, news, gone)
        finally:
            gone.cancel()

    async def _send_on(self, send: Send, news: asyncio.Event, gone: asyncio.Task[None]) -> None:
        seen, told = 0, f"retry: {_RETRY_MS}\n\n".encode()
        while not gone.done():
            if told:
                body = {"type": "http.response.body", "body": told, "more_body": True}
                await asyncio.wait_for(send(body), _TAKES_WITHIN_S)
            news.clear()
            number, told = self._board.newest
            if number == seen:
                told = b""
                waiting = asyncio.create_task(news.wait())
                await asyncio.wait({waiting, gone}, return_when=asyncio.FIRST_COMPLETED)
                waiting.cancel()
            seen = number


async def _until_gone(receive: Receive) -> None:
    while (await receive())["type"] != "http.disconnect":
        pass


def _file(request: Request) -> Response:
    name, kind = _FILES[request.url.path]
    return Response((_PAGE / name).read_bytes(), media_type=kind)


def application(board: Board, access: Access) -> Gate:
    """The whole of it, behind its gate."""
    files = [Route(path, _file) for path in _FILES]
    return Gate(Starlette(routes=[*files, Route("/feed", ServedFeed(board))]), access)


def serve(board: Board, listening: socket.socket, access: Access) -> None:
    """Serves on a thread of its own for as long as the process goes on."""
    # What a reader has not taken is to wait here, not in the system's larger buffers.
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, _SEND_BUFFER_BYTES)
    server = uvicorn.Server(
        uvicorn.Config(
            application(board, access),
            log_config=None,
            access_log=False,
            lifespan="off",
            ws="none",
            http="h11",
            loop="asyncio",
            server_header=False,
            proxy_headers=False,
            limit_concurrency=2 * READERS_AT_MOST,
            h11_max_incomplete_event_size=_REQUEST_BYTES_AT_MOST,
            timeout_keep_alive=_KEEP_ALIVE_S,
        )
    )

    async def run() -> None:
        board.serve_in(asyncio.get_running_loop())
        await server.serve(sockets=[listening])

    threading.Thread(target=lambda: asyncio.run(run()), name="page", daemon=True).start()
