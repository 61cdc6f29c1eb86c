"""After time out: the assistant is quiet, answers questions, keeps milestones, and goes on with a
section or a short list when somebody asks for it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from voicelist.documents.checklist import Section
from voicelist.grammar.match import Match
from voicelist.session.events import Voice
from voicelist.session.flow_phrases import CLOCK_TIME, MINUTES_AGO
from voicelist.session.flow_records import MilestoneTold, SectionAsked, UnderWay, WentBack
from voicelist.session.order import next_item, open_items
from voicelist.session.records import ReadBack, Settled
from voicelist.session.sections import next_waiting, reached
from voicelist.session.turn import Turn
from voicelist.session.wording import listed


def wait(turn: Turn, waiting: Section) -> None:
    """Nothing is left to ask before a section that waits: said once, from then on shown."""
    if turn.state.under_way:
        return
    text = turn.case.text("quiet-now", section=waiting.name)
    first = not turn.state.been_under_way
    turn.keep(UnderWay(text if first else ""))
    if first:
        turn.speak(text)
    else:
        turn.show("waiting", text)


def where(turn: Turn) -> str:
    """Where the case stands while it is quiet, or "" while it is not."""
    waiting = next_waiting(turn.case, turn.state)
    if not turn.state.under_way or waiting is None:
        return ""
    told = [one.name for one in turn.state.milestones.values()][-1:]
    count = len(open_here(turn))
    if told:
        return turn.case.text("under-way-since", name=told[0], count=count)
    return turn.case.text("under-way", count=count)


def why(turn: Turn) -> str:
    """Why it is quiet, or "" while it is not."""
    waiting = next_waiting(turn.case, turn.state)
    if not turn.state.under_way or waiting is None:
        return ""
    return turn.case.text("quiet-why", section=waiting.name)


def what_is_open(turn: Turn) -> str:
    """What is open of the sections that were reached while it is quiet, or "" while it is not."""
    waiting = next_waiting(turn.case, turn.state)
    if not turn.state.under_way or waiting is None:
        return ""
    names = [turn.item(one).name for one in open_here(turn)]
    if names:
        return turn.case.text("still-open", names=listed(turn.case, names))
    return turn.case.text("nothing-open-before", section=waiting.name)


def open_here(turn: Turn) -> tuple[str, ...]:
    """The open items of the sections that were reached."""
    sections = {one.id for one in reached(turn.case, turn.state)}
    every = open_items(turn.case, turn.state)
    return tuple(one for one in every if turn.case.section_of[one].id in sections)


def tell(turn: Turn, milestone_id: str, match: Match, voice: Voice) -> None:
    """A milestone: kept with its time; one that was told late is read back. An earlier one that is
    lacking is asked about once."""
    every = turn.case.bundle.checklist.milestones
    milestone = next(one for one in every if one.id == milestone_id)
    lacking = _lacking_before(turn, milestone_id)
    clock, minutes_ago = _when(match)
    told = milestone_id in turn.state.milestones
    text = ""
    if clock:
        text = turn.case.text("milestone-at", name=milestone.name, time=clock)
    elif minutes_ago is not None:
        text = turn.case.text("milestone-ago", name=milestone.name, count=f"{minutes_ago:g}")
    elif told:
        text = turn.case.text("milestone-again", name=milestone.name)
    record = MilestoneTold(
        milestone_id,
        milestone.name,
        match.text,
        voice.role,
        voice.role_known_by,
        clock,
        minutes_ago,
        text,
    )
    turn.keep(record)
    turn.tone()
    if text:
        turn.speak(text, back=True)
    else:
        turn.show("milestone", milestone.name)
    if lacking:
        turn.say("milestone-lacking", names=_names(turn, lacking))
    _go_on_with_request(turn)


def _when(match: Match) -> tuple[str, float | None]:
    """The time of day that was said ("8:40"), or how many minutes ago."""
    clock, ago = match.first(CLOCK_TIME), match.first(MINUTES_AGO)
    if clock is not None and clock.value is not None:
        hour, minute = divmod(int(clock.value), 100)
        return f"{hour}:{minute:02d}", None
    if ago is not None and ago.value is not None:
        return "", float(ago.value)
    return "", None


def _lacking_before(turn: Turn, milestone_id: str) -> tuple[str, ...]:
    """Milestones that a section waits for, come earlier and were not told; none where that was
    asked about before."""
    ids = [one.id for one in turn.case.bundle.checklist.milestones]
    place, told = ids.index(milestone_id), turn.state.milestones
    if any(one in told for one in ids[place:]):
        return ()
    wanted = {one for section in turn.case.sections() for one in section.after}
    latest = max((at for at, one in enumerate(ids[:place]) if one in told), default=-1)
    return tuple(one for one in ids[latest + 1 : place] if one in wanted)


def _names(turn: Turn, milestone_ids: tuple[str, ...]) -> str:
    every = turn.case.bundle.checklist.milestones
    return ", ".join(one.name for one in every if one.id in milestone_ids)


def begin(turn: Turn, section_id: str, match: Match, voice: Voice) -> None:
    """A section is asked for: a short list starts, another one after what comes before it."""
    section = turn.case.section(section_id)
    request = {"section": section_id, "words": match.text}
    request |= {"role": voice.role, "role_known_by": voice.role_known_by}
    pending = turn.state.pending
    if section.goes_back:
        _start(turn, request)
        return
    for one in reversed(turn.state.short_lists):
        turn.keep(WentBack(one, left=True))
    first = next_item(turn.case, turn.state)
    if first is not None:
        turn.say("comes-first", name=turn.item(first).name)
        if pending is not None:
            turn.speak(pending.text)
        elif turn.state.current:
            turn.call(turn.state.current)
        return
    asked_before = pending is not None and pending.about == "begin"
    missing = _missing(turn, section)
    if missing and not asked_before:
        text = turn.case.text("begin-early", names=_names(turn, missing), section=section.name)
        turn.read_back(ReadBack("", "begin", text, (), request))
    else:
        _start(turn, request)


def _missing(turn: Turn, section: Section) -> tuple[str, ...]:
    return tuple(one for one in section.after if one not in turn.state.milestones)


def begin_now(turn: Turn, request: Mapping[str, Any]) -> None:
    """ "Yes" to whether a section is to begin although a milestone was not told."""
    _start(turn, request)


def not_yet(turn: Turn, pending: ReadBack) -> None:
    """The section does not begin; it is as quiet as before."""
    turn.keep(Settled(pending.item, pending.about))
    waiting = next_waiting(turn.case, turn.state)
    if waiting is not None:
        turn.show("waiting", turn.case.text("quiet-now", section=waiting.name))


def _go_on_with_request(turn: Turn) -> None:
    """A milestone may be what a request waits for."""
    pending = turn.state.pending
    if pending is None or pending.about != "begin":
        return
    if _missing(turn, turn.case.section(str(pending.values["section"]))):
        turn.speak(pending.text)
    else:
        _start(turn, pending.values)


def _start(turn: Turn, request: Mapping[str, Any]) -> None:
    section = turn.case.section(str(request["section"]))
    pending = turn.state.pending
    if pending is not None:
        turn.keep(Settled(pending.item, pending.about))
    reopened = tuple(
        one.id for one in section.items if section.goes_back and turn.standing(one.id).answer
    )
    turn.keep(
        SectionAsked(
            section.id,
            str(request["words"]),
            str(request["role"]),
            str(request["role_known_by"]),
            section.goes_back,
            reopened,
            _missing(turn, section),
        )
    )


def leave_list(turn: Turn, match: Match, voice: Voice) -> None:
    """The short list that is open ends here; what it had not asked stays unasked."""
    if turn.state.short_lists:
        if turn.state.pending is not None:
            turn.keep(Settled(turn.state.pending.item, turn.state.pending.about))
        go_back(turn, left=True)


def go_back(turn: Turn, *, left: bool = False) -> None:
    """The short list that is open ends, and the case goes on where it was."""
    turn.keep(WentBack(turn.state.short_lists[-1], left))
    waiting = next_waiting(turn.case, turn.state)
    if next_item(turn.case, turn.state) is None and waiting is not None:
        turn.say("back-quiet", section=waiting.name)
    elif turn.state.section:
        turn.say("back-to", section=turn.case.section(turn.state.section).name)
