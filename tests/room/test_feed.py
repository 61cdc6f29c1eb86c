"""The case's side of the display: never waited for, started again, and silent where the case is."""

from __future__ import annotations

import contextlib
import http.client
import json
import os
import signal
import threading
import time
from collections.abc import Iterator
from typing import Any

import pytest

from tests.room.shown import ShownCase, shown_case, until
from tests.running_program import children_of
from tests.session.talk import LINES


class Reader:
    """Reads a feed on a thread of its own, and connects again as a browser does."""

    def __init__(self, case: ShownCase) -> None:
        self._port = int(case.address.listening.getsockname()[1])
        self.states: list[tuple[float, dict[str, Any]]] = []
        self._over = False
        self._thread = threading.Thread(target=self._go_on, daemon=True)
        self._thread.start()

    def _go_on(self) -> None:
        while not self._over:
            with contextlib.suppress(OSError, http.client.HTTPException):
                asked = http.client.HTTPConnection("127.0.0.1", self._port, timeout=3)
                asked.request("GET", "/feed")
                self._take(asked.getresponse())
            time.sleep(0.1)

    def _take(self, answer: http.client.HTTPResponse) -> None:
        while line := answer.readline():
            if line.startswith(b"data: "):
                self.states.append((time.monotonic(), json.loads(line[6:])))

    @property
    def newest(self) -> dict[str, Any]:
        return self.states[-1][1] if self.states else {}

    def close(self) -> None:
        self._over = True


@contextlib.contextmanager
def reading(case: ShownCase) -> Iterator[Reader]:
    reader = Reader(case)
    try:
        yield reader
    finally:
        reader.close()


def test_a_server_that_dies_is_started_again_and_shows_the_same_case() -> None:
    with shown_case() as case, reading(case) as reader:
        case.says(*LINES)
        until(lambda: reader.newest.get("section") == "the handpiece")
        (child,) = [pid for pid in children_of(os.getpid()) if is_display(pid)]
        os.kill(child, signal.SIGKILL)
        until(lambda: bool(case.notes))
        assert case.notes[0].endswith("The case goes on.")
        case.says("phaco tip tight")
        until(lambda: reader.newest.get("call") == "Straight or twisted: the sleeve?")
        assert reader.newest["sections"][0]["marks"] == ["recorded"] * 4
        assert len(case.notes) == 1


def test_one_that_does_not_come_up_is_given_up_and_the_case_goes_on(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # Takes as many arguments, does nothing, and so ends.
    monkeypatch.setattr("voicelist.room.feed.show", slice)
    case = ShownCase()
    until(lambda: len(case.notes) == 3, within_s=90.0)
    assert "exit code 0" in case.notes[0]
    assert case.notes[2].endswith("The case goes on without it.")
    assert case.says("irrigation line firm") == ["Firm or loose: the aspiration line?"]
    case.close()
    assert len(case.notes) == 3


def is_display(pid: int) -> bool:
    with open(f"/proc/{pid}/cmdline", "rb") as told:
        return b"spawn_main" in told.read()


def test_where_the_case_gives_no_sign_nothing_is_published_any_more() -> None:
    with shown_case() as case, reading(case) as reader:
        until(lambda: len(reader.states) >= 3)
        case.stand_still()
        # Signs are looked for in the last 2.5 s while it listens, and passed on within 1.2 s.
        until(lambda: time.monotonic() - reader.states[-1][0] > 2.5)
        assert time.monotonic() - case.activity.sign_s < 15.0


def test_at_the_end_the_last_state_is_shown_before_the_server_goes() -> None:
    with shown_case() as case, reading(case) as reader:
        until(lambda: bool(reader.states))
        case.says("abandon this case because of equipment trouble", "yes abandon this case")
        case.close()
        assert reader.newest["band"] == "ended"
        assert reader.newest["call"] == "Ended unfinished. The record is kept."
