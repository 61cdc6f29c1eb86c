"""Items that several roles answer, free text that is said aloud, and entries of a closed list."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from voicelist.grammar.match import Match
from voicelist.session import state as st
from voicelist.session.events import Voice
from voicelist.session.records import ReadBack
from voicelist.session.team_records import Agreed
from voicelist.session.turn import Turn

# The rule whose tag is the role that a phrase names.
SPEAKER = "speaker"
CHOSEN = "listed"
REASON = "does not apply because of"
_OWN_MICROPHONE = "surgeon"


def role_said(match: Match) -> str:
    """The role that the phrase itself names, or ""."""
    speaker = match.first(SPEAKER)
    return speaker.tags[0] if speaker is not None and speaker.tags else ""


def as_role(turn: Turn, match: Match, voice: Voice) -> Voice | None:
    """Who speaks for a role: known by the channel, else as the phrase says. None, and the role is
    asked for, if the channel says that it was somebody else."""
    said = role_said(match)
    if said and said != voice.role and not may_speak_for(voice, (said,)):
        ask_role(turn, said)
        return None
    if voice.role and said in ("", voice.role):
        return voice
    return replace(voice, role=said, role_known_by="spoken" if said else "")


def may_speak_for(voice: Voice, roles: Sequence[str]) -> bool:
    """Whether the voice may be one of `roles`. The surgeon has a microphone of one's own where
    there are two; all others share the room's, so that its channel says only who it is not."""
    if not voice.role or voice.role in roles:
        return True
    shared = voice.role_known_by == "channel" and voice.role != _OWN_MICROPHONE
    return shared and any(role != _OWN_MICROPHONE for role in roles)


def as_one_of(voice: Voice, roles: Sequence[str]) -> Voice:
    """The voice as it answers for `roles`: unknown who, where the shared microphone's usual speaker
    is none of them."""
    return voice if voice.role in roles else replace(voice, role="", role_known_by="")


def ask_one_of(turn: Turn, roles: Sequence[str]) -> None:
    """Ask for the first role of an item that is in the room."""
    absent = turn.away(roles)
    ask_role(turn, next((role for role in roles if role not in absent), roles[0]))


def ask_role(turn: Turn, role: str) -> None:
    turn.say("role-please", role=turn.case.text(f"role.{role}"))


def take_role_answer(turn: Turn, item_id: str, match: Match, voice: Voice) -> None:
    """One role's part of an item that each of its roles answers; the last one passes it."""
    item = turn.item(item_id)
    speaker = as_role(turn, match, voice)
    if speaker is None:
        return
    if turn.away((speaker.role,)):
        turn.say("role-is-away", role=turn.case.text(f"role.{speaker.role}"))
        return
    heard = {one.role for one in turn.standing(item_id).agreed}
    if speaker.role in item.answered_by and speaker.role not in heard:
        turn.keep(Agreed(item_id, speaker.role, speaker.role_known_by, match.text))
    waited_for = lacking(turn, item_id)
    if waited_for:
        ask_role(turn, waited_for[0])
        return
    pass_for_roles(turn, item_id, match.text, speaker)


def lacking(turn: Turn, item_id: str) -> list[str]:
    """The roles of an item that are in the room and have not answered it."""
    roles = turn.item(item_id).answered_by
    heard = {one.role for one in turn.standing(item_id).agreed}
    absent = turn.away(roles)
    return [role for role in roles if role not in heard and role not in absent]


def pass_for_roles(turn: Turn, item_id: str, words: str, speaker: Voice) -> None:
    """All that are in the room have answered; who was not is in the record."""
    agreed, absent = turn.standing(item_id).agreed, turn.away(turn.item(item_id).answered_by)
    values: dict[str, object] = {"roles": [f"{one.role} ({one.role_known_by})" for one in agreed]}
    if absent:
        values["absent"] = list(absent)
    turn.answer(item_id, st.SAID_DONE, words, speaker, values=values)


def take_stated(turn: Turn, item_id: str, match: Match, voice: Voice) -> None:
    """Something was stated aloud; what it was is the team's and is not recorded."""
    turn.answer(item_id, st.STATED, match.text, voice)


def take_choice(turn: Turn, item_id: str, match: Match, voice: Voice) -> None:
    """Entries of a closed list: read back, for another entry may have been meant."""
    entries = entries_chosen(match)
    text = turn.case.text("was-that", value=", ".join(entries))
    turn.read_back(ReadBack(item_id, "choice", text, (), {CHOSEN: entries}))


def take_reason(turn: Turn, item_id: str, match: Match) -> None:
    """The reason for which an item does not apply: read back, for it passes the item."""
    reasons = entries_chosen(match)
    text = turn.case.text("reason-not-applicable", value=", ".join(reasons))
    turn.read_back(ReadBack(item_id, "choice", text, (), {REASON: reasons}))


def entries_chosen(match: Match) -> list[str]:
    """The entries of a closed list that a phrase names, each once."""
    return list(dict.fromkeys(tag for one in match.walk() for tag in one.tags))


def take_choice_correct(turn: Turn, words: str, voice: Voice) -> None:
    """ "Yes, that is correct" after the entries were read back."""
    pending = turn.state.pending
    if pending is not None and pending.about == "choice":
        answer = st.NOT_APPLICABLE if REASON in pending.values else st.VALUE
        turn.answer(pending.item, answer, words, voice, values=dict(pending.values))


def is_free_text(turn: Turn) -> bool:
    """Whether what is asked for now is said freely: words that are no answer are not kept."""
    item_id = turn.state.asked
    return bool(item_id) and turn.item(item_id).stated is not None
