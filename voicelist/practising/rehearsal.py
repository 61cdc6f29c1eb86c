"""A rehearsal: a case of practice with a partner in it, kept in the practice store alone."""

from __future__ import annotations

import contextlib
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

from rich.console import Console

from voicelist import __version__
from voicelist.activity import WatchedHearer, WatchedSource
from voicelist.answering_into import GatedEar
from voicelist.asr.model import ModelPlace, find_model
from voicelist.asr.recogniser_process import RecogniserProcess
from voicelist.asr.verifier import VERIFIER, verifier_folder
from voicelist.asr.vocabulary import vocabulary
from voicelist.asr.wide_beam import wide_search_model
from voicelist.audio.microphone import Microphone
from voicelist.authoring.wordings import Wordings
from voicelist.errors import UsageError
from voicelist.gated_speaker import Ear, GatedMouth, NoEar
from voicelist.keys import Keys
from voicelist.listening.gate import MicrophoneGate
from voicelist.listening.room_sound import LiveRoom
from voicelist.listening.sound import SoundHearer
from voicelist.listening.typed import TypedHearer
from voicelist.practice.better import Better, better_wordings
from voicelist.practice.partner import Part, PartnerLine, items_for_slips, items_of
from voicelist.practice.slips import planned_slips
from voicelist.practice.told import Happened, RehearsalTold, told_of
from voicelist.practising.invented_plan import rehearsal_bundle
from voicelist.practising.partner_room import (
    Partner,
    PartnerRoom,
    PartnerVoices,
    TypedPartner,
    partner_voices,
    played_on,
    roles_played,
    trial_voices,
)
from voicelist.practising.trials import tried_by_voices
from voicelist.record.clock_watch import ClockWatch
from voicelist.record.store import Store
from voicelist.record.times import local_offset_min
from voicelist.record.writer import Clocks, Writer
from voicelist.session.case import Case, compile_case
from voicelist.session.events import Begin
from voicelist.session.loop import Session
from voicelist.session.machine import step
from voicelist.session.record_base import Record
from voicelist.session.record_stopped import remedy
from voicelist.session.records import Opened
from voicelist.session.state import State, evolve
from voicelist.session.wording import spoken
from voicelist.shows import Shows, shown
from voicelist.speaking.playing import Loudspeaker
from voicelist.speaking.speaker import SpeechOutput
from voicelist.stopping import TERMINAL_GONE, StopRequests
from voicelist.typed_beside import TypedBeside

EVERYONE = "everyone"
_OPENING = "A rehearsal: nothing of it stands among real cases. {}Ctrl-C ends it early."
_YOU_TYPE = "Type what the others say; help lists it. "
_YOU_SPEAK = "Any key silences the assistant. "


@dataclass(frozen=True, slots=True)
class RehearsalWanted:
    """What is rehearsed and how. `play` names the partner's roles, or EVERYONE; `fast` leaves the
    loudspeaker out, where nobody else answers."""

    document: Path
    play: tuple[str, ...]
    slips: int = 0
    seed: int = 1
    typed: bool = False
    own_words: bool = True
    microphone: str | None = None
    voice: str | None = None
    partner_voices: tuple[str, ...] = ()
    speaker: str | None = None
    plain: bool = False
    fast: bool = False


@dataclass(frozen=True, slots=True)
class Rehearsed:
    """What came of it. `played` are the partner's roles, `names` all roles in words."""

    code: str
    case: Case
    told: RehearsalTold
    better: tuple[Better, ...]
    played: frozenset[str]
    names: dict[str, str]


def rehearse(wanted: RehearsalWanted, console: Console) -> Rehearsed:
    """Holds the rehearsal. Raises UsageError, DocumentError, MissingPart before it begins."""
    bundle = rehearsal_bundle(wanted.document)
    case = compile_case(bundle)
    names = role_names(case)
    part = _part(case, wanted, names)
    store = Store(None, practice=True)
    code = store.free_case_code(f"rehearsal-{bundle.checklist.id}")
    happened: list[Happened] = []
    with contextlib.ExitStack() as stack:
        stopping = stack.enter_context(StopRequests())
        gone = partial(stopping.ask, TERMINAL_GONE)
        shows = stack.enter_context(shown(console, gone, None, wanted.plain))
        stopping.refuse()
        room = _Room(case, part, wanted, shows, stopping, happened, names, stack)
        room.hold(stack.enter_context(contextlib.closing(store.open_case(code))))
    wordings = Wordings()
    wordings.take(store.entries(code))
    told = told_of(case, happened)
    better = better_wordings(case, told, wordings.proposals())
    if better and not wanted.typed and told.closed == "completed":
        better = tried_by_voices(case, better, trial_voices(wanted.partner_voices))
    return Rehearsed(code, case, told, better, part.roles, names)


def role_names(case: Case) -> dict[str, str]:
    """The roles of the list in words."""
    roles, sentences = case.bundle.checklist.roles, case.bundle.sentences
    return {
        role: roles.get(role) or sentences.text(f"role.{role}").lower()
        for role in case.bundle.checklist.role_names
    }


def _part(case: Case, wanted: RehearsalWanted, names: dict[str, str]) -> Part:
    everyone = EVERYONE in wanted.play
    roles = frozenset(names) if everyone else roles_played(names, wanted.play)
    if not roles:
        known = ", ".join((*names.values(), EVERYONE))
        raise UsageError(f"Nobody of this list is called {', '.join(wanted.play)}: choose {known}.")
    part = Part(roles, own_words=wanted.own_words, everyone=everyone or roles == frozenset(names))
    answered = items_of(case, part)
    if not answered and not part.everyone:
        told = ", ".join(names[one] for one in sorted(roles))
        raise UsageError(f"No item of this list is answered first by {told}: play another role.")
    return replace(
        part, slips=planned_slips(items_for_slips(case, part), wanted.slips, wanted.seed)
    )


class _Room:
    """Recogniser, voices and loudspeaker of a rehearsal, or typed lines in their place."""

    def __init__(
        self,
        case: Case,
        part: Part,
        wanted: RehearsalWanted,
        shows: Shows,
        stopping: StopRequests,
        happened: list[Happened],
        names: dict[str, str],
        stack: contextlib.ExitStack,
    ) -> None:
        """What is started here is ended by the `stack`."""
        self._case, self._wanted, self._shows, self._stopping = case, wanted, shows, stopping
        self._happened, self._names = happened, names
        self._partner = Partner(case, part, self._says)
        self._stack = stack
        self._began_s = time.monotonic()
        self._ear: Ear = NoEar()
        self._keys = self._stack.enter_context(Keys(watch=not wanted.typed))
        aloud = not (wanted.typed or wanted.fast)
        self._mouth = SpeechOutput(wanted.voice, play=aloud, out=None, device=wanted.speaker)
        self._stack.callback(self._mouth.close)
        self._model: ModelPlace | None = None
        self._live: LiveRoom | None = None
        self._hearer: SoundHearer | TypedPartner = (
            self._typed() if wanted.typed else self._by_sound(aloud)
        )

    def hold(self, writer: Writer) -> None:
        """The case from its first record to its end."""
        case, wanted, terminal = self._case, self._wanted, self._shows.terminal
        for note in self._mouth.notes:
            terminal.show("notice", note)
        how = _YOU_TYPE if wanted.typed else _YOU_SPEAK
        terminal.show("notice", _OPENING.format("" if self._partner.part.everyone else how))
        opened = Opened(
            "practice",
            __version__,
            case.bundle.to_json(),
            self._model_facts(),
            utc_offset_min=local_offset_min(),
        )
        self._shows.begin(case, (), ())
        keeper = _Keeper(writer, self._shows.kept, self._note)
        keeper.keep(opened)
        mouth = GatedMouth(self._mouth, self._keys, self._stopping, self._shows.activity, self._ear)
        watch = ClockWatch(Clocks())
        session = Session(
            case,
            evolve(State(), opened),
            keeper,
            mouth,
            WatchedHearer(self._hearer, self._shows.activity),
            terminal,
            self._stopping,
            watch,
            remedy(case, writer.case, resumable=False),
        )

        def each_pass() -> None:
            self._shows.activity.sign()
            session.look_at_clocks()

        self._hearer.each_pass = each_pass
        self._make_ready(session)
        self._began_s = time.monotonic()
        with watch.beating():
            session.run()

    def _make_ready(self, session: Session) -> None:
        stopping = self._stopping
        if isinstance(self._hearer, SoundHearer):
            first, _ = step(session.case, session.state, Begin())
            self._hearer.make_ready(first, lambda: stopping.reason)
        if self._live is not None:
            self._live.begin(lambda: stopping.reason)

    def _says(self, line: PartnerLine) -> None:
        self._happened.append(Happened(self._now_s(), line=line))
        self._shows.terminal.show("partner", f"{self._names[line.role]}: {line.text}")

    def _note(self, record: Record) -> None:
        self._happened.append(Happened(self._now_s(), record=record))

    def _now_s(self) -> float:
        """Of talk where there is sound, else by the running clock."""
        if self._wanted.typed:
            return time.monotonic() - self._began_s
        return self._mouth.seconds_spoken + self._hearer.heard_s

    def _typed(self) -> TypedPartner:
        lines = self._lines()
        self._shows.activity.types(on_terminal=sys.stdin.isatty())
        return TypedPartner(self._partner, lines)

    def _by_sound(self, aloud: bool) -> SoundHearer:
        wanted, bundle, part = self._wanted, self._case.bundle, self._partner.part
        roles = sorted(part.roles)
        choices = partner_voices(wanted.voice, wanted.partner_voices, len(roles))
        model = self._model = find_model()
        voices = PartnerVoices(choices, roles)
        self._stack.callback(voices.close)
        recogniser = RecogniserProcess(wide_search_model(model), 1)
        self._stack.callback(recogniser.close)
        beside = None if part.everyone else self._microphone()
        source = PartnerRoom(
            self._partner,
            voices,
            beside,
            played_on(self._loudspeaker(aloud), self._ear),
            partial(spoken, bundle.sentences, bundle.lexicon),
            self._lines(),
        )
        said = self._case.grammar.vocabulary() | self._case.room.words()
        known = vocabulary(model.path, among=said)
        watched = WatchedSource(source, self._shows.activity)
        hearer = SoundHearer(self._case, recogniser, watched, (), known)
        if isinstance(self._ear, GatedEar):
            self._ear.hearer = hearer
        if beside is not None and self._live is not None:
            self._live.meanwhile = lambda: beside.line(hearer.each_pass)
            hearer.microphones = self._live
        return hearer

    def _microphone(self) -> TypedBeside:
        """The room, and lines typed beside it while nothing is heard."""
        microphone = Microphone(self._wanted.microphone, 1)
        self._stack.callback(microphone.close)
        live = self._live = LiveRoom(microphone, MicrophoneGate(), 1)
        self._ear = GatedEar(live)
        return TypedBeside(live, self._shows.activity, self._lines(), self._keys)

    def _lines(self) -> TypedHearer:
        return TypedHearer(self._case, sys.stdin, partial(self._shows.terminal.show, "notice"))

    def _loudspeaker(self, aloud: bool) -> Loudspeaker | None:
        if not aloud:
            return None
        loudspeaker = Loudspeaker(self._wanted.speaker)
        self._stack.callback(loudspeaker.close)
        return loudspeaker

    def _model_facts(self) -> dict[str, str] | None:
        """What the journal says of the model that listened."""
        if self._model is None:
            return None
        witness = VERIFIER if verifier_folder() is not None else ""
        note = self._model.note or ""
        return {"fingerprint": self._model.fingerprint, "note": note, "witness": witness}


@dataclass(slots=True)
class _Keeper:
    """Records to the journal; when they are on disk, to who shows them and to what is told."""

    writer: Writer
    kept: Callable[[Record], None]
    note: Callable[[Record], None]

    def keep(self, record: Record) -> None:
        self.writer.append(record)
        self.kept(record)
        self.note(record)
