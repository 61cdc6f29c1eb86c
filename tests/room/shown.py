"""A case that is talked through with typed words while the real display shows it, and a browser."""

from __future__ import annotations

import contextlib
import shutil
import threading
import time
from collections.abc import Callable, Iterator
from typing import Any

import pytest

from tests.session.talk import Talk
from voicelist.activity import LISTENING, Activity
from voicelist.room.address import Address, open_address
from voicelist.room.feed import Feed
from voicelist.session.events import Equipment
from voicelist.session.record_base import Record
from voicelist.session.records import Opened

_WITHIN_S = 30.0
_GLANCE_S = 0.04


class ShownCase:
    """`says` and the like hand on what would be on disk, as the running case does."""

    def __init__(
        self,
        first_section: str = "",
        plan: str = "practice-007",
        *,
        discreet: bool = False,
        address: Address | None = None,
    ) -> None:
        self.talk = Talk(first_section, plan)
        self.activity = Activity()
        self.address = address or open_address(None, 0)
        self.notes: list[str] = []
        self.feed = Feed(self.address, self.activity, self.notes.append, discreet=discreet)
        self._going_on = False
        self._handed = 0
        documents = self.talk.case.bundle.to_json()
        self.feed.begin(documents, first_section)
        self.feed.kept(Opened("practice", "0", documents, None))
        self._hand_on()
        self.go_on()

    @property
    def url(self) -> str:
        return self.address.url

    def _sign(self) -> None:
        while self._going_on:
            self.activity.sign()
            time.sleep(0.1)

    def go_on(self) -> None:
        """The case listens, and shows that it goes on."""
        self._going_on = True
        threading.Thread(target=self._sign, daemon=True).start()
        self.activity.now(LISTENING)

    def stand_still(self) -> None:
        """The case gives no sign of life any more."""
        self._going_on = False

    def _hand_on(self) -> None:
        records: list[Record] = self.talk.records
        for one in records[self._handed :]:
            self.feed.kept(one)
        self._handed = len(records)

    def says(self, *lines: str, role: str = "") -> list[str]:
        said = self.talk.says(*lines, role=role)
        self._hand_on()
        return said

    def equipment(self, event: Equipment) -> None:
        self.talk.take(event)
        self._hand_on()
        self.activity.equipment(event)

    def close(self) -> None:
        self._going_on = False
        self.feed.close()


@contextlib.contextmanager
def shown_case(*arguments: Any, **more: Any) -> Iterator[ShownCase]:
    case = ShownCase(*arguments, **more)
    try:
        assert case.feed.ready.wait(_WITHIN_S)
        yield case
    finally:
        case.close()


def until(true: Callable[[], bool], within_s: float = _WITHIN_S) -> float:
    """Waits until something holds; the seconds that took."""
    began_s = time.monotonic()
    while not true():
        assert time.monotonic() - began_s < within_s, "it did not come"
        time.sleep(_GLANCE_S)
    return time.monotonic() - began_s


class Watched:
    """A page in the browser, with what it complained of."""

    def __init__(self, page: Any) -> None:
        self.page = page
        self.complaints: list[str] = []
        page.on("console", self._console)
        page.on("pageerror", lambda error: self.complaints.append(str(error)))
        page.on("request", self._request)
        self.asked_for: set[str] = set()

    def _console(self, message: Any) -> None:
        if message.type in ("error", "warning"):
            self.complaints.append(message.text)

    def _request(self, request: Any) -> None:
        self.asked_for.add(request.url)

    def text(self, selector: str) -> str:
        return str(self.page.inner_text(selector))

    def sees(self, text: str, selector: str = "body", within_s: float = _WITHIN_S) -> float:
        """Waits until a text is seen; the seconds that took."""
        return until(lambda: text in self.page.inner_text(selector), within_s)

    def band(self, name: str, within_s: float = _WITHIN_S) -> float:
        """Waits until the band says so; the seconds that took."""
        visible = f'[data-state="{name}"]'
        return until(lambda: bool(self.page.is_visible(visible)), within_s)


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    """Chromium of the system; nothing is downloaded."""
    program = shutil.which("chromium") or shutil.which("chromium-browser")
    if program is None:
        pytest.skip("there is no chromium here, so the page cannot be looked at")
    playwright = pytest.importorskip("playwright.sync_api")
    with playwright.sync_playwright() as running:
        started = running.chromium.launch(
            executable_path=program, args=["--no-sandbox", "--disable-gpu"]
        )
        yield started
        started.close()


@contextlib.contextmanager
def watched(browser: Any, url: str, width: int, height: int, **more: Any) -> Iterator[Watched]:
    context = browser.new_context(viewport={"width": width, "height": height}, **more)
    page = Watched(context.new_page())
    page.page.goto(url)
    try:
        yield page
    finally:
        context.close()
