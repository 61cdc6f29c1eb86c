"""A small room to be understood in: a few phrases, its words, and utterances in it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from voicelist.grammar.abnf import parse_expansion
from voicelist.grammar.grammar import Grammar
from voicelist.grammar.ruleset import RuleSet
from voicelist.understanding.interpretation import (
    EDGE_NOISE_AT_MOST_S,
    Context,
    Hypothesis,
    Understanding,
    understand,
)
from voicelist.understanding.room_words import Room

RULES = RuleSet.from_texts(
    [
        (
            "rules",
            "#ABNF 1.0 UTF-8;\n"
            "public $negations = not | no | isn't | never;\n"
            "public $questions = is | are | did | when;\n"
            "public $doubts = yet | later | almost | if;\n"
            "public $function_words = the | and | is | it | please;\n"
            "public $talk = i | you | good | morning | still;\n"
            "public $hold_on = hold on please;\n"
            "public $side = left {left} | right {right};\n"
            "public $model = alpha | bravo;\n"
            "public $pulses = {pulses_per_s} pulses [at] $count;\n"
            "public $count = {number} (one {1} | two {2});\n"
            "public $pressure = {infusion_mmHg} {likely 10 to 150} pressure $amount;\n"
            "public $amount = {number} (eight {8} | eighty {80} | fifty {50} | fifteen {15}\n"
            " | one twenty five {125});\n"
            "public $asking = give | get | me;\n"
            "public $drink = $verb (tea | milk);\n"
            "$verb = get me | give me;\n"
            "public $order = lay out the tray with $what for $amount people sitting down;\n"
            "public $what = almond oil | some soy oil | salt;\n"
            "public $said_before = if | is the;\n"
            "public $said_inside = not | (will | should) be;\n"
            "public $said_behind = later | in a minute;\n",
        )
    ]
)
PHRASES = {
    "line.done": "irrigation line (firm | on and firm)",
    "line.fault": "irrigation line (loose | leaking)",
    "consent.done": "identity and consent confirmed",
    "allergies.done": "no known allergies",
    "eye.value": "marked eye [is] $side",
    "bottle.done": "bottle full",
    "model.done": "lens model mono focal",
    "command.hold_on": "$hold_on",
    "twice.done": "same words",
    "twice.fault": "same words",
    "which.value": "model $model",
    "pulses.value": "$pulses",
    "pressure.value": "$pressure",
    "count.value": "count (one {1} | one two {12} | one one one {111})",
    "drink.value": "$drink",
    "order.value": "$order",
    "tray.value": "lay out a tray of $what for the list of this morning",
    "digit.value": "six {6} | eight {8}",
    "both.value": "$pressure $pulses",
    "unsure.value": "turn (about {left} | about {right})",
}
UNK = "[unk]"
SHORT_S = EDGE_NOISE_AT_MOST_S - 0.01
LONG_S = EDGE_NOISE_AT_MOST_S + 0.01


def context(*active: str) -> Context:
    nodes = {name: parse_expansion(phrase, name) for name, phrase in PHRASES.items()}
    return Context(Grammar(nodes, RULES), frozenset(active or PHRASES), Room.from_rules(RULES))


def heard(
    *sentences: str,
    second_look: Sequence[str] = (),
    active: tuple[str, ...] = (),
    apart: float = 3.0,
    faint: tuple[int, int] = (0, 0),
    amid_talk: bool = False,
) -> Understanding:
    """What the sentences amount to, best first, of both looks each so far `apart` from the next;
    so many words of the best are `faint`, and others talk."""
    first, second = ranked(sentences, apart), ranked(second_look, apart)
    best = replace(first[0], faint=faint)
    told = [replace(one, amid_talk=amid_talk) for one in (best, *first[1:])]
    return understand(told, second, context(*active))


def ranked(sentences: Sequence[str], apart: float) -> list[Hypothesis]:
    return [
        Hypothesis(tuple(sentence.split()), score=-apart * rank)
        for rank, sentence in enumerate(sentences)
    ]


def timed(*words: tuple[str, float]) -> Hypothesis:
    return Hypothesis(tuple(word for word, _ in words), tuple(seconds for _, seconds in words))
