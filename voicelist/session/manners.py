"""What the team may say at any time, and how the assistant asks again."""

from __future__ import annotations

from voicelist.grammar.match import Match
from voicelist.session import asking_again, offers, short_answers, under_way
from voicelist.session import state as st
from voicelist.session.elsewhere import answered_elsewhere, comes_later
from voicelist.session.events import Voice
from voicelist.session.order import open_items
from voicelist.session.permitted import answers_written, help_lines
from voicelist.session.records import (
    Asked,
    AskedAgain,
    CarriedOn,
    Held,
    Prompted,
    ReadBack,
    SectionOpened,
    Settled,
    Undone,
    Waiting,
)
from voicelist.session.sections import goes_on_again
from voicelist.session.turn import Turn
from voicelist.session.wording import listed
from voicelist.understanding.interpretation import Denied, NotForUs, NotUnderstood

ASKED_AGAIN_AT_MOST = 2
# When nobody answers: seconds since the last word, then silence (design, section 8).
PROMPTS_S = (8.0, 20.0, 60.0)


def ask_again(turn: Turn, heard: NotUnderstood) -> None:
    """Not understood: asked again at most twice, shorter and then by example; after that the item
    waits on the display."""
    item_id = _asked_item(turn)
    if not item_id or turn.state.held or asking_again.is_ignored(turn, heard):
        return
    whole = asking_again.with_part(turn, item_id, heard)
    if whole is not None:
        short_answers.read_back(turn, whole)
        return
    standing = turn.standing(item_id)
    if standing.waiting:
        return
    if standing.times_asked_again >= ASKED_AGAIN_AT_MOST:
        turn.keep(Waiting(item_id, heard.why))
        leave_to_display(turn, item_id)
        return
    part = asking_again.part(turn, item_id, heard)
    elsewhere = answered_elsewhere(turn.case, turn.state, heard.words)
    offer = "" if elsewhere or part else offers.offer(turn, item_id, heard)
    text = _question_again(turn, item_id, heard, offer, several=len(elsewhere) > 1)
    turn.keep(AskedAgain(item_id, standing.times_asked_again + 1, heard.why, text, part))
    _tell_later(turn, elsewhere)
    turn.speak(text, back=bool(offer))


def offer_report(turn: Turn, heard: Denied) -> None:
    """Something is not so, or may be amiss: reported only if that is meant."""
    item_id = heard.rule.rpartition(".")[0]
    words = " ".join(heard.words)
    named = heard.in_other_words and _knows(turn, "report-thing")
    text = (
        turn.case.text("report-thing", name=turn.item(item_id).name)
        if named
        else turn.case.text("report-denial", words=words)
    )
    again = turn.item(item_id).again
    turn.read_back(ReadBack(item_id, "negation", again or text, (), {"words": words}))
    if again:
        turn.show("read-back", text)


def leave_to_display(turn: Turn, item_id: str) -> None:
    """The item waits on the display, with what may be said to it."""
    turn.show("waiting", turn.item(item_id).call)
    turn.show("permitted", answers_written(turn.case, item_id))


def not_for_us(turn: Turn, heard: NotForUs) -> None:
    """Talk is left alone; of an answer to an item that comes later the display says so."""
    elsewhere = () if turn.state.held else answered_elsewhere(turn.case, turn.state, heard.words)
    later = [one for one in elsewhere if comes_later(turn.case, turn.state, one)]
    turn.show("ignored", ", ".join(turn.item(one).name for one in later))


def _tell_later(turn: Turn, elsewhere: tuple[str, ...]) -> None:
    """One item was answered that comes later: its name is said."""
    if len(elsewhere) != 1 or turn.state.pending is not None or not _knows(turn, "comes-later"):
        return
    if comes_later(turn.case, turn.state, elsewhere[0]):
        turn.say("comes-later", name=turn.item(elsewhere[0]).name)


def _knows(turn: Turn, key: str) -> bool:
    """Whether the catalogue has a sentence; that of an older record may not."""
    return key in turn.case.bundle.sentences.sentences


def _asked_item(turn: Turn) -> str:
    return turn.state.asked


def _question_again(
    turn: Turn, item_id: str, heard: NotUnderstood, offer: str, *, several: bool
) -> str:
    if offer:
        return turn.case.text("did-you-mean", offer=offer)
    if several and turn.state.pending is None and _knows(turn, "one-at-a-time"):
        return turn.case.text("one-at-a-time", call=turn.item(item_id).call)
    return asking_again.question(turn, item_id, heard)


def prompt(turn: Turn, seconds: float, *, spoken_into: bool = False) -> None:
    """Nobody answered: call again, name the item, leave it to the display; then nothing more. A
    call that was broken off is called again sooner."""
    item_id = _asked_item(turn)
    due = prompt_due_s(turn.state)
    if not item_id or due is None or (seconds < due and not spoken_into):
        return
    item, case = turn.item(item_id), turn.case
    pending = turn.state.pending
    texts = (
        pending.text if pending is not None else item.call,
        case.text("prompt-open", name=item.name),
        case.text("prompt-waiting", name=item.name),
    )
    text = texts[turn.state.prompts]
    turn.keep(Prompted(item_id, seconds, text))
    turn.speak(text)
    if turn.state.prompts == len(PROMPTS_S):
        turn.keep(Waiting(item_id, "nobody answered"))
        leave_to_display(turn, item_id)


def prompt_due_s(state: st.State) -> float | None:
    """Seconds of silence after which the next prompt is due, or None."""
    item_id = state.asked
    if state.held or state.closed or state.prompts >= len(PROMPTS_S):
        return None
    if not item_id or state.item(item_id).waiting:
        return None
    return PROMPTS_S[state.prompts]


def say_again(turn: Turn, match: Match, voice: Voice) -> None:
    _reply(turn, match, turn.state.last_text)


def where_are_we(turn: Turn, match: Match, voice: Voice) -> None:
    quiet = under_way.where(turn)
    if quiet:
        _reply(turn, match, quiet)
        return
    item_id = _asked_item(turn)
    name = turn.item(item_id).name if item_id else "-"
    section = turn.case.section(turn.state.section).name
    count = len(open_items(turn.case, turn.state))
    _reply(turn, match, turn.case.text("here-we-are", section=section, name=name, count=count))


def what_is_open(turn: Turn, match: Match, voice: Voice) -> None:
    names = [turn.item(one).name for one in open_items(turn.case, turn.state)]
    case = turn.case
    text = (
        case.text("still-open", names=listed(case, names)) if names else case.text("nothing-open")
    )
    _reply(turn, match, under_way.what_is_open(turn) or text)


def why_asked(turn: Turn, match: Match, voice: Voice) -> None:
    item_id = _asked_item(turn)
    other = under_way.why(turn) or turn.case.text("nothing-open")
    _reply(turn, match, turn.item(item_id).why if item_id else other)


def what_may_be_said(turn: Turn, match: Match, voice: Voice) -> None:
    """All that may be said now, on the display: there is too much of it to be read out."""
    for line in help_lines(turn.case, turn.state):
        turn.show("notice", line)
    _reply(turn, match, turn.case.text("help-shown"))


def _reply(turn: Turn, match: Match, text: str) -> None:
    turn.keep(Asked(match.rule, ""))
    turn.speak(text)


def undo(turn: Turn, match: Match, voice: Voice) -> None:
    """What was said last is taken back: the details of the item that is asked, which are no answer
    yet, or the last answer; its item, and its section if closed, is open again."""
    asked = _asked_item(turn)
    if asked and turn.item(asked).details and _has_details(turn, asked):
        take_back(turn, asked)
        return
    if not turn.state.answered:
        turn.say("nothing-to-take-back")
        return
    take_back(turn, turn.state.answered[-1])


def _has_details(turn: Turn, item_id: str) -> bool:
    return bool(turn.standing(item_id).values) and not turn.standing(item_id).answer


def take_back(turn: Turn, item_id: str) -> None:
    """The item, and its section if that was closed, is open again; and it is said."""
    section = turn.case.section_of[item_id]
    again = goes_on_again(turn.state, section)
    if again is not None:
        turn.keep(again)
    turn.keep(Undone(item_id, turn.standing(item_id).answer))
    turn.say("taken-back", name=turn.item(item_id).name)
    if section.id in turn.state.closed_sections:
        turn.keep(SectionOpened(section.id))
        turn.say("section-open-again", section=section.name)


def defer(turn: Turn, match: Match, voice: Voice) -> None:
    """Later, if the item may wait; a stop item may not."""
    item_id = _asked_item(turn)
    if not item_id:
        return
    if turn.item(item_id).stop:
        turn.say("cannot-wait")
        turn.speak(turn.item(item_id).call)
        return
    turn.answer(item_id, st.DEFERRED, match.text, voice)
    turn.say("deferred")


def not_applicable(turn: Turn, match: Match, voice: Voice) -> None:
    """Only where the item lists it; where it wants a reason, and on a stop item, only with one."""
    item_id = _asked_item(turn)
    if not item_id:
        return
    item = turn.item(item_id)
    if item.does_not_apply is not None:
        turn.say("say-the-reason")
        turn.show("permitted", answers_written(turn.case, item_id))
        return
    if item.stop or not item.not_applicable:
        turn.say("has-to-be-answered")
        turn.speak(item.call)
        return
    turn.answer(item_id, st.NOT_APPLICABLE, match.text, voice)
    turn.tone()


def hold_on(turn: Turn, match: Match, voice: Voice) -> None:
    turn.keep(Held("hold_on"))
    turn.say("on-hold")


def silence(turn: Turn, match: Match, voice: Voice) -> None:
    """The emergency phrase: nothing more is said until the team carries on."""
    turn.keep(Held("silence"))
    turn.show("waiting", turn.case.text("on-hold"))


def carry_on(turn: Turn, match: Match, voice: Voice) -> None:
    """Talk goes on where it was: the read-back that waits, or the item."""
    turn.keep(CarriedOn())
    repeat_question(turn)


def repeat_question(turn: Turn) -> None:
    """Say again what waits for a word."""
    if turn.state.pending is not None:
        turn.speak(turn.state.pending.text)
    elif turn.state.current:
        turn.call(turn.state.current)


def ask_shorter(turn: Turn, item_id: str) -> None:
    """What was read back was not so: its item is asked again without the thing, another in full."""
    if item_id and item_id == turn.state.current:
        item = turn.item(item_id)
        turn.call(item_id, asking_again.shorter(turn.case.bundle.sentences, item))
    else:
        repeat_question(turn)


def abandon(turn: Turn, match: Match, voice: Voice) -> None:
    """Asks whether the case is to end; the reason was said with the phrase."""
    reason = match.first("abandon_reason")
    values = {"reason": reason.text if reason else ""}
    text = turn.case.text("end-unfinished")
    turn.read_back(ReadBack("", "abandon", text, (), values))


def settle(turn: Turn) -> None:
    """Drop the read-back that waits."""
    pending = turn.state.pending
    if pending is not None:
        turn.keep(Settled(pending.item, pending.about))
