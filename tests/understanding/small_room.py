"""A small room to be understood in: a few phrases, its words, and utterances in it."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from voicelist.grammar.abnf import parse_expansion
from voicelist.grammar.grammar import Grammar
from voicelist.grammar.ruleset import RuleSet
from voicelist.understanding.context import Context
from voicelist.understanding.hypothesis import Hypothesis, NBest, Passes
from voicelist.understanding.interpretation import Understanding, understand
from voicelist.understanding.policy import POLICY
from voicelist.understanding.questions import (
    DecodeAgain,
    ForcedChoice,
    FreeTranscript,
    Question,
    Reply,
    Transcript,
    VerifierScores,
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
            "public $said_behind = later | in a minute;\n"
            "public $links = and;\n"
            "public $denying_endings = n't;\n",
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
UNLIKELY = -60.0
SHORT_S = POLICY.edge_noise_at_most_s - 0.01
LONG_S = POLICY.edge_noise_at_most_s + 0.01


def context(*active: str) -> Context:
    nodes = {name: parse_expansion(phrase, name) for name, phrase in PHRASES.items()}
    return Context(Grammar(nodes, RULES), frozenset(active or PHRASES), Room.from_rules(RULES))


def heard(
    *sentences: str,
    second_pass: Sequence[str] = (),
    active: tuple[str, ...] = (),
    apart: float = 3.0,
    background: tuple[int, int] = (0, 0),
    amid_babble: bool = False,
) -> Understanding:
    """What the sentences amount to, best first, in both passes each so far `apart` from the next;
    so many words of the best are as faint as the `background`, and others talk."""
    first, second = ranked(sentences, apart), ranked(second_pass, apart)
    best = replace(first[0], background=background)
    told = [replace(one, amid_babble=amid_babble) for one in (best, *first[1:])]
    return understand(told, second, context(*active))


def ranked(sentences: Sequence[str], apart: float) -> NBest:
    return tuple(
        Hypothesis(tuple(sentence.split()), score=-apart * rank)
        for rank, sentence in enumerate(sentences)
    )


def timed(*words: tuple[str, float]) -> Hypothesis:
    """Words of so many seconds, one after the other."""
    ends_s = list(itertools.accumulate(seconds for _, seconds in words))
    spans_s = tuple(zip((0.0, *ends_s), ends_s, strict=False))
    return Hypothesis(tuple(word for word, _ in words), spans_s)


class Answers:
    """A decoder with a clock of its own that answers as it is told; a question takes `takes_s`
    seconds. Decodes again what comes next in `decodings`; the verifier finds sentences as `likely`
    as told, all others unlikely, and hears `free`; in a forced choice they are as `near` as told.
    Without any of these it does not answer. Keeps what it was asked."""

    def __init__(
        self,
        decodings: Iterable[Passes | None] = (),
        *,
        likely: Mapping[str, float] | None = None,
        free: Transcript | None = None,
        near: Mapping[str, float] | None = None,
        takes_s: float = 0.0,
    ) -> None:
        self._decodings = iter(decodings)
        self._likely, self._free, self._near = likely, free, near
        self._takes_s, self._now_s = takes_s, 100.0
        self.asked: list[Question] = []

    def now_s(self) -> float:
        return self._now_s

    def ask(self, question: Question, by_s: float) -> Reply | None:
        self.asked.append(question)
        in_time = self._now_s + self._takes_s < by_s
        self._now_s = min(by_s, self._now_s + self._takes_s)
        return self._reply(question) if in_time else None

    def _reply(self, question: Question) -> Reply | None:
        match question:
            case DecodeAgain():
                return next(self._decodings, None)
            case FreeTranscript():
                return self._free
            case VerifierScores(texts):
                told, far = self._likely, UNLIKELY
            case ForcedChoice(sentences):
                texts = tuple(map(" ".join, sentences))
                told, far = self._near, -math.inf
        return None if told is None else tuple(told.get(text, far) for text in texts)

    def scored(self) -> list[str]:
        """What was put to the verifier."""
        questions = (one for one in self.asked if isinstance(one, VerifierScores))
        return [text for one in questions for text in one.sentences]

    def compared(self) -> list[str]:
        """What stood in forced choices."""
        questions = (one for one in self.asked if isinstance(one, ForcedChoice))
        return [" ".join(words) for one in questions for words in one.sentences]

    def speeds(self) -> list[float]:
        """At which speeds it was to decode again."""
        return [one.speed for one in self.asked if isinstance(one, DecodeAgain)]
