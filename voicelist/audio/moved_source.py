"""Whether the sound server has moved this process to another microphone.

When a device is pulled out, PulseAudio (and what speaks its protocol) goes on with the default one,
and nobody is told: the sound library, and whoever listens, believe that they hear the same one as
before. So the server is asked, by its own client library, from which source it gives us sound.
Where there is no such server nothing is asked.
"""

from __future__ import annotations

import os
import threading
from typing import Any

# A loss is to be noticed within a second.
LOOK_EVERY_S = 0.25
_PID = "application.process.id"


class SourceWatch:
    """Looks again and again in a thread of its own; `source` is what sound comes from now, "" while
    that is not known."""

    def __init__(self) -> None:
        self.source = ""
        self._looked = threading.Event()
        threading.Thread(target=self._look, name="source watch", daemon=True).start()

    def first_look(self, timeout_s: float) -> str:
        """The source, once it was looked for."""
        self._looked.wait(timeout_s)
        return self.source

    def _look(self) -> None:
        try:
            import pulsectl
        except (ImportError, OSError):
            self._looked.set()  # no client library, so no server that it would speak to
            return
        try:
            with pulsectl.Pulse("voicelist microphone", connect=False) as pulse:
                pulse.connect(autospawn=False)
                pause = threading.Event()
                while True:
                    self.source = _source_of(pulse, os.getpid()) or self.source
                    self._looked.set()
                    pause.wait(LOOK_EVERY_S)
        except pulsectl.PulseError:
            self._looked.set()  # there is none, or it is gone, and its sound with it


def _source_of(pulse: Any, pid: int) -> str:
    """The name of the source that a process records from, "" if that is not one."""
    ours = [one for one in pulse.source_output_list() if one.proplist.get(_PID) == str(pid)]
    sources = {one.index: one.name for one in pulse.source_list()}
    names = {sources.get(one.source, "") for one in ours}
    return names.pop() if len(names) == 1 else ""
