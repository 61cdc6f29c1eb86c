"""Against the surgeon's card, which outranks every usual range."""

from __future__ import annotations

from collections.abc import Iterator

from voicelist.clinical.limits import Limits
from voicelist.clinical.profile import TIMING, Situation
from voicelist.clinical.rules.base import Seen, rule
from voicelist.clinical.sources import Source

_CARD = Source("project choice", "a card is the surgeon's own decision for this grade and phase")
_SAY_AGAIN = "Say the value again, or let the surgeon accept it with a reason."
_ALL_BY_HAND = "Correct the grade, or let the surgeon accept it: nothing is compared with the card."
# A figure worked out from two others was rounded on its way: half a unit and half a per cent.
_ROUNDING, _ROUNDING_SHARE = 0.5, 0.005


@rule("card-silent", "ask", "card-silent", _CARD, _ALL_BY_HAND, switchable=False)
def card_silent(it: Situation, limits: Limits) -> Iterator[Seen]:
    """A grade for which the card has nothing in this phase: no other grade's settings stand in."""
    if it.card_silent and it.grade is not None:
        yield Seen("grade", it.grade.value, "nothing")


@rule("card-value", "ask", "card-differs", _CARD, _SAY_AGAIN, switchable=False)
def card_value(it: Situation, limits: Limits) -> Iterator[Seen]:
    """A value further from the card's than its tolerance, the limits included."""
    for quantity, setting in it.heard.settings.items():
        card = it.card.settings.get(quantity)
        if card is not None and abs(setting.value - card.value) > card.tolerance:
            yield Seen(quantity, setting.value, card.value)


@rule("card-control", "ask", "card-differs", _CARD, _SAY_AGAIN, switchable=False)
def card_control(it: Situation, limits: Limits) -> Iterator[Seen]:
    """Linear where the card has fixed, or the other way round; nothing said is nothing heard."""
    for quantity, setting in it.heard.settings.items():
        card = it.card.settings.get(quantity)
        if card is None or not card.control or not setting.control:
            continue
        if setting.control != card.control:
            yield Seen(quantity, setting.control, card.control)


@rule("card-minimum", "ask", "card-minimum", _CARD, _SAY_AGAIN)
def card_minimum(it: Situation, limits: Limits) -> Iterator[Seen]:
    """Where linear control begins; a card that gives no minimum begins at 0."""
    for quantity, setting in it.heard.settings.items():
        card = it.card.settings.get(quantity)
        if card is None or setting.minimum is None or card.control != "linear":
            continue
        minimum = card.minimum or 0.0
        if abs(setting.minimum - minimum) > card.tolerance:
            yield Seen(quantity, setting.minimum, minimum)


@rule("card-timing", "ask", "card-differs", _CARD, _SAY_AGAIN)
def card_timing(it: Situation, limits: Limits) -> Iterator[Seen]:
    """A figure of the pulses that the card settles by two others. Source of the sums: derived."""
    timing = it.card.timing()
    if timing is None:
        return
    for quantity in TIMING:
        heard = it.heard.value(quantity)
        if heard is None or quantity in it.card.settings:
            continue
        expected = float(getattr(timing, quantity))
        if abs(heard - expected) > max(_ROUNDING, expected * _ROUNDING_SHARE):
            yield Seen(quantity, heard, round(expected, 1))


@rule("card-pump", "ask", "card-differs", _CARD, "Check which pump is in use.")
def card_pump(it: Situation, limits: Limits) -> Iterator[Seen]:
    """The other pump: with a venturi pump flow is not commanded (Phacodynamics tutorial)."""
    if it.heard.pump and it.card.pump and it.heard.pump != it.card.pump:
        yield Seen("pump", it.heard.pump, it.card.pump)


@rule("card-modulation", "ask", "card-differs", _CARD, _SAY_AGAIN)
def card_modulation(it: Situation, limits: Limits) -> Iterator[Seen]:
    """Another kind of power modulation than the card's."""
    if it.heard.kind and it.card.kind and it.heard.kind != it.card.kind:
        yield Seen("modulation", it.heard.kind, it.card.kind)


@rule("card-trigger", "ask", "card-differs", _CARD, _SAY_AGAIN)
def card_trigger(it: Situation, limits: Limits) -> Iterator[Seen]:
    """Pulses on occlusion where the card has them at any time, or the other way round."""
    heard, card = it.heard.on_occlusion, it.card.on_occlusion
    if heard is not None and card is not None and heard != card:
        yield Seen("trigger", trigger_words(heard), trigger_words(card))


def trigger_words(on_occlusion: bool) -> str:
    return "occlusion" if on_occlusion else "none"
