"""The state machine: `step(case, state, event) -> (state, effects)`. No clock, no I/O.

It decides; what it decides becomes records; `state.evolve` folds them. Replaying a journal
therefore needs no decision to be taken again.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

from voicelist.grammar.match import Match
from voicelist.session import (
    conversation,
    details,
    grades,
    manners,
    planning,
    profile,
    roles_present,
    short_answers,
    statements,
    under_way,
    values,
)
from voicelist.session import state as st
from voicelist.session.accepted_said import UNNAMED
from voicelist.session.case import CORRECT, Case, is_harmless
from voicelist.session.effects import Effect, Finish
from voicelist.session.events import (
    Begin,
    Equipment,
    Event,
    Overheard,
    Silence,
    Stop,
    Utterance,
    Voice,
)
from voicelist.session.flow_phrases import BEGIN, MILESTONE
from voicelist.session.flow_records import SectionAsked
from voicelist.session.heard import FREE_SPEECH, heard
from voicelist.session.order import active_phrases, next_item, said_together
from voicelist.session.records import Closed, Noticed, ReadBack
from voicelist.session.sections import next_waiting
from voicelist.session.state import State
from voicelist.session.team_records import SecondEye
from voicelist.session.turn import Turn
from voicelist.understanding.context import Context
from voicelist.understanding.interpretation import (
    Denied,
    NotForUs,
    NotUnderstood,
    Unconfirmed,
    Understanding,
    Understood,
)

Handler = Callable[[Turn, Match, Voice], None]

# After these the next item is called; the others leave the question as it stands.
_ANYTIME: Mapping[str, Handler] = {
    "say_again": manners.say_again,
    "where_are_we": manners.where_are_we,
    "what_is_open": manners.what_is_open,
    "why_asked": manners.why_asked,
    "undo": manners.undo,
    "defer": manners.defer,
    "not_applicable": manners.not_applicable,
    "hold_on": manners.hold_on,
    "silence": manners.silence,
    "carry_on": manners.carry_on,
    "abandon": manners.abandon,
    "cancel": manners.abandon,
    "hand_over": conversation.hand_over,
    "change_of_plan": planning.ask_change,
    "change_plan": planning.change_plan,
    "equipment_changed": conversation.equipment_changed,
    "slower": conversation.slower,
    "faster": conversation.faster,
    "louder": conversation.louder,
    "softer": conversation.softer,
    "leave_list": under_way.leave_list,
    "role_away": roles_present.ask_away,
    "role_here": roles_present.here,
    "what_may_be_said": manners.what_may_be_said,
}


def context_of(case: Case, state: State) -> Context:
    """What may be said now, for `understand`."""
    together = said_together(case, state)
    active = active_phrases(case, state)
    harmless = frozenset(filter(is_harmless, active))
    return Context(case.grammar, active, case.room, together, harmless)


def step(case: Case, state: State, event: Event) -> tuple[State, tuple[Effect, ...]]:
    """The state after an event, and what is to be done, in order."""
    turn = Turn(case, state)
    if not state.closed:
        _dispatch(turn, event)
    return turn.state, tuple(turn.effects)


def _dispatch(turn: Turn, event: Event) -> None:
    match event:
        case Begin():
            _begin(turn)
        case Utterance():
            turn.keep(heard(turn, event.understanding, event.voice))
            _take(turn, event.understanding, event.voice)
        case Overheard():
            told = heard(turn, event.understanding, event.voice)
            turn.keep(replace(told, status="not-taken", rule="", why=event.why, offers=()))
        case Silence():
            manners.prompt(turn, event.seconds, spoken_into=event.spoken_into)
        case Equipment():
            _notice(turn, event)
        case Stop():
            _close(turn, "stopped", event.reason, "")


def _notice(turn: Turn, event: Equipment) -> None:
    turn.keep(Noticed(event.part, event.what))
    turn.show("notice", event.what)
    if event.key and not turn.state.held:
        role = {"role": turn.case.text(f"role.{event.role}")} if event.role else {}
        turn.say(event.key, **role)


def _begin(turn: Turn) -> None:
    if turn.state.held:
        turn.show("waiting", turn.case.text("on-hold"))
    elif turn.state.pending is not None or turn.state.current:
        manners.repeat_question(turn)
    elif turn.state.under_way:
        turn.speak(under_way.where(turn))
    else:
        first_case = turn.case.bundle.plan.second_eye_of
        if first_case and not turn.state.section:
            turn.keep(SecondEye(first_case))
            turn.say("second-eye")
        first = turn.case.first_section
        if first and not turn.state.section and turn.case.section(first).goes_back:
            turn.keep(SectionAsked(first, "", goes_back=True))
        _advance(turn)


def _take(turn: Turn, understanding: Understanding, voice: Voice) -> None:
    match understanding:
        case Understood(more=more) if more:
            _answers_in_one_breath(turn, understanding.matches, voice)
        case Understood():
            name, _, kind = understanding.match.rule.rpartition(".")
            if name == "command":
                _command(turn, kind, understanding.match, voice)
            else:
                _answer(turn, name, kind, understanding.match, voice)
        case Unconfirmed():
            short_answers.read_back(turn, understanding)
        case Denied():
            manners.offer_report(turn, understanding)
        case NotUnderstood() if statements.is_free_text(turn):
            manners.ask_again(turn, NotUnderstood((), FREE_SPEECH))
        case NotUnderstood():
            manners.ask_again(turn, understanding)
        case NotForUs():
            manners.not_for_us(turn, understanding)


def _answers_in_one_breath(turn: Turn, matches: tuple[Match, ...], voice: Voice) -> None:
    """Each is taken with the tone alone; then the next item is called."""
    for match in matches:
        item_id = match.rule.rpartition(".")[0]
        roles = turn.item(item_id).answered_by
        if not statements.may_speak_for(voice, roles):
            statements.ask_one_of(turn, roles)
            continue
        if details.holds(turn, item_id):
            return
        _say_done(turn, item_id, match, statements.as_one_of(voice, roles))
    _advance(turn)


def _say_done(turn: Turn, item_id: str, match: Match, voice: Voice) -> None:
    said = details.noted(turn, item_id)
    turn.answer(item_id, st.SAID_DONE, match.text, voice, values=said)
    turn.tone()


def _answer(turn: Turn, item_id: str, kind: str, match: Match, voice: Voice) -> None:
    item = turn.item(item_id)
    if not statements.may_speak_for(voice, item.answered_by):
        statements.ask_one_of(turn, item.answered_by)
        return
    if kind == "done" and details.holds(turn, item_id):
        return
    if kind == "done" and item.each_role:
        statements.take_role_answer(turn, item_id, match, voice)
        _advance_if_answered(turn, item_id)
        return
    voice = statements.as_one_of(voice, item.answered_by)
    if kind == "done":
        _say_done(turn, item_id, match, voice)
        _advance(turn)
    elif kind == "details":
        details.take_details(turn, item_id, match, voice)
    elif kind == "stated":
        statements.take_stated(turn, item_id, match, voice)
        _advance_if_answered(turn, item_id)
    elif kind == "choice":
        statements.take_choice(turn, item_id, match, voice)
    elif kind == "does_not_apply":
        statements.take_reason(turn, item_id, match)
    elif kind == "fault":
        if turn.standing(item_id).answer in st.SETTLED:
            manners.take_back(turn, item_id)
        _report(turn, item_id, match.text, voice)
    elif item.compare == "profile":
        profile.take_settings(turn, item_id, match, voice)
    else:
        values.take_value(turn, item_id, match, voice)
        _advance_if_answered(turn, item_id)


def _report(turn: Turn, item_id: str, words: str, voice: Voice) -> None:
    turn.answer(item_id, st.SAID_FAULT, words, voice)
    item = turn.item(item_id)
    told = turn.case.text("reported-open" if item.stop else "reported")
    if item.again:
        turn.speak(item.again)
        turn.show("read-back", f"{item.name}: {words}. {told}")
    else:
        turn.speak(told)
    _advance(turn)


def _advance_if_answered(turn: Turn, item_id: str) -> None:
    if turn.standing(item_id).answer:
        turn.tone()
        _advance(turn)


def _command(turn: Turn, name: str, match: Match, voice: Voice) -> None:
    """What was said at any time, or to the read-back that waits; then there is a question again."""
    if name.startswith(CORRECT):
        conversation.correct(turn, name.removeprefix(CORRECT))
    elif name.startswith(BEGIN):
        under_way.begin(turn, name.removeprefix(BEGIN), match, voice)
    elif name.startswith(MILESTONE):
        under_way.tell(turn, name.removeprefix(MILESTONE), match, voice)
    elif name in _ANYTIME:
        _ANYTIME[name](turn, match, voice)
    elif turn.state.pending is not None:
        _settle_read_back(turn, name, match, voice, turn.state.pending)
    state = turn.state
    if not (state.pending is not None or state.current or state.held or state.closed):
        _advance(turn)


def _settle_read_back(turn: Turn, name: str, match: Match, voice: Voice, pending: ReadBack) -> None:
    """A word that answers the read-back that waits. Those of the surgeon need the surgeon."""
    if name in ("confirm_profile", "accept") and not _by_surgeon(turn, match, voice):
        return
    speaker = _as_surgeon(voice) if name in ("confirm_profile", "accept") else voice
    match name:
        case "report_it":
            _report(turn, pending.item, str(pending.values["words"]), voice)
        case "do_not_report" | "go_on_with_case":
            manners.settle(turn)
            manners.ask_shorter(turn, pending.item)
        case "correct":
            _correct(turn, match, voice, pending)
        case "confirm_profile":
            profile.confirm_profile(turn, match.text, speaker)
            _advance_if_answered(turn, pending.item)
        case "accept":
            _accept(turn, match, speaker, pending)
        case "agree_to_change":
            planning.agree(turn, match, voice)
        case "keep_plan":
            planning.keep_plan(turn)
        case "begin_now":
            under_way.begin_now(turn, pending.values)
        case "not_yet":
            under_way.not_yet(turn, pending)
        case "abandon_now":
            _close(turn, "abandoned", str(pending.values["reason"]), voice.role)


def _correct(turn: Turn, match: Match, voice: Voice, pending: ReadBack) -> None:
    """What was read back is so."""
    if pending.about == short_answers.SHORT_ANSWER:
        agreed = short_answers.agreed_to(turn, pending)
        manners.settle(turn)
        if agreed is not None:
            _answer(turn, pending.item, agreed.rule.rpartition(".")[2], agreed, voice)
        return
    values.take_correct(turn, match.text, voice)
    statements.take_choice_correct(turn, match.text, voice)
    roles_present.take_correct(turn, voice)
    _advance_if_answered(turn, pending.item)


def _by_surgeon(turn: Turn, match: Match, voice: Voice) -> bool:
    """Whether it may have been the surgeon: by the microphone, or as the phrase itself says."""
    if voice.role == "surgeon" or (not voice.role and match.first(UNNAMED) is None):
        return True
    turn.say("role-please", role=turn.case.text("role.surgeon"))
    return False


def _as_surgeon(voice: Voice) -> Voice:
    """The phrase itself names the surgeon: as spoken, not verified, unless a channel says so."""
    if voice.role:
        return voice
    return Voice(by=voice.by, role="surgeon", role_known_by="spoken", channel=voice.channel)


def _accept(turn: Turn, match: Match, voice: Voice, pending: ReadBack) -> None:
    quantity = match.first("quantity_name")
    reason = match.first("accept_reason")
    # Unnamed it is the one that was read back: nobody accepts what was not heard.
    read_back = str(pending.findings[0]["quantity"]) if pending.findings else ""
    wanted = quantity.tags[0] if quantity else read_back
    said = reason.text if reason else ""
    item = turn.item(pending.item)
    if item.compare == "profile" or item.details is not None:
        taken = profile.accept_finding(turn, wanted, said, voice)
        if taken:
            (details if item.details else profile).go_on(turn, pending.item)
    else:
        matches = bool(pending.findings) and pending.findings[0]["quantity"] == wanted
        taken = matches and values.accept_value(turn, said, match.text, voice)
        _advance_if_answered(turn, pending.item)
    if not taken:
        turn.say("has-to-be-answered")
        turn.speak(pending.text)


def _advance(turn: Turn) -> None:
    """Call the next item; close the sections that are through; where the next section waits to be
    asked for, be quiet; end the case after the last."""
    grades.open_what_depends(turn)
    item_id = next_item(turn.case, turn.state)
    while item_id is None and turn.state.short_lists:
        _close_sections_before(turn, None)
        under_way.go_back(turn)
        item_id = next_item(turn.case, turn.state)
    _close_sections_before(turn, item_id)
    waiting = next_waiting(turn.case, turn.state)
    if item_id is not None:
        turn.call(item_id)
        profile.take_up(turn, item_id)
    elif waiting is not None:
        under_way.wait(turn, waiting)
    else:
        _close(turn, "completed", "", "")


def _close_sections_before(turn: Turn, item_id: str | None) -> None:
    here = turn.state.section
    left = item_id is None or turn.case.section_of[item_id].id != here
    if here and left and here not in turn.state.closed_sections:
        turn.close_section()


def _close(turn: Turn, state: str, reason: str, role: str) -> None:
    turn.keep(Closed(state, reason, role))
    if reason != "interrupted":
        turn.say("last-item" if state == "completed" else "ended-unfinished")
    turn.effects.append(Finish())
