"""Questions about the foot pedal: positions, how values follow it, its sounds, for the phases of a
card.

What is on at a position is `clinical.pedal`'s (an academy's primer on the platform; teaching slides
on phacodynamics), and so is how a value follows the travel. What is heard is from memory, in plain
words: machines sound differently, and a site puts its own sentences in their place.
"""

from __future__ import annotations

import random
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from voicelist.clinical.pedal import PedalMap, pedal_map, value_at
from voicelist.clinical.settings import UNITS
from voicelist.clinical.sources import Source
from voicelist.documents.card import Setting, Settings
from voicelist.documents.sentences import Sentences
from voicelist.grammar.match import Match
from voicelist.practice.quiz import QuizVerdict
from voicelist.session.wording import shown

POSITION, MODE, TRAVEL, SOUND = "position", "mode", "travel", "sound"
KINDS = (POSITION, MODE, TRAVEL, SOUND)
_NONE = "none"
_ORDER = ("nothing", "irrigation", "aspiration", "ultrasound")
_POSITIONS = Source(
    "published", "positions 0 to 3: an academy's primer on the platform; teaching slides"
)
_DERIVED = Source("derived", "a phase without ultrasound ends at position 2")
_LINEAR = Source("published", "linear follows the travel: a power modulation article, Nov 2005")
_FIXED = Source("from memory", "fixed gives the value whatever the travel")
_SOUNDS = Source("from memory", "machines sound differently: ask whoever knows yours")
_OF_CARD = Source("project choice", "the card that is loaded says so")
_GIVEN = {
    "flow_cc_per_min": "aspiration",
    "vacuum_mmHg": "aspiration",
    "power_percent": "ultrasound",
}
_WHY = {
    "nothing": "At rest nothing is on.",
    "irrigation": "Position 1 opens the irrigation, on or off and never in between.",
    "aspiration": "Position 2 adds aspiration to the irrigation, which stays on.",
    "ultrasound": "Position 3 adds ultrasound, with irrigation and aspiration on.",
}


@dataclass(frozen=True, slots=True)
class PedalQuestion:
    """A question with one right answer, `right`: a tag, or a number in words of its own."""

    kind: str
    about: str
    text: str
    root: str
    right: str
    right_words: str
    why: str
    source: Source
    sentences: Sentences

    @property
    def roots(self) -> tuple[str, ...]:
        return (self.root,)

    def judged(self, answers: Sequence[Match], *, last: bool) -> QuizVerdict:
        """The last answer counts."""
        text = self.sentences.text
        said = answers[-1] if answers else None
        words = said.text if said is not None else ""
        reason = f"{self.why} [{self.source}]"
        if said is not None and _meant(said) == self.right:
            corrected = len(answers) > 1
            return QuizVerdict(True, (text("practice.yes"),), (reason,) * corrected, words)
        if not last:
            return QuizVerdict(False, (text("practice.not-so"),), (), words)
        return QuizVerdict(
            False, (text("practice.it-is", answer=self.right_words),), (reason,), words
        )


def _meant(said: Match) -> str:
    """The tag of an answer, or its number."""
    number = next((one.value for one in said.walk() if one.value is not None), None)
    if number is not None:
        return shown(number)
    return next((tag for one in said.walk() for tag in one.tags), "")


def pedal_questions(
    phases: Mapping[str, Settings], sentences: Sentences, count: int, seed: int
) -> tuple[PedalQuestion, ...]:
    """At most `count` questions about these phases of a card, the kinds in turn."""
    chance = random.Random(seed)
    of_kind: dict[str, list[PedalQuestion]] = {kind: [] for kind in KINDS}
    for phase, settings in phases.items():
        for one in _of_phase(phase, settings, sentences):
            of_kind[one.kind].append(one)
    for every in of_kind.values():
        chance.shuffle(every)
    chosen: list[PedalQuestion] = []
    while len(chosen) < count and any(of_kind.values()):
        for kind in KINDS:
            if of_kind[kind] and len(chosen) < count:
                chosen.append(of_kind[kind].pop())
    return tuple(chosen)


@dataclass(frozen=True, slots=True)
class _Phase:
    """One phase, for which questions are made."""

    phase: str
    name: str
    pedal: PedalMap
    sentences: Sentences

    def text(self, key: str, **values: object) -> str:
        return self.sentences.text(f"practice.{key}", phase=self.name, **values)

    def question(
        self, kind: str, text: str, right: tuple[str, str, str], why: str, source: Source
    ) -> PedalQuestion:
        """`right` is the rule of the answers, the right one's tag and its words."""
        return PedalQuestion(kind, self.phase, text, *right, why, source, self.sentences)


def _of_phase(phase: str, settings: Settings, sentences: Sentences) -> Iterator[PedalQuestion]:
    name = sentences.text(f"phase.{phase}")
    of = _Phase(phase, name[:1].upper() + name[1:], pedal_map(phase), sentences)
    yield from _positions(of)
    yield from _sounds(of)
    for quantity, action in _GIVEN.items():
        setting = getattr(settings, quantity)
        position = _first_with(of.pedal, action)
        if setting is not None and position is not None:
            yield _mode(of, quantity, setting)
            yield from _travels(of, quantity, setting, position)


def _positions(of: _Phase) -> Iterator[PedalQuestion]:
    for position in range(of.pedal.deepest + 1):
        on = _deepest(of.pedal, position)
        asked = of.text("pedal-on", position=position)
        right = ("practice_on", on, of.text(f"pedal.{on}"))
        yield of.question(POSITION, asked, right, _WHY[on], _POSITIONS)
    for action in _ORDER[1:]:
        found = _first_with(of.pedal, action)
        asked = of.text("pedal-adds", action=of.text(f"action.{action}"))
        if found is not None:
            yield of.question(POSITION, asked, _position(found), _WHY[action], _POSITIONS)
        else:
            none = ("practice_position", _NONE, _NONE)
            yield of.question(POSITION, asked, none, f"In {of.phase} no ultrasound.", _DERIVED)


def _sounds(of: _Phase) -> Iterator[PedalQuestion]:
    for position in range(of.pedal.deepest + 1):
        on = _deepest(of.pedal, position)
        asked = of.text(f"pedal-sound-{on}")
        why = f"{_WHY[on]} What is on is what is heard."
        yield of.question(SOUND, asked, _position(position), why, _SOUNDS)


def _position(position: int) -> tuple[str, str, str]:
    return "practice_position", str(position), f"position {position}"


def _mode(of: _Phase, quantity: str, setting: Setting) -> PedalQuestion:
    asked = of.text("pedal-control", quantity=_quantity(of, quantity))
    right = ("practice_control", setting.control, setting.control)
    return of.question(MODE, asked, right, _of_card(of, quantity, setting), _OF_CARD)


def _travels(of: _Phase, quantity: str, setting: Setting, position: int) -> Iterator[PedalQuestion]:
    """How much is given within a position; asked where that is a whole number, as people say it."""
    minimum = setting.minimum or 0.0
    for share, key in ((0.5, "half"), (1.0, "end")):
        given = value_at(share, setting.value, setting.control, minimum)
        if given != int(given):
            continue
        asked = of.text(
            f"pedal-{setting.control}",
            quantity=_quantity(of, quantity),
            low=shown(minimum),
            value=shown(setting.value),
            share=of.text(f"share.{key}"),
            position=position,
        )
        right = ("practice_amount", shown(given), f"{shown(given)} {UNITS[quantity]}")
        source = _FIXED if setting.control == "fixed" else _LINEAR
        yield of.question(TRAVEL, asked, right, _of_card(of, quantity, setting), source)


def _of_card(of: _Phase, quantity: str, setting: Setting) -> str:
    name, unit = _quantity(of, quantity), UNITS[quantity]
    if setting.control == "fixed":
        return f"The card has {name} fixed at {shown(setting.value)} {unit}, whatever the travel."
    low = shown(setting.minimum or 0.0)
    return f"The card has {name} linear, {low} to {shown(setting.value)} {unit}, with the travel."


def _quantity(of: _Phase, quantity: str) -> str:
    return of.sentences.text(f"quantity.{quantity.partition('_')[0]}")


def _deepest(pedal: PedalMap, position: int) -> str:
    """What a position adds last: with it all that comes before is on."""
    return next((one for one in reversed(_ORDER[1:]) if one in pedal.at(position)), _ORDER[0])


def _first_with(pedal: PedalMap, action: str) -> int | None:
    return next((at for at in range(pedal.deepest + 1) if action in pedal.at(at)), None)
