"""A child's talk with its parent, while its main thread works in native code.

A voice may compute for longer than a heartbeat may be missed, so the heartbeats come from a thread
of their own. A death is seen by the pipe, a hang by the parent's deadline for the work it asked
for; a hang that stops every thread is seen by the missing heartbeats.
"""

from __future__ import annotations

import queue
import threading
from typing import Any

from voicelist.child import ChildEnd


class Desk:
    """Takes the parent's messages in, in order, for the main thread."""

    def __init__(self, end: ChildEnd) -> None:
        self._end = end
        self._inbox: queue.SimpleQueue[Any] = queue.SimpleQueue()
        threading.Thread(target=self._attend, daemon=True).start()

    def _attend(self) -> None:
        while True:
            message = self._end.receive()
            if message is not None:
                self._inbox.put(message)

    def next(self) -> Any:
        """Wait for the parent's next message."""
        return self._inbox.get()

    @property
    def has_message(self) -> bool:
        return not self._inbox.empty()

    def post(self, message: Any) -> None:
        self._end.send(message)
