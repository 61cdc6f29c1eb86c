"""The child that shows a case: it folds the records that it is handed, and serves the page.

It is told of a record only after that is on disk, so nothing that it shows is not. Where the case
no longer gives a sign of life it publishes nothing either, and the page says that the feed is lost.
"""

from __future__ import annotations

import os
import socket
import time
from collections import deque
from collections.abc import Mapping
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field
from typing import Any

from voicelist.child import ChildEnd, hush
from voicelist.documents.embedded import Bundle
from voicelist.room.gate import Access
from voicelist.room.screen import Doing, screen
from voicelist.room.server import Board, serve
from voicelist.room.told import Told, after
from voicelist.session.case import Case, compile_case
from voicelist.session.record_base import Record
from voicelist.session.state import State, evolve

# What the page shows goes on once a second; the case has to have been heard of by then.
PUBLISHED_EVERY_S = 1.0
# However much happens, no oftener than this: many readers are to cost the case nothing.
_PUBLISHED_AT_MOST_EVERY_S = 0.08
# The case goes before its display where the computer is busy.
_NICENESS = 5
CASE_HEARD_WITHIN_S = 1.2
_GLANCE_S = 0.1


@dataclass(frozen=True, slots=True)
class Shown:
    """What the child needs to begin: the documents of the case and who may read."""

    documents: Mapping[str, Any]
    first_section: str
    access: Access
    discreet: bool


@dataclass(frozen=True, slots=True)
class Kept:
    """A record is on disk since `at_s` (monotonic clock, which is one for all processes)."""

    record: Record
    at_s: float


@dataclass(frozen=True, slots=True)
class Alive:
    """The case goes on, and does this."""

    doing: Doing


@dataclass(frozen=True, slots=True)
class Farewell:
    """The case ends as it should; what there is is to be shown now."""


@dataclass(frozen=True, slots=True)
class Ready:
    """The page can be read."""


@dataclass(slots=True)
class Wall:
    """What is shown, as it grows."""

    discreet: bool
    case: Case | None = None
    state: State = field(default_factory=State)
    told: Told = field(default_factory=Told)
    doing: Doing = field(default_factory=Doing)
    alive_s: float = 0.0
    _waiting: deque[Kept] = field(default_factory=deque)

    def take(self, message: object) -> bool:
        """Takes a message in; whether there is something new to be shown."""
        match message:
            case Kept():
                self._waiting.append(message)
                return self.case is not None
            case Alive():
                self.alive_s = time.monotonic()
                changed = message.doing != self.doing
                self.doing = message.doing
                return changed
            case Farewell():
                return True
        return False

    def shown(self) -> dict[str, Any] | None:
        """The page's values; None before the documents are read."""
        if self.case is None:
            return None
        while self._waiting:
            kept = self._waiting.popleft()
            self.state = evolve(self.state, kept.record)
            self.told = after(self.told, kept.record, kept.at_s)
        now_s = time.monotonic()
        return screen(self.case, self.state, self.told, self.doing, now_s, discreet=self.discreet)


def show(end: ChildEnd, shown: Shown, listening: socket.socket) -> None:
    """The child's work, until its parent is gone."""
    hush()
    os.nice(_NICENESS)
    end.beat()
    board = Board()
    serve(board, listening, shown.access)
    wall = Wall(shown.discreet)
    with ThreadPoolExecutor(1) as aside:
        compiling = aside.submit(_compiled, shown)
        end.send(Ready())
        _go_on(end, wall, board, compiling)


def _compiled(shown: Shown) -> Case:
    return compile_case(Bundle.from_json(shown.documents), shown.first_section)


def _go_on(end: ChildEnd, wall: Wall, board: Board, compiling: Future[Case]) -> None:
    published_s = 0.0
    due = False
    while True:
        rest_s = published_s + _PUBLISHED_AT_MOST_EVERY_S - time.monotonic()
        message = end.receive(max(0.0, min(rest_s, _GLANCE_S)) if due else _GLANCE_S)
        due = wall.take(message) or due
        if wall.case is None and compiling.done():
            wall.case, due = compiling.result(), True
        if message is not None:
            # The newest state alone is worked out, however much came at once.
            if isinstance(message, Farewell):
                _publish(wall, board)
                end.send(message)
            continue
        now_s = time.monotonic()
        lives = now_s - wall.alive_s < CASE_HEARD_WITHIN_S
        if (due and rest_s <= 0.0) or (lives and now_s - published_s >= PUBLISHED_EVERY_S):
            _publish(wall, board)
            published_s, due = now_s, False


def _publish(wall: Wall, board: Board) -> None:
    shown = wall.shown()
    if shown is not None:
        board.publish(shown)
