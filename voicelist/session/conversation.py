"""More of what the team may say at any time: hand-over, changed equipment, late correction, and how
the assistant is to speak."""

from __future__ import annotations

from functools import partial

from voicelist.grammar.match import Match
from voicelist.session import manners, statements
from voicelist.session import state as st
from voicelist.session.effects import Adjust
from voicelist.session.events import Voice
from voicelist.session.order import open_items
from voicelist.session.team_records import Adjusted, EquipmentChanged, HandedOver
from voicelist.session.turn import Turn

# How far pace and level go from the usual ones; project choice.
STEPS_AT_MOST = 2


def hand_over(turn: Turn, match: Match, voice: Voice) -> None:
    """A role changes hands: what was left for later and what is open is read out, by name."""
    speaker = statements.as_role(turn, match, voice)
    if speaker is None:
        return
    still_open = open_items(turn.case, turn.state)
    deferred = tuple(one for one in still_open if turn.standing(one).answer == st.DEFERRED)
    asked = tuple(
        one
        for one in still_open
        if one not in deferred and turn.standing(one).status != st.NOT_ASKED
    )
    not_asked = len(still_open) - len(deferred) - len(asked)
    turn.keep(HandedOver(speaker.role, deferred, asked, not_asked))
    if deferred:
        turn.say("hand-over-deferred", names=_names(turn, deferred))
    if asked:
        turn.say("hand-over-open", names=_names(turn, asked))
    turn.say("hand-over-rest", count=not_asked)
    manners.repeat_question(turn)


def _names(turn: Turn, item_ids: tuple[str, ...]) -> str:
    return ", ".join(turn.item(one).name for one in item_ids)


def equipment_changed(turn: Turn, match: Match, voice: Voice) -> None:
    """What applies after a change is due, and asked anew if it was answered for an earlier one."""
    reopened = tuple(
        item.id
        for section in turn.case.sections()
        for item in section.items
        if item.follows_equipment or (item.when or section.when) == "after a change"
        if turn.standing(item.id).answer
    )
    turn.keep(EquipmentChanged(match.text, reopened))
    turn.say("change-noted")


def correct(turn: Turn, item_id: str) -> None:
    """An answer is corrected later, by its item's short name: taken back, and asked for again."""
    if turn.standing(item_id).answer:
        manners.take_back(turn, item_id)
        turn.call(item_id)


def _adjust(pace: int, level: int, turn: Turn, match: Match, voice: Voice) -> None:
    """A step slower, faster, louder or softer; then what waits is said so."""
    before = (turn.state.pace, turn.state.level)
    after = tuple(
        max(-STEPS_AT_MOST, min(STEPS_AT_MOST, old + more))
        for old, more in zip(before, (pace, level), strict=True)
    )
    if after == before:
        turn.say("no-further")
        return
    turn.keep(Adjusted(*after))
    turn.effects.append(Adjust(*after))
    turn.speak(turn.state.last_text or turn.case.text("change-noted"))


slower = partial(_adjust, -1, 0)
faster = partial(_adjust, 1, 0)
louder = partial(_adjust, 0, 1)
softer = partial(_adjust, 0, -1)
