"""Who is told as a case goes on: the terminal, the room display, and what the assistant does."""

from __future__ import annotations

import contextlib
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from rich.console import Console

from voicelist.activity import Activity
from voicelist.display import TerminalDisplay
from voicelist.errors import MissingPart
from voicelist.record.writer import Writer
from voicelist.session.answers_in_words import answers_in_words
from voicelist.session.case import Case
from voicelist.session.flow_records import UnderWay
from voicelist.session.record_base import Record
from voicelist.session.records import AskedAgain, Called, CarriedOn, Closed, Prompted, ReadBack
from voicelist.session.state import State, evolve
from voicelist.status_line import StatusLine

if TYPE_CHECKING:
    from voicelist.room.feed import Feed

# After these something may be answered that could not be before, or is asked anew.
_ASKS = (Called, ReadBack, AskedAgain, Prompted, CarriedOn, UnderWay)


@dataclass(frozen=True, slots=True)
class DisplayWanted:
    """The room display: on this computer alone, unless a host is named; `discreet` where the
    patient may read along."""

    host: str | None = None
    port: int | None = None
    discreet: bool = False


@dataclass(slots=True)
class Shows:
    """Told of each record when it is on disk, and not before."""

    terminal: TerminalDisplay
    activity: Activity
    feed: Feed | None = None
    _case: Case | None = None
    _state: State = field(default_factory=State)

    def begin(self, case: Case, earlier: Sequence[Record], at: Sequence[str]) -> None:
        """The case that is shown; its records of earlier runs, and the time of day of each."""
        self._case = case
        for record in earlier:
            self._state = evolve(self._state, record)
        if self.feed is not None:
            times_s = [_on_this_clock(one) for one in at]
            self.feed.begin(case.bundle.to_json(), case.first_section, earlier, times_s)

    def kept(self, record: Record) -> None:
        """A record is on disk."""
        if self.feed is not None:
            self.feed.kept(record)
        self._state = evolve(self._state, record)
        self.activity.pause(bool(self._state.held) and not isinstance(record, Closed))
        if isinstance(record, _ASKS) and self._case is not None:
            self.terminal.permits(answers_in_words(self._case, self._state))


@dataclass(slots=True)
class JournalKeeper:
    """Records to the journal; returns when they are on disk, and then tells who shows them."""

    writer: Writer
    kept: Callable[[Record], None]
    keep_sound: Callable[[int, Record], None] | None = None

    def keep(self, record: Record) -> None:
        entry = self.writer.append(record)
        self.kept(record)
        if self.keep_sound is not None:
            self.keep_sound(entry.seq, record)


def _on_this_clock(at: str) -> float:
    """A time of day of an earlier run on the monotonic clock of this one."""
    ago = datetime.now(UTC) - datetime.fromisoformat(at)
    return time.monotonic() - ago.total_seconds()


@contextlib.contextmanager
def shown(
    console: Console, gone: Callable[[], None], wanted: DisplayWanted | None, plain: bool
) -> Iterator[Shows]:
    """The terminal, with its status line unless it is plain, and the room display if wanted."""
    activity = Activity()
    status = None if plain else StatusLine(console, activity, gone)
    terminal = TerminalDisplay(console, plain=plain, status=status, gone=gone)
    with contextlib.ExitStack() as stack:
        feed = None if wanted is None else _feed(wanted, activity, terminal)
        if feed is not None:
            stack.callback(feed.close)
        if status is not None:
            stack.enter_context(status)
        yield Shows(terminal, activity, feed)


def _feed(wanted: DisplayWanted, activity: Activity, terminal: TerminalDisplay) -> Feed:
    try:
        from voicelist.room.address import DEFAULT_PORT, open_address
        from voicelist.room.feed import Feed
    except ModuleNotFoundError as missing:
        raise MissingPart(
            f"The room display needs {missing.name}, which is not installed; get it by"
            " pip install 'voicelist[display]', or leave --display out."
        ) from missing
    port = DEFAULT_PORT if wanted.port is None else wanted.port
    address = open_address(wanted.host, port)
    terminal.show("notice", f"The display: {address.url}")
    return Feed(address, activity, _noting(terminal), discreet=wanted.discreet)


def _noting(terminal: TerminalDisplay) -> Callable[[str], None]:
    def note(text: str) -> None:
        terminal.show("notice", text)

    return note
