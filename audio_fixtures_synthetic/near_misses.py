"""Sentences made of an answer's own words that are no answer: what the room says about an item.

A pure function of the checklist, the plan's values and a fixed seed; nothing that it makes is
removed afterwards because it passed. Of each stop item there are denials, questions, talk of later,
reported speech, other things in the same state, hedged answers and half sentences. Items that ask
for a value also get other values than the plan's: they are to be heard as themselves or not at all.
"""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from clips import NONE, Text
from meanings import (
    eye_meaning,
    grade_meaning,
    model_meaning,
    number_meaning,
    power_meaning,
    setting_meaning,
)
from numbers_said import power_readings, whole_readings
from phrases_said import sentences_of

from voicelist.documents.checklist import Checklist, Item
from voicelist.documents.plan import Plan

SEED = 20
ANY_ANSWER = "any"


@dataclass(frozen=True, slots=True)
class Parts:
    """An answer taken apart: `done` is the whole; `thing` what is asked about; `state` what is said
    of it, "" where the answer does not end with the state ("no known allergies")."""

    done: str
    thing: str
    state: str


# {D} the answer, {T} the thing, {S} its state; {is}, {isnt}, {was} agree with the thing.
_WITH_STATE: dict[str, tuple[int, tuple[str, ...]]] = {
    "negation": (
        4,
        (
            "{T} not {S}",
            "{T} {isnt} {S}",
            "no the {T} {is} not {S}",
            "the {T} {is} not {S} yet",
            "not {D}",
            "{T} never {S}",
            "{D} no",
            "i don't think the {T} {is} {S}",
            "the {T} can't be {S}",
            "{T} no longer {S}",
        ),
    ),
    "question": (
        4,
        (
            "{is} the {T} {S}",
            "{T} {S} question",
            "{is} the {T} really {S}",
            "did you say {D}",
            "can you get the {T} {S}",
            "who said {D}",
            "what about {D}",
            "{D} or not",
            "are you sure {D}",
            "how {is} the {T} {S}",
        ),
    ),
    "later": (
        4,
        (
            "{D} in a minute",
            "{D} later",
            "{D} soon",
            "tell me when the {T} {is} {S}",
            "after {D}",
            "wait until {D}",
            "{T} almost {S}",
            "{T} will be {S}",
            "{D} tomorrow",
            "{T} should be {S}",
        ),
    ),
    "reported": (
        3,
        (
            "he said the {T} {was} {S}",
            "i was told {D}",
            "they told me {D}",
            "she thinks {D}",
            "last time {D}",
            "the other room has {D}",
            "you have to say {D}",
            "yesterday it was {D}",
        ),
    ),
}
_WITHOUT_STATE: dict[str, tuple[int, tuple[str, ...]]] = {
    "negation": (
        4,
        ("not {D}", "there are {T}", "yes {T}", "{D} no", "{D} is not right", "not sure about {T}"),
    ),
    "question": (
        4,
        (
            "are there {D}",
            "are there any {T}",
            "did you say {D}",
            "who said {D}",
            "{D} or not",
            "are you sure {D}",
        ),
    ),
    "later": (
        4,
        (
            "{D} in a minute",
            "{D} later",
            "{D} soon",
            "after {D}",
            "wait until {D}",
            "we check {T} later",
        ),
    ),
    "reported": (
        3,
        (
            "he said there were {D}",
            "i was told {D}",
            "they told me {D}",
            "she thinks {D}",
            "last time {D}",
            "you have to say {D}",
        ),
    ),
}
_HEDGES = (
    "okay so {D} i think",
    "{D} i guess",
    "maybe {D}",
    "{D} i hope",
    "probably {D}",
    "if {D}",
    "{D} but check",
    "{D} or so",
)
_HEDGES_OF_EACH = 3
_HALVES_OF_EACH = 2
# Things of the same room, or that sound alike, to stand in the place of the thing asked about.
_NEIGHBOURS = {
    "irrigation line": ("drainage line", "oxygen line", "infusion line"),
    "aspiration line": ("drainage line", "inspiration line", "suction line"),
    "priming": ("draping", "timing", "cleaning"),
    "phaco tip": ("suction tip", "syringe tip", "pencil tip"),
    "test flow": ("blood flow", "air flow", "best flow"),
    "identity and consent": ("name and consent", "identity and address"),
    "known allergies": ("known relatives", "known problems"),
    "marked eye": ("other eye", "marked side"),
    "lens power": ("lamp power", "laser power"),
    "lens model": ("lens holder", "phone model"),
    "case number": ("phone number", "room number"),
    "counts": ("accounts", "forms", "papers"),
}
_OTHER_POWERS = (
    ("plus twenty one", 21.0),
    ("plus twenty two point five", 22.5),
    ("plus twenty point five", 20.5),
    ("minus twenty one point five", -21.5),
    ("negative twenty one point five", -21.5),
    ("plus twenty one point two five", 21.25),
    ("plus twenty seven point five", 27.5),
    ("plus thirty one point five", 31.5),
    ("plus twenty one point nine", 21.9),
    ("plus eleven point five", 11.5),
)
# Words, quantity, value said, value on the card for the plan's grade in this phase.
_OTHER_SETTINGS = (
    ("power fourteen", "power_percent", 14, 40),
    ("power forty five", "power_percent", 45, 40),
    ("vacuum three fifteen", "vacuum_mmHg", 315, 350),
    ("vacuum two fifty", "vacuum_mmHg", 250, 350),
    ("vacuum five fifty", "vacuum_mmHg", 550, 350),
    ("flow thirty", "flow_cc_per_min", 30, 32),
    ("flow forty two", "flow_cc_per_min", 42, 32),
    ("flow twenty two", "flow_cc_per_min", 22, 32),
    ("pulses thirteen", "pulses_per_s", 13, 30),
    ("pulses thirty eight", "pulses_per_s", 38, 30),
)
_OTHER_GRADES = (("clinical grade two", "clinical", 2), ("hardness grade three", "hardness", 3))
# Stop items that came later: theirs stand at the end, so that the others keep their voices.
ADDED = ("mark", "case-number")
# Of these the call and the other values stand at the end, too.
WHOLLY_ADDED = ("case-number",)
_OTHER_NUMBERS = (
    ("eight", 8),
    ("seventeen", 17),
    ("seventy", 70),
    ("zero zero eight", 8),
    ("one zero seven", 107),
    ("eleven", 11),
)
_OTHER_MODELS = ("monofocal bravo", "toric alpha", "toric bravo")


def near_misses(checklist: Checklist, plan: Plan, *, added: str = "") -> list[Text]:
    """Every near miss, item by item, each once; with `added` those of a stop item that came
    later."""
    chance = random.Random(SEED)
    items = items_asked(checklist, plan)
    parts = {item.id: parts_of(item, plan) for item in items if item.stop and item.id not in ADDED}
    texts: list[Text] = []
    if added:
        for item in (one for one in items if one.id == added):
            said_of = _sentences(parts_of(item, plan), list(parts.values()), chance)
            texts += (Text(item.id, family, said, NONE, ANY_ANSWER) for family, said in said_of)
            if item.id in WHOLLY_ADDED:
                texts += _other_values(item, plan)
        return texts
    for item_id, own in parts.items():
        others = [other for name, other in parts.items() if name != item_id]
        for family, said in _sentences(own, others, chance):
            texts.append(Text(item_id, family, said, NONE, ANY_ANSWER))
    for item in items:
        if item.id not in WHOLLY_ADDED:
            texts += _other_values(item, plan)
    return texts


def items_asked(checklist: Checklist, plan: Plan) -> list[Item]:
    """The items asked under this plan: those for a toric lens only where one is planned."""
    return [item for _, item in checklist.all_items() if item.when != "toric lens" or plan.is_toric]


def parts_of(item: Item, plan: Plan) -> Parts:
    """A stop item's answer (for a value: what the plan has) taken apart."""
    match item.compare:
        case "eye":
            return _value_parts("marked eye", str(plan.eye))
        case "lens-power":
            sign = "plus" if plan.lens.power_D >= 0 else "minus"
            reading = power_readings(plan.lens.power_D)[0]
            return _value_parts("lens power", f"{sign} {reading}")
        case "case-number":
            return _value_parts("case number", whole_readings(int(plan.number or 0))[0])
        case "lens-model":
            return _value_parts("lens model", plan.lens.model)
    done = sentences_of(item.done or "")[0].split()
    fault = max(sentences_of(item.fault or ""), key=len).split()
    thing = _longest_common_run(done, fault)
    before, _, after = " ".join(done).partition(" ".join(thing))
    whole = " ".join(done)
    return Parts(whole, " ".join(thing), "" if before else after.strip())


def _value_parts(thing: str, value: str) -> Parts:
    return Parts(f"{thing} {value}", thing, value)


def _sentences(
    own: Parts, others: Sequence[Parts], chance: random.Random
) -> Iterator[tuple[str, str]]:
    templates = _WITH_STATE if own.state else _WITHOUT_STATE
    for family, (count, forms) in templates.items():
        for form in chance.sample(forms, k=count):
            yield family, _filled(form, own)
    for said in _other_things(own, others, chance):
        yield "other-thing", said
    for form in chance.sample(_HEDGES, k=_HEDGES_OF_EACH):
        yield "hedged", _filled(form, own)
    for said in chance.sample(_halves(own), k=_HALVES_OF_EACH):
        yield "half", said


def _filled(form: str, parts: Parts) -> str:
    verbs = {"is": "are", "isnt": "aren't", "was": "were"}
    if not parts.thing.endswith("s"):
        verbs = {"is": "is", "isnt": "isn't", "was": "was"}
    return form.format(D=parts.done, T=parts.thing, S=parts.state, **verbs)


def _other_things(own: Parts, others: Sequence[Parts], chance: random.Random) -> Iterator[str]:
    """Two other items' answers, a neighbour in the same state, the thing in another's state."""
    for other in chance.sample(others, k=2):
        yield other.done
    neighbours = _NEIGHBOURS.get(own.thing, (f"other {own.thing}",))
    yield own.done.replace(own.thing, chance.choice(neighbours))
    states = [other.state for other in others if other.state and other.state != own.state]
    yield f"{own.thing} {chance.choice(states)}"


def _halves(own: Parts) -> list[str]:
    """Beginnings and ends of the answer that are not the whole."""
    words = own.done.split()
    thing, the_thing = own.thing, f"the {own.thing}"
    if not own.state:
        return [thing, the_thing, words[0]]
    return [thing, the_thing, own.state]


def _other_values(item: Item, plan: Plan) -> Iterator[Text]:
    """Permitted values that are not the plan's: taking them for the plan's is the wrong yes."""
    name, family = item.id, "other-value"
    match item.compare:
        case "eye":
            right = "right" if str(plan.eye) == "left" else "left"
            expected, plans = eye_meaning(name, right), eye_meaning(name, str(plan.eye))
            for form in ("marked eye", "marked eye is"):
                yield Text(name, family, f"{form} {right}", expected, plans)
            yield Text(name, family, f"the {right} eye", NONE, plans)
        case "lens-power":
            plans = power_meaning(name, plan.lens.power_D)
            for reading, power_D in _OTHER_POWERS:
                meaning = power_meaning(name, power_D)
                yield Text(name, family, f"lens power {reading}", meaning, plans)
        case "lens-model":
            plans = model_meaning(name, plan.lens.model)
            for model in _OTHER_MODELS:
                meaning = model_meaning(name, model)
                yield Text(name, family, f"lens model {model}", meaning, plans)
        case "case-number":
            plans = number_meaning(name, int(plan.number or 0))
            for reading, number in _OTHER_NUMBERS:
                meaning = number_meaning(name, number)
                yield Text(name, family, f"case number {reading}", meaning, plans)
        case "grade":
            plans = grade_meaning(name, plan.grade.scale, plan.grade.value)
            for text, scale, number in _OTHER_GRADES:
                yield Text(name, family, text, grade_meaning(name, scale, number), plans)
        case "profile":
            for text, quantity, value, cards in _OTHER_SETTINGS:
                said, plans = (setting_meaning(quantity, one) for one in (value, cards))
                yield Text(name, family, text, f"{name}.value {said}", f"{name}.value {plans}")


def _longest_common_run(first: list[str], second: list[str]) -> list[str]:
    """The longest run of words that both hold, the earlier one of equals."""
    runs: list[list[str]] = [
        first[start:end]
        for start in range(len(first))
        for end in range(start + 1, len(first) + 1)
        if any(second[at : at + end - start] == first[start:end] for at in range(len(second)))
    ]
    return max(runs, key=len)
