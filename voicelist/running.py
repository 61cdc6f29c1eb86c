"""A case in the room, assembled: documents, journal, recogniser, loudspeaker, display."""

from __future__ import annotations

import contextlib
import itertools
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import Any

from rich.console import Console

from voicelist import __version__
from voicelist.activity import Activity, WatchedHearer, WatchedSource
from voicelist.asr.model import ModelPlace, find_model
from voicelist.asr.recogniser_process import RecogniserProcess
from voicelist.asr.verifier import VERIFIER, verifier_folder
from voicelist.asr.vocabulary import vocabulary
from voicelist.asr.wide_beam import wide_search_model
from voicelist.department.outbox import courier, local_of, own_theatre
from voicelist.display import TerminalDisplay
from voicelist.documents.bundle import load_bundle
from voicelist.documents.case_codes import looks_identifying
from voicelist.documents.embedded import Bundle, thawed
from voicelist.errors import RecordError, UsageError
from voicelist.gated_speaker import GatedMouth, NoEar
from voicelist.keys import Keys
from voicelist.listening.kept_sound import HeldSound, SoundKeeper
from voicelist.listening.practice import PracticeTeam, load_script
from voicelist.listening.room_sound import Recording
from voicelist.listening.sound import SoundHearer, SoundSource
from voicelist.listening.typed import TypedHearer
from voicelist.live_sound import LiveSound, Microphones, open_microphones
from voicelist.record.before import begun_anew, refuse_same_eye, set_up_of_the_day
from voicelist.record.clock_watch import ClockWatch
from voicelist.record.sound import public_keys
from voicelist.record.space import room_on_disk
from voicelist.record.store import Store
from voicelist.record.team import set_up_words
from voicelist.record.times import local_offset_min
from voicelist.record.writer import Clocks, Writer
from voicelist.session.case import Case, compile_case
from voicelist.session.day import facts_of_the_day
from voicelist.session.events import Begin
from voicelist.session.loop import Session
from voicelist.session.machine import step
from voicelist.session.order import day_taken_in
from voicelist.session.record_base import Record
from voicelist.session.record_stopped import remedy, sentences_to_prepare, tell_record_stopped
from voicelist.session.records import Opened, Resumed, from_body
from voicelist.session.state import State, evolve, replay
from voicelist.session.wording import spoken
from voicelist.shows import DisplayWanted, JournalKeeper, Shows, shown
from voicelist.speaking.speaker import SpeechOutput
from voicelist.stopping import TERMINAL_GONE, StopRequests

# What a newcomer has to know, shown as a case begins.
_OPENINGS = {
    "typed": "Type what would be said; help lists it, Ctrl-D leaves the case unfinished.",
    "live": "Any key silences the assistant; Ctrl-C leaves the case unfinished.",
}

_IDENTIFYING = (
    "The case code looks like {}. It stands in every record and export: a number of your own is "
    "better."
)


@dataclass(frozen=True, slots=True)
class How:
    """How a case is run. `source` is live, recording, typed or practice."""

    source: str
    audio: Path | None = None
    microphones: Microphones = field(default_factory=Microphones)
    real_pace: bool = True
    voice: str | None = None
    voice_out: Path | None = None
    speaker: str | None = None
    store_url: str | None = None
    quiet: bool = False
    keep_audio: bool = False
    plain: bool = False
    display: DisplayWanted | None = None
    clocks: Clocks = field(default_factory=Clocks)

    @property
    def practice(self) -> bool:
        return self.source == "practice"

    @property
    def aloud(self) -> bool:
        """Whether the assistant is to be heard in the room."""
        return self.real_pace and self.source in ("live", "recording", "practice")


@dataclass(slots=True)
class Outcome:
    """How a run ended."""

    case: str
    state: State
    head: str
    tree_head: str
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
        likeness = looks_identifying(code)
        if likeness:
            around.display.show("notice", _IDENTIFYING.format(likeness))
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
                room.roles(bundle),
                first_section,
                how.quiet or bundle.plan.quiet,
                set_up,
                how.keep_audio,
                local_offset_min(),
                own_theatre(),
            )
            around.shows.begin(case, (), ())
            room.begin(case, opened, writer)
            session = room.session(case, evolve(State(), opened), writer)
            return _held(session, room, writer, began_s)


def _looked_back(bundle: Bundle, around: Around) -> dict[str, Any] | None:
    """What earlier records say: a second eye is not the first one again, and where the day's set-up
    was taken; that is shown, and what it did not pass is asked."""
    plan, wanted = bundle.plan, day_taken_in(bundle)
    if plan.second_eye_of is not None:
        refuse_same_eye(around.store, plan.second_eye_of, plan.side)
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
        entries = around.store.to_go_on_with(code)
        records = [from_body(entry.kind, entry.body) for entry in entries]
        opened = records[0]
        if not isinstance(opened, Opened):
            raise RecordError(f"The record of {code} does not begin with its documents.")
        bundle = Bundle.from_json(thawed(opened.documents))
        around.stopping.refuse()
        with _room(around) as room, contextlib.closing(around.store.resume(code)) as writer:
            case = compile_case(bundle, opened.first_section)
            resumed = Resumed(
                how.source,
                __version__,
                room.model_facts(),
                room.roles(bundle),
                how.keep_audio,
                local_offset_min(),
            )
            around.shows.begin(case, records, [one.at for one in entries])
            room.begin(case, resumed, writer)
            session = room.session(case, evolve(replay(records), resumed), writer)
            return _held(session, room, writer, began_s)


def _held(session: Session, room: RunningRoom, writer: Writer, began_s: float) -> Outcome:
    room.make_ready(session)
    ready_s = time.monotonic() - began_s
    state = session.run()
    return Outcome(
        case=writer.case,
        state=state,
        head=writer.head,
        tree_head=room.around.store.tree_head(writer.case),
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
    shows: Shows
    stopping: StopRequests
    watch: ClockWatch


@contextlib.contextmanager
def _around(how: How, console: Console) -> Iterator[Around]:
    """Watches signals and clocks. Raises RecordError where there is no room for a case."""
    with contextlib.ExitStack() as stack:
        stopping = stack.enter_context(StopRequests())
        shows = stack.enter_context(
            shown(console, partial(stopping.ask, TERMINAL_GONE), how.display, how.plain)
        )
        display = shows.terminal
        told = room_on_disk(local_of(how.store_url), practice=how.practice)
        if told:
            display.show("notice", told)
        watch = ClockWatch(how.clocks)
        store = Store(local_of(how.store_url), practice=how.practice, clocks=how.clocks)
        to = courier(how.store_url, how.practice, partial(display.show, "notice"))
        with watch.beating(), to:
            yield Around(how, store, display, shows, stopping, watch)


@dataclass(slots=True)
class RunningRoom:
    """Recogniser, loudspeaker and where the sound comes from, started before the documents are
    compiled."""

    around: Around
    model: ModelPlace | None
    recogniser: RecogniserProcess | None
    source: SoundSource | None
    mouth: SpeechOutput
    speaker: GatedMouth
    live: LiveSound | None = None
    hearer: TypedHearer | SoundHearer | None = None

    def roles(self, bundle: Bundle) -> tuple[str, ...]:
        """Whose microphone each channel is; nobody's in a list without these roles."""
        two = self.source is not None and self.source.channels == 2
        wanted, known = self.around.how.microphones, bundle.checklist.role_names
        return wanted.roles_among(known) if two else ()

    def model_facts(self) -> dict[str, str] | None:
        """What the journal says of the model that listened."""
        if self.model is None:
            return None
        verifier = VERIFIER if verifier_folder() is not None else ""
        note = self.model.note or ""
        return {"fingerprint": self.model.fingerprint, "note": note, "witness": verifier}

    def begin(self, case: Case, first: Record, writer: Writer) -> None:
        """Put the first record of this run on disk; if that fails the room is told."""
        self.around.stopping.refuse()
        told = remedy(case, writer.case, resumable=isinstance(first, Resumed))
        try:
            writer.append(first)
        except Exception:
            tell_record_stopped(case, self.speaker, self.around.display, "", told)
            raise
        self.around.shows.kept(first)

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
        activity = self.around.shows.activity
        hearer = self.hearer = self._hearer(case, activity)
        session = Session(
            case,
            state,
            JournalKeeper(writer, self.around.shows.kept, self._sound_keeper(writer)),
            self.speaker,
            WatchedHearer(hearer, activity),
            display,
            self.around.stopping,
            self.around.watch,
            remedy(case, writer.case, resumable=not how.practice),
        )

        def each_pass() -> None:
            activity.sign()
            session.look_at_clocks()

        hearer.each_pass = each_pass
        return session

    def _sound_keeper(self, writer: Writer) -> Callable[[int, Record], None] | None:
        """Keeps the sound of utterances, if that is wanted; it is shown that it does."""
        if not isinstance(self.source, HeldSound):
            return None
        display, store = self.around.display, self.around.store
        display.show("notice", "The sound of what is said to the assistant is kept, encrypted.")
        folder, tell = store.sound_folder(writer.case), partial(display.show, "notice")
        return SoundKeeper(self.source, folder, public_keys(), tell).keep

    def make_ready(self, session: Session) -> None:
        """Nothing is called before it is heard: the phrases of the first call are worked out, the
        recogniser is there, and the microphone gives sound."""
        stopping = self.around.stopping
        if isinstance(self.hearer, SoundHearer):
            first, _ = step(session.case, session.state, Begin())
            self.hearer.make_ready(first, lambda: stopping.reason)
        if self.live is not None:
            self.live.room.begin(lambda: stopping.reason)
            self.live.asks_in(lambda: session.state)
            if self.around.how.microphones.check:
                show, speak = partial(self.around.display.show, "notice"), self.speaker.speak
                self.live.check_aloud(session.case, show, speak, lambda: stopping.reason)

    def _prepare_calls(self, case: Case) -> None:
        """Has the calls rendered in the background, as they will be spoken, and early among them
        what must be heard at once."""
        sentences, lexicon = case.bundle.sentences, case.bundle.lexicon
        calls = [case.call_text(one) for one in case.items.values()]
        texts = itertools.chain(calls[:1], sentences_to_prepare(case), calls[1:])
        self.mouth.prepare(spoken(sentences, lexicon, one) for one in texts)

    def _hearer(self, case: Case, activity: Activity) -> TypedHearer | SoundHearer:
        typed = TypedHearer(case, sys.stdin, partial(self.around.display.show, "notice"))
        if self.recogniser is None or self.source is None or self.model is None:
            activity.types(on_terminal=sys.stdin.isatty())
            return typed
        said = case.grammar.vocabulary() | case.room.words()
        known = vocabulary(self.model.path, among=said)
        recogniser, roles = self.recogniser, self.roles(case.bundle)

        def hearing(source: SoundSource) -> SoundHearer:
            return SoundHearer(case, recogniser, source, roles, known)

        if self.live is not None:
            self.live.room.roles = roles
            return self.live.hearer(self.source, typed, self.speaker.keys, activity, hearing)
        return hearing(WatchedSource(self.source, activity))


@contextlib.contextmanager
def _room(around: Around) -> Iterator[RunningRoom]:
    """Starts the native parts, each in its own process, and ends them."""
    how = around.how
    with contextlib.ExitStack() as stack:
        keys = stack.enter_context(Keys(watch=how.source != "typed"))
        model = recogniser = source = live = None
        if how.source != "typed":
            model = find_model()
            if how.source == "live":
                live = open_microphones(how.microphones, stack)
            source = live.room if live is not None else _source(how)
            if how.keep_audio:
                public_keys()
                source = HeldSound(source)
            recogniser = RecogniserProcess(wide_search_model(model), source.channels)
            stack.callback(recogniser.close)
        mouth = SpeechOutput(how.voice, play=how.aloud, out=how.voice_out, device=how.speaker)
        stack.callback(mouth.close)
        ear = live.ear if live is not None else NoEar()
        speaker = GatedMouth(mouth, keys, around.stopping, around.shows.activity, ear)
        yield RunningRoom(around, model, recogniser, source, mouth, speaker, live)


def _source(how: How) -> SoundSource:
    if how.practice:
        return PracticeTeam(load_script())
    if how.audio is None:
        raise UsageError("There is no sound: name a recording.")
    return Recording(how.audio, how.real_pace)
