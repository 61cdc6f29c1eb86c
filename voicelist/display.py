"""The case on a terminal: who said what, what was taken. A plain look, one line an event."""

from __future__ import annotations

import sys
from collections.abc import Callable

from rich.console import Console
from rich.text import Text

from voicelist.errors import printable
from voicelist.session.events import Voice
from voicelist.session.ports import nothing
from voicelist.stopping import lead_nowhere
from voicelist.understanding.interpretation import (
    Denied,
    NotForUs,
    NotUnderstood,
    Understanding,
    Understood,
)

_GUTTER = 11
_SHORT_ROLES = {"circulating-nurse": "nurse", "scrub-nurse": "scrub"}


class TerminalDisplay:
    """Lines of a dialogue; the assistant's words to the left rule, the room's beside it. `gone` is
    called when the terminal is no longer there."""

    def __init__(
        self,
        console: Console,
        *,
        echo_typed: bool = False,
        gone: Callable[[], None] = nothing,
    ) -> None:
        self._console = console
        self._gone = gone
        self._echo_typed = echo_typed

    def said(self, text: str) -> None:
        self._line("voicelist", Text(text, style="bold"))

    def heard(self, understanding: Understanding, voice: Voice) -> None:
        who = _SHORT_ROLES.get(voice.role, voice.role) or "heard"
        words = " ".join(understanding.words)
        match understanding:
            case Understood():
                if voice.by == "voice" or self._echo_typed:
                    self._line(who, Text(" ".join(one.text for one in understanding.matches)))
            case NotForUs():
                pass  # shown as ignored, with the reason
            case NotUnderstood():
                self._line(who, Text.assemble(words, (f"  · {understanding.why}", "dim")))
            case Denied():
                self._line(who, Text.assemble(words, ("  · a denial", "dim")))

    def taken(self) -> None:
        self._line("", Text("· recorded", style="dim"))

    def show(self, kind: str, text: str) -> None:
        if kind == "source":
            self._line("", Text(f"(read it from: {text})", style="dim"))
        elif kind == "remedy":
            self._line("", Text(f"({text})", style="dim"))
        elif kind == "section":
            self._line("", Text(f"\N{EM DASH} {text} \N{EM DASH}", style="bold"))
        elif kind == "ignored":
            why = f"(not asked now: {text})" if text else "(talk, not for us)"
            self._line("room", Text(why, style="dim"))
        elif kind == "permitted":
            self._line("", Text(f"(say: {text})", style="dim"))
        elif kind == "read-back":
            self._line("on display", Text(text, style="bold"))
        elif kind == "waiting":
            self._line("waiting", Text(text, style="bold"))
        elif kind == "notice":
            self._line("notice", Text(text))

    def _line(self, who: str, what: Text) -> None:
        what.plain = printable(what.plain)
        line = Text.assemble((f"{who:>{_GUTTER}}  ", "dim"), what)
        try:
            self._console.print(line, soft_wrap=True)
            self._console.file.flush()
        except (OSError, SystemExit):  # rich ends the program where a pipe has no reader
            lead_nowhere(sys.stdout)
            self._gone()
