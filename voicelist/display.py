"""The case on a terminal: who said what, what was taken. A plain look, one entry an event."""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Callable, Iterator, Sequence

from rich.console import Console
from rich.text import Text

from voicelist.errors import printable
from voicelist.session.events import Voice
from voicelist.session.ports import nothing
from voicelist.status_line import StatusLine
from voicelist.stopping import lead_nowhere
from voicelist.understanding.interpretation import (
    Denied,
    NotForUs,
    NotUnderstood,
    Understanding,
    Understood,
)

_GUTTER = 11
_BETWEEN = "  "
# A narrower terminal than this is no place for a hanging indent.
_TEXT_AT_LEAST = 24
_SHORT_ROLES = {"circulating-nurse": "nurse", "scrub-nurse": "scrub"}
_OR = ", or: "
_BETWEEN_ANSWERS = "  \N{MIDDLE DOT}  "


class TerminalDisplay:
    """Lines of a dialogue; the assistant's words to the left rule, the room's beside it. On a
    terminal a long line goes on below its own words. `plain`: one line an event and nothing else,
    for logs and screen readers. `gone` is called when the terminal is no longer there."""

    def __init__(
        self,
        console: Console,
        *,
        echo_typed: bool = False,
        plain: bool = False,
        status: StatusLine | None = None,
        gone: Callable[[], None] = nothing,
    ) -> None:
        self._console = console
        self._gone = gone
        self._echo_typed = echo_typed
        self._plain = plain
        self._status = status
        self._answers: tuple[str, ...] = ()

    def permits(self, answers: Sequence[str]) -> None:
        """How what is said or shown next may be answered; shown once, below it."""
        self._answers = tuple(answers)

    def said(self, text: str) -> None:
        self._line("voicelist", Text(text, style="bold"))
        self._tell_answers()

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
            self._tell_answers()
        elif kind in ("waiting", "partner"):
            self._line(kind, Text(text, style="bold"))
        elif kind == "notice":
            self._line("notice", Text(text))

    def _tell_answers(self) -> None:
        answers, self._answers = self._answers, ()
        if answers:
            between = _OR if self._plain else _BETWEEN_ANSWERS
            self.show("permitted", between.join(answers))

    def _line(self, who: str, what: Text) -> None:
        what.plain = printable(what.plain)
        lifted = self._status.lifted() if self._status is not None else contextlib.nullcontext()
        try:
            with lifted:
                for line in self._laid_out(who, what):
                    self._console.print(line, soft_wrap=True)
                self._console.file.flush()
        except (OSError, SystemExit):  # rich ends the program where a pipe has no reader
            lead_nowhere(sys.stdout)
            self._gone()

    def _laid_out(self, who: str, what: Text) -> Iterator[Text]:
        """One line, or on a terminal as many as it takes."""
        if self._plain:
            yield Text.assemble(f"{who}: " if who else "", what.plain)
            return
        head = f"{who:>{_GUTTER}}{_BETWEEN}"
        width = self._console.width - len(head)
        if not self._console.is_terminal or width < _TEXT_AT_LEAST:
            yield Text.assemble((head, "dim"), what)
            return
        for line in what.wrap(self._console, width):
            yield Text.assemble((head, "dim"), line)
            head = " " * len(head)
