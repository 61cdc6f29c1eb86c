"""The case's side of the display: hands on what is on disk, and never waits for it.

The thread of the case appends to a list and sets an event; a thread of the feed's own talks to the
child, and starts another with the whole of it where one was lost.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from voicelist.activity import DECIDING, LISTENING, SPEAKING, Activity
from voicelist.child import Child, ChildLost
from voicelist.room.address import Address
from voicelist.room.gate import Access
from voicelist.room.screen import Doing
from voicelist.room.wall import Alive, Farewell, Kept, Ready, Shown, show
from voicelist.session.record_base import Record

_ALIVE_EVERY_S = 0.4
_ROOM_WITHIN_S = 1.0
_PAUSE_S = 0.25
# A child that ends so often so soon after its start will not come up by trying again.
_FRUITLESS_STARTS_AT_MOST = 3
_FRUITFUL_AFTER_S = 15.0
_FAREWELL_WITHIN_S = 2.0
# For the page to take the last state before its server goes.
_LAST_LOOK_S = 0.3
# How long the case may go without a sign of life while it does this, before the page is told
# nothing any more. Deciding asks native parts for up to some five seconds.
_SIGN_WITHIN_S = {LISTENING: 2.5, SPEAKING: 4.0, DECIDING: 12.0}


class Feed:
    """Shows one case; `note` tells people that the display is lost, or back."""

    def __init__(
        self,
        address: Address,
        activity: Activity,
        note: Callable[[str], None],
        *,
        discreet: bool,
    ) -> None:
        self._address = address
        self._activity = activity
        self._note = note
        self._discreet = discreet
        self._records: list[Kept] = []
        self._documents: Mapping[str, Any] = {}
        self._first_section = ""
        self._news = threading.Event()
        self._ending = False
        self._thread = threading.Thread(target=self._go_on, name="display", daemon=True)
        self._sent = 0
        self._told_doing: Doing | None = None
        self.ready = threading.Event()

    def begin(
        self,
        documents: Mapping[str, Any],
        first_section: str,
        earlier: Sequence[Record] = (),
        times_s: Sequence[float] = (),
    ) -> None:
        """Show the case of these documents; `earlier` are its records of earlier runs, and when
        each was kept on the monotonic clock."""
        self._documents, self._first_section = documents, first_section
        self._records.extend(map(Kept, earlier, times_s))
        self._activity.watchers.append(self._news.set)
        self._thread.start()

    def kept(self, record: Record) -> None:
        """A record is on disk."""
        self._records.append(Kept(record, time.monotonic()))
        self._news.set()

    def close(self) -> None:
        """Show the last state, and end the child."""
        self._ending = True
        self._news.set()
        if self._thread.ident is not None:
            self._thread.join(_FAREWELL_WITHIN_S + 2.0)
        self._address.close()

    def _go_on(self) -> None:
        fruitless = 0
        while not self._ending:
            began_s = time.monotonic()
            child = self._started()
            reason = self._feed(child)
            if reason is None:
                self._say_farewell(child)
            child.kill()
            if self._ending:
                return
            fruitless = 0 if time.monotonic() - began_s > _FRUITFUL_AFTER_S else fruitless + 1
            if fruitless >= _FRUITLESS_STARTS_AT_MOST:
                self._note(f"The display {reason}, again and again. The case goes on without it.")
                return
            self._note(f"The display {reason}; it is started again. The case goes on.")
            self._wait(_PAUSE_S * 2**fruitless)

    def _started(self) -> Child:
        access = Access(self._address.token, self._address.hosts)
        shown = Shown(self._documents, self._first_section, access, self._discreet)
        child = Child("display", show, (shown, self._address.listening))
        child.start()
        self._sent, self._told_doing = 0, None
        return child

    def _feed(self, child: Child) -> str | None:
        """Until the case ends (None), or the child is lost: why."""
        alive_s = 0.0
        while not self._ending:
            self._news.clear()
            if not self._hand_on(child):
                return "did not keep up"
            now_s = time.monotonic()
            if self._doing() != self._told_doing or now_s - alive_s >= _ALIVE_EVERY_S:
                self._tell_alive(child)
                alive_s = now_s
            told = child.poll(0.0)
            if isinstance(told, ChildLost):
                return told.reason
            if isinstance(told, Ready):
                self.ready.set()
            self._news.wait(_ALIVE_EVERY_S)
        return None

    def _hand_on(self, child: Child) -> bool:
        while self._sent < len(self._records):
            if not child.send(self._records[self._sent], wait_s=_ROOM_WITHIN_S):
                return False
            self._sent += 1
        return True

    def _doing(self) -> Doing:
        doing = self._activity
        return Doing(doing.shown, doing.typing, tuple(sorted(doing.unheard)))

    def _tell_alive(self, child: Child) -> None:
        within_s = _SIGN_WITHIN_S.get(self._activity.doing)
        if self._activity.waits_for_line or within_s is None or self._activity.silent_s < within_s:
            self._told_doing = self._doing()
            child.send(Alive(self._told_doing))

    def _say_farewell(self, child: Child) -> None:
        self._hand_on(child)
        child.send(Farewell(), wait_s=_ROOM_WITHIN_S)
        end_s = time.monotonic() + _FAREWELL_WITHIN_S
        while time.monotonic() < end_s:
            told = child.poll(0.05)
            if isinstance(told, ChildLost):
                return
            if isinstance(told, Farewell):
                time.sleep(_LAST_LOOK_S)
                return

    def _wait(self, seconds: float) -> None:
        end_s = time.monotonic() + seconds
        while not self._ending and time.monotonic() < end_s:
            self._news.wait(0.1)
            self._news.clear()
