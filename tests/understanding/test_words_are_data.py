"""What turns a meaning, and the small words of a language, are rules: no code compares them with
what was said, so that another language needs none."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

from voicelist.grammar.ruleset import RuleSet
from voicelist.understanding.particles import Particles
from voicelist.understanding.plain_speech import NaturalAnswers
from voicelist.understanding.room_words import Room

ROOT = Path(__file__).parents[2]
RULES = RuleSet.from_texts(
    [(one.name, one.read_text("utf-8")) for one in sorted((ROOT / "grammars/rules").glob("*.abnf"))]
)
# Rules whose words deny, doubt, ask, open, fill or link.
_SMALL = (
    *("negations", "questions", "doubts", "function_words", "asking", "denials"),
    *("denying_endings", "links", "said_before", "said_inside", "said_behind"),
    *("denying", "denying_a_verb", "beside_a_denial", "denying_at_first", "lasting"),
    *("asking_for", "likening", "making_a_question", "there_is_some", "telling_of_some"),
    *("behind_an_opening", "naming_nothing", "letters_of_units"),
    *("yes", "hesitations", "fillers", "negated", "subjects", "articles"),
)
# Names of rules are no words, but for one of which no code has to know the name.
_NAMES = frozenset(RULES.public_names()) - {"yes"}
WORDS = frozenset(word for rule in _SMALL for word in RULES.words(rule)) - _NAMES
# The same letters that are no words of anybody: names of this program.
NAMES_OF_THE_PROGRAM = {
    ("voicelist/session/answers_in_words.py", " or "): "for the screen, which is in English",
    ("voicelist/session/rule_sentences.py", "other"): "a value in the sentence of a rule",
}
_CUT = {"removesuffix", "removeprefix", "startswith", "endswith", "split", "partition", "join"}


def _compared(tree: ast.AST) -> Iterator[ast.expr]:
    """What stands in comparisons, in rows of values, in joined words, or is cut off a word."""
    for node in ast.walk(tree):
        match node:
            case ast.Compare():
                yield from (node.left, *node.comparators)
            case ast.Tuple() | ast.List() | ast.Set():
                yield from node.elts
            case ast.BinOp():
                yield from (node.left, node.right)
            case ast.MatchValue():
                yield node.value
            case ast.Call(func=ast.Attribute(value=value, attr=attr)) if attr in _CUT:
                yield from (value, *node.args)


def words_compared(source: str) -> Iterator[str]:
    """The constants among these that hold nothing but small words of the language."""
    for node in _compared(ast.parse(source)):
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            words = node.value.split()
            if words and WORDS.issuperset(words):
                yield node.value


MODULES = sorted(
    path.relative_to(ROOT).as_posix()
    for layer in ("understanding", "listening", "session")
    for path in (ROOT / "voicelist" / layer).rglob("*.py")
)


@pytest.mark.parametrize("module", MODULES)
def test_no_small_word_of_the_language_stands_in_code(module: str) -> None:
    found = set(words_compared((ROOT / module).read_text("utf-8")))
    assert not {one for one in found if (module, one) not in NAMES_OF_THE_PROGRAM}


def test_each_exception_is_still_there() -> None:
    for module, name in NAMES_OF_THE_PROGRAM:
        assert name in set(words_compared((ROOT / module).read_text("utf-8")))


@pytest.mark.parametrize(
    "source",
    [
        'if "not" in words: pass',
        '_FIRM = ("never", "x")',
        'word + "n\'t"',
        'word.removesuffix("n\'t")',
        '" and ".join(words)',
        'match word:\n    case "please": pass',
    ],
)
def test_a_word_in_code_is_found(source: str) -> None:
    assert list(words_compared(source))


def test_every_small_word_that_code_asks_for_is_a_rule() -> None:
    assert Particles.from_rules(RULES).are_complete()
    room = Room.from_rules(RULES)
    assert room.denials
    assert room.denying_endings
    assert room.links


def test_without_the_small_words_nothing_is_taken_for_an_answer() -> None:
    texts = {
        one.name: one.read_text("utf-8") for one in sorted((ROOT / "grammars/rules").glob("*.abnf"))
    }
    lines = texts["answers.abnf"].splitlines()
    texts["answers.abnf"] = "\n".join(one for one in lines if not one.startswith("public $lasting"))
    answers = NaturalAnswers(RuleSet.from_texts(texts.items()))
    assert answers.asks_or_orders(("it", "is", "firm"))
    assert not NaturalAnswers(RULES).asks_or_orders(("it", "is", "firm"))


def test_a_denial_is_taken_off_a_word() -> None:
    room = Room.from_rules(RULES)
    assert room.affirmed("isn't") == ("is",)
    assert room.affirmed("not") == ()
