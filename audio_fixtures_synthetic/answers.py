"""The permitted answers that are spoken: every `done` and `fault` of the checklist, values in many
readings, and what may be said at any time. A pure function of the checklist and the rules.
"""

from __future__ import annotations

import itertools
import random
from collections.abc import Iterator

from clips import Text
from meanings import (
    eye_meaning,
    grade_meaning,
    joined,
    model_meaning,
    number_meaning,
    power_meaning,
    setting_meaning,
)
from numbers_said import power_readings, whole_readings
from phrases_said import sentences, sentences_of

from voicelist.documents.checklist import Checklist, Item
from voicelist.grammar.ruleset import RuleSet
from voicelist.session.case import ANYTIME

SEED = 20

_MILLIMETERS = ("millimeters", "millimeters of mercury")
# By quantity: its words, the values said, what may follow the number, and whether it has a control.
_SETTINGS: dict[str, tuple[str, tuple[int, ...], tuple[str, ...], bool]] = {
    "power_percent": ("power", (15, 20, 30, 40, 45, 50, 60, 70), ("", "percent"), True),
    "vacuum_mmHg": ("vacuum", (50, 90, 105, 150, 215, 320, 350, 400, 415, 450, 500), ("",), True),
    "flow_cc_per_min": ("flow", (13, 18, 20, 25, 28, 30, 32, 40), ("",), True),
    "pulses_per_s": ("pulses", (10, 15, 30, 50, 80, 100, 120), ("", "per second"), False),
    "duty_percent": ("duty", (20, 30, 40, 50, 60), ("", "percent"), False),
    "bottle_cm": ("bottle", (70, 85, 90, 95, 110), ("centimeters",), True),
    "infusion_mmHg": ("pressure", (50, 60, 65, 80), _MILLIMETERS, True),
}
_POWERS_D = (
    *(21.0, 13.25, 30.5, 15.75, 20.25, 16.0, 24.5, 18.75, 22.0, 14.5, 19.25, 27.75, 6.0, 23.5),
    *(-1.0, -2.25, -3.5, -4.75, -5.0, -10.25, -12.5, -21.75, -0.5, -15.0, -30.0, -13.5),
)
_UNSIGNED = (
    ("twenty one point five", 21.5),
    ("twenty one and a half", 21.5),
    ("eighteen", 18.0),
    ("three and a quarter", 3.25),
    ("twenty two and three quarters", 22.75),
)
_MODELS = ("monofocal alpha", "monofocal bravo", "toric alpha", "toric bravo")
# What came later is said last, and nothing that may be said at any time is said there, so that the
# others keep their voices.
_ADDED = ("case-number",)
_NUMBERS = (
    ("case number seven", 7),
    ("case number zero zero seven", 7),
    ("case number double oh seven", 7),
    ("case number one zero four", 104),
    ("case number one oh four", 104),
    ("case number one hundred and four", 104),
    ("case number is a hundred and four", 104),
    ("case number thirteen", 13),
    ("case number two zero two six one", 20261),
)
_ACCEPTED = {
    "power": "power_percent",
    "vacuum": "vacuum_mmHg",
    "flow": "flow_cc_per_min",
    "pulses": "pulses_per_s",
    "duty cycle": "duty_percent",
    "bottle": "bottle_cm",
    "pressure": "infusion_mmHg",
    "grade": "grade",
}
_REASONS = ("a dense lens", "a soft lens", "a small pupil", "a weak capsule", "my preference")
_ABANDONED = ("a change of plan", "the patient's wishes", "a medical reason", "equipment trouble")
# Where the answers to read-backs are said.
_READ_BACKS = {
    "report_it": "irrigation-line/negation",
    "do_not_report": "irrigation-line/negation",
    "correct": "lens-power/digits",
    "confirm_profile": "quadrant-profile/echo",
    "abandon_now": "irrigation-line/abandon",
    "go_on_with_case": "irrigation-line/abandon",
}
_SETTINGS_OF_EACH_LENGTH = 12


def answers(checklist: Checklist, rules: RuleSet) -> list[Text]:
    """Every permitted answer that is to be spoken, each once."""
    chance = random.Random(SEED)
    texts: list[Text] = []
    every = [item for _, item in checklist.all_items()]
    items = [item for item in every if item.id not in _ADDED]
    for item in items:
        texts += _said(item)
        texts += _values(item, chance)
    texts += _commands(items, rules, chance)
    for item in every:
        if item.id in _ADDED:
            texts += _values(item, chance)
    return texts


def _said(item: Item) -> Iterator[Text]:
    for kind in ("done", "fault"):
        phrase = getattr(item, kind)
        if phrase is not None:
            for text in sentences_of(phrase):
                yield Text(item.id, kind, text, f"{item.id}.{kind}")


def _values(item: Item, chance: random.Random) -> Iterator[Text]:
    match item.compare:
        case "eye":
            for side, form in itertools.product(("left", "right"), ("marked eye", "marked eye is")):
                yield Text(item.id, "eye", f"{form} {side}", eye_meaning(item.id, side))
        case "grade":
            yield from _grades(item.id)
        case "lens-power":
            yield from _powers(item.id, chance)
        case "lens-model":
            for model in _MODELS:
                yield Text(item.id, "model", f"lens model {model}", model_meaning(item.id, model))
        case "case-number":
            for text, number in _NUMBERS:
                yield Text(item.id, "number", text, number_meaning(item.id, number))
        case "profile":
            for length in range(1, 5):
                for _ in range(_SETTINGS_OF_EACH_LENGTH):
                    yield _settings(item.id, length, chance)


def _grades(item_id: str) -> Iterator[Text]:
    for scale, first, last in (("clinical", 0, 4), ("hardness", 1, 5)):
        for number in range(first, last + 1):
            text = f"{scale} grade {whole_readings(number)[0]}"
            yield Text(item_id, "grade", text, grade_meaning(item_id, scale, number))


def _powers(item_id: str, chance: random.Random) -> Iterator[Text]:
    for power_D in _POWERS_D:
        signs = ("minus", "negative") if power_D < 0 else ("plus", "positive")
        for reading in chance.sample(power_readings(power_D), k=2):
            text = f"lens power {chance.choice(signs)} {reading}"
            yield Text(item_id, "power", text, power_meaning(item_id, power_D))
    for reading, power_D in _UNSIGNED:
        meaning = power_meaning(item_id, power_D, signed=False)
        yield Text(item_id, "power", f"lens power {reading}", meaning)


def _settings(item_id: str, length: int, chance: random.Random) -> Text:
    said, meant = [], []
    for quantity in chance.sample(sorted(_SETTINGS), k=length):
        words, values, units, controlled = _SETTINGS[quantity]
        value, unit = chance.choice(values), chance.choice(units)
        control = chance.choice(("", "linear", "fixed")) if controlled else ""
        cycle = chance.choice(("", "cycle")) if words == "duty" else ""
        at = "at" if chance.random() < 0.25 else ""
        reading = chance.choice(whole_readings(value))
        said.append(" ".join(f"{words} {cycle} {at} {reading} {unit} {control}".split()))
        meant.append(setting_meaning(quantity, value, control))
    link = " and " if length > 1 and chance.random() < 0.2 else " "
    text = " ".join(said[:-1]) + link + said[-1] if length > 1 else said[0]
    return Text(item_id, f"settings-{length}", text, f"{item_id}.value {' '.join(meant)}")


def _commands(items: list[Item], rules: RuleSet, chance: random.Random) -> Iterator[Text]:
    """What may be said at any time, over the items in turn, and the answers to read-backs."""
    asked = itertools.cycle([item.id for item in items])
    for name in (*ANYTIME, *_READ_BACKS):
        rule = rules.find(name, None)
        if rule is None or name == "abandon":
            continue
        for text in sentences(rule.body, rules, rule.place.file):
            where = _READ_BACKS.get(name) or ("held" if name == "carry_on" else next(asked))
            yield Text(where, "command", text, f"command.{name}")
    for reason in _ABANDONED:
        meaning = f"command.abandon reason={joined(reason)}"
        yield Text(next(asked), "command", f"abandon this case because of {reason}", meaning)
    pairs = list(itertools.product(_ACCEPTED, _REASONS))
    for words, reason in chance.sample(pairs, k=10):
        meaning = f"command.accept quantity={_ACCEPTED[words]} reason={joined(reason)}"
        text = f"surgeon accepts the {words} because of {reason}"
        yield Text("quadrant-profile/mismatch", "command", text, meaning)
