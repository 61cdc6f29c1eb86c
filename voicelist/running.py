"""A case in the room, assembled: documents, journal, ears, mouth, display."""

from __future__ import annotations

import contextlib
import itertools
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import Any

from rich.console import Console

from voicelist import __version__
from voicelist.department.outbox import courier
from voicelist.department.server import is_server
from voicelist.display import TerminalDisplay
from voicelist.documents.bundle import Bundle, load_bundle
from voicelist.errors import RecordError, UsageError
from voicelist.hearing.ears import Ears
from voicelist.hearing.microphone import Microphone
from voicelist.hearing.model import ModelPlace, find_model
from voicelist.hearing.vocabulary import vocabulary
from voicelist.hearing.wide import wide_search_model
from voicelist.hearing.witness import WITNESS, witness_folder
from voicelist.keys import Keys
from voicelist.practice import PracticeTeam, load_script
from voicelist.record.before import begun_anew, refuse_same_eye, set_up_of_the_day
from voicelist.record.clock_watch import ClockWatch
from voicelist.record.space import room_on_disk
from voicelist.record.store import Store
from voicelist.record.team import set_up_words
from voicelist.record.writer import Clocks, Writer
from voicelist.room_sound import Gate, LiveRoom, Recording
from voicelist.session.case import Case, compile_case
from voicelist.session.day import facts_of_the_day
from voicelist.session.loop import Session
from voicelist.session.order import day_taken_in
from voicelist.session.record_base import Record
from voicelist.session.record_stopped import remedy, sentences_to_prepare, tell_record_stopped
from voicelist.session.records import Opened, Resumed, from_body
from voicelist.session.sound import SoundHearer, Source
from voicelist.session.state import State, evolve, replay
from voicelist.session.typed import TypedHearer
from voicelist.session.wording import spoken
from voicelist.settings import read_settings
from voicelist.speaking.speaker import Mouth
from voicelist.stopping import TERMINAL_GONE, StopRequests

# Two channels are two close microphones, in this order.
CHANNEL_ROLES = ("circulating-nurse", "surgeon")
# What a newcomer has to know, shown as a case begins.
_OPENINGS = {
    "typed": "Type what would be said; help lists it, Ctrl-D leaves the case unfinished.",
    "live": "Any key silences the assistant; Ctrl-C leaves the case unfinished.",
}


@dataclass(frozen=True, slots=True)
class How:
    """How a case is run. `source` is live, recording, typed or practice."""

    source: str
    audio: Path | None = None
    microphone: str | None = None
    real_pace: bool = True
    voice: str | None = None
    voice_out: Path | None = None
    store_url: str | None = None
    quiet: bool = False
    clocks: Clocks = field(default_factory=Clocks)

    @property
    def practice(self) -> bool:
        return self.source == "practice"

    @property
    def local_url(self) -> str | None:
        """The store that is written first: a server is copied to, never written here."""
        return None if is_server(self.store_url) else self.store_url

    @property
    def aloud(self) -> bool:
        """Whether the assistant is to be heard in the room."""
        return self.real_pace and self.source in ("live", "recording", "practice")


@dataclass(slots=True)
class JournalKeeper:
    """Records to the journal; returns when they are on disk."""

    writer: Writer

    def keep(self, record: Record) -> None:
        self.writer.append(record)


@dataclass(slots=True)
class GatedMouth:
    """The assistant's voice; closes the microphone's gate behind every sound. Any key stops it, and
    so does being asked to end."""

    mouth: Mouth
    gate: Gate
    keys: Keys
    stopping: StopRequests

    def speak(self, text: str) -> tuple[float, str]:
        if self.stopping.urgent:
            return 0.0, ""
        spoken = self.mouth.say(
            text, interrupted=lambda: self.stopping.urgent or self.keys.pressed()
        )
        self.gate.close_behind_speech()
        return spoken.seconds, spoken.problem or ""

    def tone(self) -> None:
        self.mouth.tone()
        self.gate.close_behind_speech()

    def adjust(self, pace: int, level: int) -> None:
        self.mouth.adjust(pace, level)


@dataclass(slots=True)
class Outcome:
    """How a run ended."""

    case: str
    state: State
    head: str
    where: str
    speech_s: float
    ready_s: float
    room_s: float


def run_plan(plan: Path, how: How, console: Console, first_section: str = "") -> Outcome:
    """A new case from its plan."""
    began_s = time.monotonic()
    with _around(how, console) as around:
        bundle = load_bundle(plan)
        _check_section(bundle, first_section)
        code = bundle.plan.case
        if how.practice:
            code = around.store.free_case_code(code)
        elif around.store.holds(code):
            code = begun_anew(around.store, code)
        set_up = _looked_back(bundle, around)
        around.stopping.refuse()
        with _room(around) as room, contextlib.closing(around.store.open_case(code)) as writer:
            case = compile_case(bundle, first_section)
            opened = Opened(
                how.source,
                __version__,
                bundle.to_json(),
                room.model_facts(),
                room.roles,
                first_section,
                how.quiet or bundle.plan.quiet,
                set_up,
                read_settings().theatre,
            )
            room.begin(case, opened, writer)
            session = room.session(case, evolve(State(), opened), writer)
            return _held(session, room, writer, began_s)


def _looked_back(bundle: Bundle, around: Around) -> dict[str, Any] | None:
    """What earlier records say: a second eye is not the first one again, and where the day's set-up
    was taken; that is shown, and what it did not pass is asked."""
    plan, wanted = bundle.plan, day_taken_in(bundle)
    if plan.second_eye_of is not None:
        refuse_same_eye(around.store, plan.second_eye_of, str(plan.eye))
    if wanted is None:
        return None
    today = datetime.now().astimezone().date()
    found = set_up_of_the_day(around.store, wanted, today, practice=around.how.practice)
    set_up = facts_of_the_day(found, changed=plan.changed)
    around.display.show("notice", f"The day's set-up: {set_up_words(set_up)}.")
    return set_up


def _check_section(bundle: Bundle, first_section: str) -> None:
    names = [one.id for one in bundle.checklist.sections]
    if first_section and first_section not in names:
        raise UsageError(f"There is no section {first_section}: choose one of {', '.join(names)}.")


def resume_case(code: str, how: How, console: Console) -> Outcome:
    """Go on where the journal of a case ends, with the documents that it embeds."""
    began_s = time.monotonic()
    with _around(how, console) as around:
        entries = around.store.entries(code)
        records = [from_body(entry.kind, entry.body) for entry in entries]
        opened = records[0]
        if not isinstance(opened, Opened):
            raise RecordError(f"The record of {code} does not begin with its documents.")
        bundle = Bundle.from_json(thawed(opened.documents))
        around.stopping.refuse()
        with _room(around) as room, contextlib.closing(around.store.resume(code)) as writer:
            case = compile_case(bundle, opened.first_section)
            resumed = Resumed(how.source, __version__, room.model_facts(), room.roles)
            room.begin(case, resumed, writer)
            session = room.session(case, evolve(replay(records), resumed), writer)
            return _held(session, room, writer, began_s)


def _held(session: Session, room: Room, writer: Writer, began_s: float) -> Outcome:
    ready_s = time.monotonic() - began_s
    state = session.run()
    return Outcome(
        case=writer.case,
        state=state,
        head=writer.head,
        where=room.around.store.where,
        speech_s=room.mouth.seconds_spoken,
        ready_s=ready_s,
        room_s=session.hearer.heard_s,
    )


@dataclass(frozen=True, slots=True)
class Around:
    """What is there before the room is: the records, the display, the clocks, the wish to stop."""

    how: How
    store: Store
    display: TerminalDisplay
    stopping: StopRequests
    watch: ClockWatch


@contextlib.contextmanager
def _around(how: How, console: Console) -> Iterator[Around]:
    """Watches signals and clocks. Raises RecordError where there is no room for a case."""
    with StopRequests() as stopping:
        display = TerminalDisplay(console, gone=partial(stopping.ask, TERMINAL_GONE))
        told = room_on_disk(how.local_url, practice=how.practice)
        if told:
            display.show("notice", told)
        watch = ClockWatch(how.clocks)
        store = Store(how.local_url, practice=how.practice, clocks=how.clocks)
        tell = partial(display.show, "notice")
        with watch.beating(), courier(how.store_url, how.practice, tell):
            yield Around(how, store, display, stopping, watch)


def thawed(value: Any) -> Any:
    """Plain JSON of a frozen record field: tuples are lists again."""
    if isinstance(value, tuple):
        return [thawed(item) for item in value]
    if isinstance(value, dict):
        return {key: thawed(item) for key, item in value.items()}
    return value


@dataclass(slots=True)
class Room:
    """Ears, mouth and where the sound comes from, started before the documents are compiled."""

    around: Around
    model: ModelPlace | None
    ears: Ears | None
    source: Source | None
    mouth: Mouth
    speaker: GatedMouth

    @property
    def roles(self) -> tuple[str, ...]:
        two = self.source is not None and self.source.channels == 2
        return CHANNEL_ROLES if two else ()

    def model_facts(self) -> dict[str, str] | None:
        """What the journal says of the model that listened."""
        if self.model is None:
            return None
        witness = WITNESS if witness_folder() is not None else ""
        note = self.model.note or ""
        return {"fingerprint": self.model.fingerprint, "note": note, "witness": witness}

    def begin(self, case: Case, first: Record, writer: Writer) -> None:
        """Put the first record of this run on disk; if that fails the room is told."""
        self.around.stopping.refuse()
        told = remedy(case, writer.case, resumable=isinstance(first, Resumed))
        try:
            writer.append(first)
        except Exception:
            tell_record_stopped(case, self.speaker, self.around.display, "", told)
            raise

    def session(self, case: Case, state: State, writer: Writer) -> Session:
        how, display = self.around.how, self.around.display
        for note in self.mouth.notes:
            display.show("notice", note)
        if how.source in _OPENINGS:
            opening = _OPENINGS[how.source]
            name = f"{case.bundle.checklist.title}. {opening}"
            # The code may end with the number that is to be read from list or wristband.
            display.show("notice", name if case.asks_for_number else f"{writer.case}: {name}")
        self._prepare_calls(case)
        hearer = self._hearer(case)
        session = Session(
            case,
            state,
            JournalKeeper(writer),
            self.speaker,
            hearer,
            display,
            self.around.stopping,
            self.around.watch,
            remedy(case, writer.case, resumable=not how.practice),
        )
        hearer.each_pass = session.look_at_clocks
        return session

    def _prepare_calls(self, case: Case) -> None:
        """Has the calls rendered in the background, as they will be spoken, and early among them
        what must be heard at once."""
        sentences, lexicon = case.bundle.sentences, case.bundle.lexicon
        calls = [case.call_text(one) for one in case.items.values()]
        texts = itertools.chain(calls[:1], sentences_to_prepare(case), calls[1:])
        self.mouth.prepare(spoken(sentences, lexicon, one) for one in texts)

    def _hearer(self, case: Case) -> TypedHearer | SoundHearer:
        if self.ears is None or self.source is None or self.model is None:
            show = partial(self.around.display.show, "notice")
            return TypedHearer(case, sys.stdin, show)
        said = case.grammar.vocabulary() | case.room.words()
        known = vocabulary(self.model.path, among=said)
        return SoundHearer(case, self.ears, self.source, self.roles, known)


@contextlib.contextmanager
def _room(around: Around) -> Iterator[Room]:
    """Starts the native parts, each in its own process, and ends them."""
    how = around.how
    with contextlib.ExitStack() as stack:
        gate, keys = Gate(), stack.enter_context(Keys(watch=how.source != "typed"))
        model = ears = source = None
        if how.source != "typed":
            model = find_model()
            source = _source(how, gate, stack)
            ears = Ears(wide_search_model(model), source.channels)
            stack.callback(ears.close)
        mouth = Mouth(how.voice, play=how.aloud, out=how.voice_out)
        stack.callback(mouth.close)
        speaker = GatedMouth(mouth, gate, keys, around.stopping)
        yield Room(around, model, ears, source, mouth, speaker)


def _source(how: How, gate: Gate, stack: contextlib.ExitStack) -> Source:
    if how.practice:
        return PracticeTeam(load_script())
    if how.audio is not None:
        return Recording(how.audio, how.real_pace)
    microphone = Microphone(how.microphone, 1)
    stack.callback(microphone.close)
    return LiveRoom(microphone, gate, 1)
