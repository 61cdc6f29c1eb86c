"""What the room is told when the record fails: it depends on nothing that is on disk."""

from __future__ import annotations

from collections.abc import Iterable

from voicelist.documents.sentences import OWN_SENTENCES
from voicelist.errors import DocumentError
from voicelist.session.case import Case
from voicelist.session.ports import Display, Speaker
from voicelist.session.record_base import Record
from voicelist.session.state import State
from voicelist.session.wording import spoken

_STOPPED, _STOPPED_AT = "record-stopped", "record-stopped-at"


def in_progress(on_disk: State, lost: Iterable[Record]) -> str:
    """The item to go on with on paper: of the record that was lost, else the one that was asked,
    else the first of what was to follow; "" if there is none."""
    first, *later = lost
    asked = on_disk.asked
    items = (getattr(first, "item", ""), asked, *(getattr(one, "item", "") for one in later))
    return next((one for one in items if one), "")


def tell_record_stopped(
    case: Case, speaker: Speaker, display: Display, item: str, remedy: str
) -> None:
    """Show and speak that the record stopped, and at which item; show how to go on later."""
    named = case.items.get(item)
    text = _text(case, _STOPPED_AT, name=named.name) if named else _text(case, _STOPPED)
    display.said(text)
    display.show("notice", remedy)
    seconds, problem = speaker.speak(spoken(case.bundle.sentences, case.bundle.lexicon, text))
    del seconds
    if problem:
        display.show("notice", problem)


def remedy(case: Case, code: str, *, resumable: bool) -> str:
    """How to go on later with a case, or, where nothing is to be gone on with, to begin again."""
    if not resumable:
        return _text(case, "record-again")
    return _text(case, "record-resume", case=code)


def sentences_to_prepare(case: Case) -> tuple[str, ...]:
    """What can be rendered before it is needed."""
    return (_text(case, _STOPPED),)


def _text(case: Case, key: str, /, **values: object) -> str:
    """By the case's catalogue; by our own where that is not sound, for this has to be said."""
    try:
        return case.text(key, **values)
    except DocumentError:
        return OWN_SENTENCES[key].format(**values)
