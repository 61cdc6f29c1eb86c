"""The machine under random events, by rules; `tests/soak/machine_events.py` goes on for long."""

from __future__ import annotations

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule

from tests.team.chatter import chatter
from tests.team.invariants import check_end, check_step, something_waits
from tests.team.right import right_line
from tests.team.room import Room, case_of
from tests.team.simulated import PLANS
from voicelist.session.events import Begin, Equipment, Event, Silence, Stop
from voicelist.session.state import State

ROLES = st.sampled_from(
    ("", "", "", "circulating-nurse", "surgeon", "scrub-nurse", "anaesthesia", "team-lead")
)


class Conversation(RuleBasedStateMachine):
    """Anything that a grammar permits, anything near it, in any order."""

    room: Room

    @initialize(plan=st.sampled_from(PLANS))
    def begin(self, plan: str) -> None:
        self.room = Room(case_of(plan))

    def _watched(self, count: int, before: State) -> None:
        check_step(self.room.case, before, self.room.records[count:], self.room.state)

    def _say(self, line: str, role: str = "") -> None:
        before, count = self.room.state, len(self.room.records)
        self.room.says(line, role=role)
        self._watched(count, before)

    def _event(self, event: Event) -> None:
        before, count = self.room.state, len(self.room.records)
        self.room.take(event)
        self._watched(count, before)

    @rule()
    def says_what_is_right(self) -> None:
        if not self.room.state.closed:
            self._say(right_line(self.room.case, self.room.state))

    @rule(times=st.integers(2, 12))
    def goes_on_for_a_while(self, times: int) -> None:
        for _ in range(times):
            self.says_what_is_right()

    @rule(at=st.integers(0, 10_000), which=st.integers(0, 10_000), role=ROLES)
    def says_something_permitted_somewhere(self, at: int, which: int, role: str) -> None:
        names = sorted(self.room.case.grammar.names)
        texts = self.room.case.grammar.examples(names[at % len(names)])
        self._say(texts[which % len(texts)], role)

    @rule(at=st.integers(0, 10_000), word=st.sampled_from(("not", "isn't", "later", "is", "um")))
    def says_it_with_a_word_more(self, at: int, word: str) -> None:
        words = right_line(self.room.case, self.room.state).split()
        place = at % (len(words) + 1)
        self._say(" ".join((*words[:place], word, *words[place:])))

    @rule(chance=st.randoms(use_true_random=False))
    def chats(self, chance: object) -> None:
        self._say(chatter(chance))  # type: ignore[arg-type]  # hypothesis hands out a Random

    @rule(seconds=st.sampled_from((8.0, 20.0, 60.0, 600.0)))
    def falls_silent(self, seconds: float) -> None:
        self._event(Silence(seconds))

    @rule(event=st.sampled_from((Begin(), Equipment("hearing", "was lost", "cannot-hear"))))
    def something_happens(self, event: Event) -> None:
        self._event(event)

    @rule(wanted=st.integers(0, 40))
    def is_stopped_now_and_then(self, wanted: int) -> None:
        if wanted == 7:
            self._event(Stop("interrupted"))

    @invariant()
    def the_records_tell_it_all(self) -> None:
        check_end(self.room.case, self.room.records, self.room.state)

    @invariant()
    def there_is_a_way_on(self) -> None:
        assert something_waits(self.room.state)


TestConversation = Conversation.TestCase
TestConversation.settings = settings(
    max_examples=40,
    stateful_step_count=50,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
)
