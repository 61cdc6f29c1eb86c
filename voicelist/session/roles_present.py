"""A role that is not in the room: said, read back, recorded. Nobody speaks for it."""

from __future__ import annotations

from voicelist.documents.checklist import Item
from voicelist.grammar.match import Match
from voicelist.session import manners, presence, statements
from voicelist.session import state as st
from voicelist.session.events import Voice
from voicelist.session.records import ReadBack
from voicelist.session.statements import role_said
from voicelist.session.team_records import PresenceChanged
from voicelist.session.turn import Turn

ABOUT = "presence"
# The rule whose tags are the roles that may be away.
MAY_BE_AWAY = "may_be_away"


def ask_away(turn: Turn, match: Match, voice: Voice) -> None:
    """That a role is not there is read back; a role that is needed cannot be away."""
    said = match.first(MAY_BE_AWAY)
    if said is None:
        return
    role = next(tag for one in said.walk() for tag in one.tags)
    needed = _needed_for(turn, role)
    name = turn.case.text(f"role.{role}")
    if needed is not None:
        turn.say("role-needed", role=name, name=needed.name)
        manners.repeat_question(turn)
        return
    text = turn.case.text("role-away", role=name)
    turn.read_back(ReadBack("", ABOUT, text, (), {"role": role, "words": match.text}))


def _needed_for(turn: Turn, role: str) -> Item | None:
    """The first open item that nobody, or not everybody, could answer without the role."""
    for item_id, item in turn.case.items.items():
        absent = {*turn.away(item.answered_by), role}
        is_open = turn.standing(item_id).answer not in st.SETTLED
        if is_open and _has_to_be_asked(item) and role in item.answered_by:
            roles, each_role = item.answered_by, item.each_role
            if not presence.can_be_answered(roles, absent, each_role=each_role):
                return item
    return None


def _has_to_be_asked(item: Item) -> bool:
    return item.stop or item.each_role or item.asks_for_value


def take_correct(turn: Turn, voice: Voice) -> None:
    """ "Yes, that is correct" after it was read back that a role is not there."""
    pending = turn.state.pending
    if pending is None or pending.about != ABOUT:
        return
    role, words = str(pending.values["role"]), str(pending.values["words"])
    left_out = tuple(
        item_id
        for item_id, item in turn.case.items.items()
        if {*turn.away(item.answered_by), role}.issuperset(item.answered_by)
        and not turn.standing(item_id).answer
    )
    turn.keep(PresenceChanged(role, False, words, voice.role, voice.role_known_by, left_out))
    turn.tone()
    item_id = turn.state.current
    if item_id and turn.item(item_id).each_role and not statements.lacking(turn, item_id):
        statements.pass_for_roles(turn, item_id, words, voice)
    manners.repeat_question(turn)


def here(turn: Turn, match: Match, voice: Voice) -> None:
    """A role is there (again): it is asked for from now on."""
    role = role_said(match)
    turn.keep(PresenceChanged(role, True, match.text, voice.role, voice.role_known_by))
    turn.tone()
    manners.repeat_question(turn)
