"""The record of an utterance: what was heard, and what it amounted to."""

from __future__ import annotations

from voicelist.session import statements
from voicelist.session.events import Voice
from voicelist.session.records import Heard
from voicelist.session.turn import Turn
from voicelist.understanding.interpretation import (
    Denied,
    NotForUs,
    NotUnderstood,
    Unconfirmed,
    Understanding,
    Understood,
)

# Why something was not understood, where nothing of it is to be kept.
FREE_SPEECH = "it was said freely"


def heard(turn: Turn, understanding: Understanding, voice: Voice) -> Heard:
    """The record of an utterance. Talk that was not for us leaves no words behind, nor does what
    was no answer while something was to be stated freely."""
    status, rule, why = "not-for-us", "", ""
    offers: tuple[str, ...] = ()
    again: tuple[str, ...] = ()
    words, second_look, witness = "", "", ""
    alternatives: tuple[str, ...] = ()
    kept = not statements.is_free_text(turn) or isinstance(understanding, Understood)
    if kept and not isinstance(understanding, NotForUs):
        words = " ".join(understanding.words)
        alternatives, second_look = voice.alternatives, voice.second_look
        again, witness = voice.again, voice.witness
    match understanding:
        case Understood():
            status = "understood"
            rule = " ".join(match.rule for match in understanding.matches)
        case Unconfirmed():
            status, rule, why = "understood", understanding.match.rule, "it is read back first"
        case Denied():
            status, rule = "not-understood", understanding.rule
            why = "it denies the answer"
        case NotUnderstood():
            status, why = "not-understood", understanding.why if kept else FREE_SPEECH
            offers = understanding.offers if kept else ()
    return Heard(
        by=voice.by,
        status=status,
        words=words,
        rule=rule,
        why=why,
        offers=offers,
        alternatives=alternatives,
        second_look=second_look,
        again=again,
        witness=witness,
        channel=voice.channel,
        role=voice.role,
        role_known_by=voice.role_known_by,
        start_s=voice.start_s,
        end_s=voice.end_s,
        decided_s=voice.decided_s,
    )
