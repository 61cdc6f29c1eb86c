"""What the room is told when the keeper fails, whatever else is amiss; and other unhappy ends."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from pathlib import Path

import pytest

from tests.session.talk import WHOLE_CASE, shipped_case
from tests.session.test_loop import Kept, Mute, Screen, Team
from voicelist.documents.embedded import Bundle, thawed
from voicelist.documents.sentences import OWN_SENTENCES
from voicelist.errors import RecordError
from voicelist.record.verify import read_journal_file
from voicelist.session.case import Case, compile_case
from voicelist.session.events import Event
from voicelist.session.loop import Session
from voicelist.session.record_base import Record
from voicelist.session.record_stopped import tell_record_stopped
from voicelist.session.records import Closed, Heard, Said
from voicelist.session.state import State

JOURNALS = Path(__file__).parents[1] / "record" / "journals"
PAPER = "Please go on with the printed list."


@dataclass
class FailsAt(Kept):
    """Keeps so many records and refuses every later one."""

    count: int = 0
    refused: list[Record] = field(default_factory=list)

    def keep(self, record: Record) -> None:
        if len(self.records) == self.count:
            self.refused.append(record)
            raise RecordError("Not recorded: the disk is full.")
        super().keep(record)


@dataclass
class Loud(Mute):
    """Says everything, and counts its tones."""

    tones: int = 0

    def speak(self, text: str) -> tuple[float, str]:
        self.tried.append(text)
        return 1.0, ""

    def tone(self) -> None:
        self.tones += 1


def kept_by_a_whole_case() -> tuple[Record, ...]:
    kept = Kept()
    Session(shipped_case(), State(), kept, Loud(), Team(list(WHOLE_CASE)), Screen()).run()
    return tuple(kept.records)


EVERY = kept_by_a_whole_case()


@pytest.mark.parametrize("count", range(len(EVERY)))
def test_wherever_the_record_fails_the_last_word_says_so(count: int) -> None:
    keeper, speaker, screen = FailsAt(count=count), Loud(), Screen()
    session = Session(
        shipped_case(), State(), keeper, speaker, Team(list(WHOLE_CASE)), screen, remedy="Later."
    )
    with pytest.raises(RecordError, match="the disk is full"):
        session.run()
    assert keeper.records == list(EVERY[:count])
    assert len(keeper.refused) == 1, "nothing is tried again"
    assert speaker.tried[-1].startswith("The record stopped.")
    assert speaker.tried[-1].endswith(PAPER)
    assert screen.said_texts[-1] == speaker.tried[-1]
    assert screen.notices[-1] == "Later."
    spoken = sum(isinstance(one, Said) for one in EVERY[:count])
    # The sentence whose own record failed had been spoken before.
    assert len(speaker.tried) == spoken + 1 + isinstance(EVERY[count], Said)


def test_the_item_that_is_named_is_the_one_whose_answer_is_lost() -> None:
    case = shipped_case()
    for count, record in enumerate(EVERY):
        item = getattr(record, "item", "")
        if not item:
            continue
        keeper, speaker = FailsAt(count=count), Loud()
        session = Session(case, State(), keeper, speaker, Team(list(WHOLE_CASE)), Screen())
        with pytest.raises(RecordError):
            session.run()
        assert f"Not recorded: {case.items[item].name}." in speaker.tried[-1]


def test_what_was_heard_and_is_lost_names_the_item_that_was_asked() -> None:
    count = next(i for i, one in enumerate(EVERY) if isinstance(one, Heard))
    keeper, speaker = FailsAt(count=count), Loud()
    session = Session(shipped_case(), State(), keeper, speaker, Team(list(WHOLE_CASE)), Screen())
    with pytest.raises(RecordError):
        session.run()
    assert speaker.tried[-1] == f"The record stopped. Not recorded: irrigation line. {PAPER}"
    assert speaker.tones == 0


def older_case() -> Case:
    first = read_journal_file(JOURNALS / "0.1.0-stopped.jsonl")[0]
    return compile_case(Bundle.from_json(thawed(first.body["documents"])))


def test_documents_of_an_older_record_have_the_sentence_all_the_same() -> None:
    case, speaker, screen = older_case(), Loud(), Screen()
    assert "record-stopped" not in case.bundle.sentences.sentences
    item = next(iter(case.items))
    tell_record_stopped(case, speaker, screen, item, "")
    assert speaker.tried == [f"The record stopped. Not recorded: {case.items[item].name}. {PAPER}"]


def test_a_catalogue_that_cannot_say_it_does_not_keep_it_unsaid() -> None:
    case = shipped_case()
    spoiled = {**case.bundle.sentences.sentences, "record-stopped": "It stopped, {nobody}."}
    sentences = case.bundle.sentences.model_copy(update={"sentences": spoiled})
    broken = replace(case, bundle=replace(case.bundle, sentences=sentences))
    speaker = Loud()
    tell_record_stopped(broken, speaker, Screen(), "", "")
    assert speaker.tried == [f"The record stopped. {PAPER}"]


def test_our_own_sentences_are_those_of_the_shipped_catalogue() -> None:
    shipped = shipped_case().bundle.sentences.sentences
    assert {key: shipped[key] for key in OWN_SENTENCES} == dict(OWN_SENTENCES)


class Defective(Team):
    def next_event(self, state: State) -> Event:
        if not self.lines:
            raise ZeroDivisionError("a defect")
        return super().next_event(state)


def test_a_defect_closes_the_case_and_says_that_it_ended() -> None:
    kept, speaker = Kept(), Loud()
    session = Session(
        shipped_case(), State(), kept, speaker, Defective(list(WHOLE_CASE[:2])), Screen()
    )
    with pytest.raises(ZeroDivisionError):
        session.run()
    closed = next(one for one in kept.records if isinstance(one, Closed))
    assert closed.state == "stopped"
    assert "not expect" in closed.reason
    assert speaker.tried[-1] == "Ended unfinished. The record is kept."
