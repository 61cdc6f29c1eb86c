"""A scripted team with a seed: it slips, chats, falls silent, interrupts, corrects itself, changes
its mind, and in the end says what has to be said.

Each line goes with what it may pass at most. That is decided here, from the line's own purpose and
never from what the machine made of it.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field

from tests.team.chatter import chatter
from tests.team.invariants import check_end, check_step, something_waits
from tests.team.right import answer_to, right_line, says_what_is_planned
from tests.team.room import Room, case_of
from voicelist.session.events import Event, Silence, Stop
from voicelist.session.state import NOT_APPLICABLE, SAID_DONE, STATED, VALUE, State

PLANS = ("practice-007", "practice-101", "practice-102", "practice-103", "practice-201")
PASSED = (SAID_DONE, VALUE, STATED, NOT_APPLICABLE)
TURNS_AT_MOST = 3000
_COMMANDS = (
    "say that again",
    "where are we now",
    "what is still open",
    "tell me why please",
    "nurse handing over",
    "please speak more slowly",
    "voice list louder",
)
_REASONS = ("a change of plan", "the patient's wishes", "a medical reason", "equipment trouble")
_SOURCES = ("the consent form", "the clinic note", "the new printout", "the referral letter")


@dataclass(slots=True)
class Simulation:
    """One case of the team. `turns` counts what was done, by kind."""

    seed: int
    plan: str = ""
    chance: random.Random = field(init=False)
    room: Room = field(init=False)
    turns: Counter[str] = field(default_factory=Counter)
    ends_as: str = "completed"

    def __post_init__(self) -> None:
        self.chance = random.Random(self.seed)
        self.plan = self.plan or self.chance.choice(PLANS)
        self.room = Room(case_of(self.plan))

    def run(self) -> Room:
        """Holds the case to its end; everything is checked on the way. Raises AssertionError."""
        giving_up = self.chance.random() < 0.06
        stopping = not giving_up and self.chance.random() < 0.03
        end_at = self.chance.randint(3, 60) if giving_up or stopping else TURNS_AT_MOST
        for turn in range(TURNS_AT_MOST):
            if self.room.state.closed:
                break
            if turn >= end_at and stopping:
                self.ends_as = "stopped"
                self._event(Stop("the end of the shift"), set())
            elif turn >= end_at:
                self.ends_as = "abandoned"
                self._give_up()
            else:
                self._turn()
            assert something_waits(self.room.state), "a dead end"
        assert self.room.state.closed == self.ends_as, (self.seed, self.plan, self.room.state)
        check_end(self.room.case, self.room.records, self.room.state)
        return self.room

    def _turn(self) -> None:
        kinds: tuple[tuple[float, str, Callable[[], None]], ...] = (
            (0.58, "right", self._right),
            (0.10, "chatter", self._chatter),
            (0.05, "silence", self._silence),
            (0.06, "slip", self._slip),
            (0.04, "denial", self._denial),
            (0.04, "report", self._report),
            (0.03, "later", self._later),
            (0.03, "command", self._command),
            (0.02, "hold", self._hold),
            (0.02, "undo", self._undo),
            (0.02, "correction", self._correction),
            (0.03, "breath", self._breath),
            (0.03, "detail", self._detail),
            (0.01, "change", self._change),
            (0.02, "course", self._course),
        )
        weights = [weight for weight, _, _ in kinds]
        _, name, act = self.chance.choices(kinds, weights)[0]
        self.turns[name] += 1
        act()

    def _asked(self) -> str:
        pending = self.room.state.pending
        return (pending.item if pending is not None else "") or self.room.state.current

    def _say(self, line: str, may_pass: set[str]) -> None:
        before, count = self.room.state, len(self.room.records)
        self.room.says(line)
        self._look(before, count, line, may_pass)

    def _event(self, event: Event, may_pass: set[str]) -> None:
        before, count = self.room.state, len(self.room.records)
        self.room.take(event)
        self._look(before, count, str(event), may_pass)

    def _look(self, before: State, count: int, line: str, may_pass: set[str]) -> None:
        after = self.room.state
        check_step(self.room.case, before, self.room.records[count:], after)
        newly = {
            item
            for item, standing in after.items.items()
            if standing.answer in PASSED and before.item(item).answer != standing.answer
        }
        assert newly <= may_pass, (self.seed, self.plan, line, newly)

    def _right(self) -> None:
        self._say(right_line(self.room.case, self.room.state), {self._asked()})

    def _chatter(self) -> None:
        for _ in range(self.chance.randint(1, 4)):
            self._say(chatter(self.chance), set())

    def _silence(self) -> None:
        for seconds in (8.0, 20.0, 60.0, 300.0)[: self.chance.randint(1, 4)]:
            self._event(Silence(seconds), set())

    def _slip(self) -> None:
        """The right words, mangled: one left out, one twice, another's answer, a question."""
        words = right_line(self.room.case, self.room.state).split()
        if self.room.state.held or len(words) < 3 or self._may_be_mangled():
            return
        at = self.chance.randrange(len(words))
        mangled = self.chance.choice(
            (
                ["is", *words],
                [*words, "later"],
                [*words, "i", "think"],
                [*words[:at], "um", "not", *words[at:]],
                ["almost", *words],
            )
        )
        self._say(" ".join(mangled), set())

    def _may_be_mangled(self) -> bool:
        """A change of plan that waits, and commands, are left alone."""
        pending = self.room.state.pending
        return pending is not None and pending.about in ("plan", "abandon", "negation")

    def _denial(self) -> None:
        item_id = self._asked()
        if not item_id or self.room.state.held or self.room.state.pending is not None:
            return
        item = self.room.case.items[item_id]
        if item.done is None:
            return
        words = self.room.case.grammar.examples(f"{item_id}.done")[0].split()
        self._say(" ".join((*words[:-1], "isn't", words[-1])), set())
        pending = self.room.state.pending
        if pending is not None and pending.about == "negation":
            answer = self.chance.choice(("yes report it", "no leave it open"))
            self._say(answer, set())

    def _report(self) -> None:
        item_id = self._asked()
        if item_id and f"{item_id}.fault" in self.room.case.grammar.names:
            self._say(
                self.chance.choice(self.room.case.grammar.examples(f"{item_id}.fault")), set()
            )
        elif item_id and self.room.case.items[item_id].compare is not None:
            self._other_value(item_id)

    def _other_value(self, item_id: str) -> None:
        """Some value of the item's, mostly not the planned one: then it never passes by being
        said."""
        case = self.room.case.with_plan(self.room.state.plan)
        line = self.chance.choice(case.grammar.examples(f"{item_id}.value"))
        fits = says_what_is_planned(case, case.items[item_id], line)
        self._say(line, {item_id} if fits else set())

    def _detail(self) -> None:
        """A detail of the item that is asked, of whatever value: it passes nothing."""
        item_id = self._asked()
        if item_id and f"{item_id}.details" in self.room.case.grammar.names:
            lines = self.room.case.grammar.examples(f"{item_id}.details")
            self._say(self.chance.choice(lines), set())

    def _later(self) -> None:
        may_pass = set()
        line = "come back to this later"
        if self.chance.random() < 0.4:
            line = "this does not apply"
            item_id = self._asked()
            if item_id and self.room.case.items[item_id].not_applicable:
                may_pass = {item_id}
        self._say(line, may_pass)

    def _breath(self) -> None:
        """Two ordinary items of one section in one breath; a stop item among them stops both."""
        asked = self._asked()
        if not asked or self.room.state.pending is not None or self.room.state.held:
            return
        section = self.room.case.section_of[asked]
        items = [one for one in section.items if one.done is not None and not one.each_role]
        if len(items) < 2:
            return
        both = self.chance.sample(items, 2)
        texts = [self.room.case.grammar.examples(f"{one.id}.done")[0] for one in both]
        stops = any(one.stop for one in both)
        self._say(" and ".join(texts), set() if stops else {one.id for one in both})

    def _command(self) -> None:
        self._say(self.chance.choice(_COMMANDS), set())

    def _hold(self) -> None:
        self._say(self.chance.choice(("hold on please", "this is an emergency")), set())
        for _ in range(self.chance.randint(0, 3)):
            self._say(chatter(self.chance), set())
        item_id = self.room.state.current
        if item_id:
            case = self.room.case.with_plan(self.room.state.plan)
            self._say(answer_to(case, self.room.state, item_id), set())
        self._say("carry on please", set())

    def _undo(self) -> None:
        self._say("undo the last answer", set())

    def _correction(self) -> None:
        if self.room.state.answered:
            item_id = self.chance.choice(self.room.state.answered)
            self._say(f"correction for {self.room.case.items[item_id].name}", set())

    def _change(self) -> None:
        """A change of plan that is agreed to, or equipment that was changed."""
        if self.chance.random() < 0.3:
            self._say("equipment was changed now", set())
            return
        eye = "left" if self.chance.random() < 0.5 else "right"
        source = self.chance.choice(_SOURCES)
        self._say(f"change of plan eye {eye} from {source}", set())
        agrees = self.chance.random() < 0.6
        lines = ("surgeon agrees to the change", "nurse agrees to the change")
        for line in lines if agrees else ("no keep the plan",):
            self._say(line, set())

    def _course(self) -> None:
        """A milestone told late, sign out asked for too early, a short list: it passes nothing."""
        lines = (
            "incision was at eight forty",
            "lens implanted five minutes ago",
            "incision is made",
            "ready for sign out",
            "start sign out please",
            "no not yet please",
            "counts complete",
            "capsule rupture list please",
            "machine error list please",
            "leave this list please",
        )
        asked = self._asked()
        may_pass = {"counts"} if asked == "counts" else set()
        self._say(self.chance.choice(lines), may_pass)

    def _give_up(self) -> None:
        if self.room.state.held:
            self._say("carry on please", set())
        verb = self.chance.choice(("abandon", "cancel"))
        self._say(f"{verb} this case because of {self.chance.choice(_REASONS)}", set())
        self._say("yes abandon this case", set())
