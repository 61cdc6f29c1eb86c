"""What the display's server refuses: everything but reading its four paths, by whoever may read.

On loopback only this computer can connect, and the `Host` that a request names has to be one of
this computer's own names, so that no page of elsewhere reads along through a name of its own (DNS
rebinding). Where a host was named, a token is needed: it comes once in the address, is then kept
by the browser in a cookie that no script reads, and the address is called again without it.
"""

from __future__ import annotations

import secrets
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from http.cookies import CookieError, SimpleCookie
from urllib.parse import parse_qs

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

COOKIE = "voicelist-display"
TOKEN = "token"
PATHS = frozenset(("/", "/page.css", "/page.js", "/feed"))
# Nothing but what comes from here is loaded, run, framed or sent (Content Security Policy Level 3,
# W3C); the rest keeps what is shown from caches, other pages and the browser's own guesses.
HEADERS: Mapping[str, str] = {
    "content-security-policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; "
        "img-src data:; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
    ),
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "no-referrer",
    "cache-control": "no-store",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "cross-origin-embedder-policy": "require-corp",
    "permissions-policy": "camera=(), microphone=(), geolocation=(), payment=(), usb=()",
}
_READING = ("GET", "HEAD")


@dataclass(frozen=True, slots=True)
class Access:
    """Who may read: `token` is "" on loopback, where `hosts` are the names that may be asked for;
    with a token every name may."""

    token: str = ""
    hosts: frozenset[str] = frozenset()


class Gate:
    """Refuses before anything else looks at a request; every answer carries the headers."""

    def __init__(self, app: ASGIApp, access: Access) -> None:
        self._app = app
        self._access = access

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            return

        async def guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                MutableHeaders(raw=message.setdefault("headers", [])).update(HEADERS)
            await send(message)

        answer = self._refusal(scope) or self._entry(scope)
        await (answer or self._app)(scope, receive, guarded)

    def _refusal(self, scope: Scope) -> Response | None:
        headers = Headers(scope=scope)
        if not self._knows_host(headers):
            return _refused(421, "This display is asked for by another name.")
        if scope["method"] not in _READING:
            return _refused(405, "This display can only be read.", {"allow": "GET, HEAD"})
        if scope["path"] not in PATHS or scope["raw_path"] != scope["path"].encode():
            return _refused(404, "There is nothing here.")
        if "transfer-encoding" in headers or headers.get("content-length", "0") != "0":
            return _refused(413, "This display takes nothing.")
        elsewhere = headers.get("sec-fetch-site", "none") not in ("none", "same-origin")
        if elsewhere and headers.get("sec-fetch-mode") != "navigate":
            return _refused(403, "This display is not read by other pages.")
        return None

    def _knows_host(self, headers: Headers) -> bool:
        named = headers.getlist("host")
        if len(named) != 1:
            return False
        return bool(self._access.token) or named[0].lower() in self._access.hosts

    def _entry(self, scope: Scope) -> Response | None:
        """None for whoever may come in; else a refusal, or the way in for who brings the token."""
        if not self._access.token or self._is(_cookie(Headers(scope=scope))):
            return None
        brought = parse_qs(scope["query_string"].decode("latin-1")).get(TOKEN, [""])
        if scope["path"] != "/" or not self._is(brought[0]):
            return _refused(403, "Open the address that voicelist shows, with its token.")
        entered = RedirectResponse("/", status_code=303)
        entered.set_cookie(
            COOKIE, self._access.token, httponly=True, samesite="strict", max_age=_A_YEAR_S
        )
        return entered

    def _is(self, brought: str) -> bool:
        return secrets.compare_digest(brought.encode(), self._access.token.encode())


_A_YEAR_S = 365 * 24 * 3600


def _cookie(headers: Headers) -> str:
    try:
        kept = SimpleCookie(headers.get("cookie", "")).get(COOKIE)
    except CookieError:
        return ""
    return kept.value if kept is not None else ""


def _refused(status: int, why: str, more: Mapping[str, str] | None = None) -> Response:
    return PlainTextResponse(f"{why}\n", status, headers=dict(more or {}))


def loopback_names(addresses: Sequence[str], port: int) -> frozenset[str]:
    """The names under which a browser on this computer asks for a display on loopback."""
    return frozenset(f"{one}:{port}" for one in addresses)
