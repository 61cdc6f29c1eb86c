"""Typed lines in place of speech: the same grammar, the same strictness, the same record."""

from __future__ import annotations

import select
import time
from collections.abc import Callable, Sequence
from typing import TextIO

from voicelist.documents.lexicon import Lexicon
from voicelist.documents.names import ROLES
from voicelist.session.case import Case
from voicelist.session.events import Event, Silence, Stop, Utterance, Voice
from voicelist.session.machine import context_of
from voicelist.session.manners import prompt_due_s
from voicelist.session.permitted import help_lines
from voicelist.session.ports import nothing
from voicelist.session.state import State
from voicelist.understanding.hypothesis import Hypothesis
from voicelist.understanding.interpretation import understand
from voicelist.understanding.typed_words import typed_words

__all__ = ["TypedHearer", "role_and_text", "typed_words"]

_HELP = ("help", "?")
_GONE = "the terminal was closed"
# How often the clocks are looked at while nobody types.
_GLANCE_S = 1.0


def role_and_text(line: str, lexicon: Lexicon, roles: Sequence[str] = ROLES) -> tuple[str, str]:
    """`surgeon: vacuum 350` names the speaker, in any spelling; without a known role before the
    colon there is none."""
    before, colon, after = line.partition(":")
    (role,) = lexicon.as_known((before.strip().lower().replace(" ", "-"),), roles)
    return (role, after) if colon and role in roles else ("", line)


class TypedHearer:
    """Reads lines from a stream. On a terminal silence prompts; a pipe never waits. The line `help`
    is no speech: what may be said is told, and nothing has happened."""

    def __init__(self, case: Case, lines: TextIO, tell: Callable[[str], None]) -> None:
        self.each_pass: Callable[[], None] = nothing
        self._case = case
        self._lines = lines
        self._on_terminal = lines.isatty()
        self.tell = tell
        # Typed in haste "isn't" is "isnt".
        short = (word for word in case.room.words() if "'" in word)
        self._known = case.grammar.vocabulary() | case.room.words()
        self._in_full = {word.replace("'", ""): word for word in short}

    @property
    def heard_s(self) -> float:
        return 0.0

    def next_event(self, state: State) -> Event:
        try:
            silent_s = self._waited(prompt_due_s(state)) if self._on_terminal else None
            if silent_s is not None:
                return Silence(silent_s)
            line = self._lines.readline()
        except OSError:
            return Stop(_GONE)
        if line:
            return self.event_of(line, state) or self.next_event(state)
        # After Ctrl-D a terminal is still there.
        gone = self._on_terminal and not self._lines.isatty()
        return Stop(_GONE if gone else "the typed input ended")

    def event_of(self, line: str, state: State) -> Event | None:
        """What a typed line amounts to; None after `help`."""
        if line.strip().lower() not in _HELP:
            return self._utterance(line, state)
        for told in help_lines(self._case, state):
            self.tell(told)
        return None

    def _waited(self, due_s: float | None) -> float | None:
        """Waits for a line: None when there is one, the seconds waited when a prompt is due."""
        began_s = time.monotonic()
        while True:
            waited_s = time.monotonic() - began_s
            if due_s is not None and waited_s >= due_s:
                return waited_s
            left_s = _GLANCE_S if due_s is None else min(due_s - waited_s, _GLANCE_S)
            ready, _, _ = select.select([self._lines], [], [], left_s)
            if ready:
                return None
            self.each_pass()

    def _utterance(self, line: str, state: State) -> Event:
        role, text = role_and_text(
            line, self._case.bundle.lexicon, self._case.bundle.checklist.role_names
        )
        language = self._case.bundle.checklist.language.partition("-")[0]
        typed = (self._in_full.get(one, one) for one in typed_words(text, language))
        words = self._case.bundle.lexicon.as_known(typed, self._known)
        context = context_of(self._case, state)
        understanding = understand([Hypothesis(words)], (), context)
        natural = self._case.natural.unless_permitted(
            understanding, words, state.asked, context.active
        )
        return Utterance(natural, Voice("typed", role, "typed" if role else ""))
