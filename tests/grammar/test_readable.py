"""A phrase as people would say it: its own words, and "a number" where one is said."""

from __future__ import annotations

import pytest

from voicelist.grammar.abnf import parse_expansion
from voicelist.grammar.readable import written
from voicelist.grammar.ruleset import RuleSet

RULES = RuleSet.from_texts(
    [
        (
            "rules.abnf",
            """#ABNF 1.0 UTF-8;
language en-US;
public $amount = {number} one {1} | two {2};
public $count = {number} (one {1} | two {2});
public $signed = {number} (plus {plus} | minus {minus}) (one {1} | two {2});
public $side = left {left} | right {right};
""",
        )
    ]
)


@pytest.mark.parametrize(
    ("phrase", "text"),
    [
        ("irrigation line firm", "irrigation line firm"),
        ("line [is] (firm | on and firm)", "line firm or on and firm"),
        ("left | right", "left or right"),
        ("lens missing | backup missing", "lens missing, or backup missing"),
        ("eye $side", "eye left or right"),
        ("vacuum $count", "vacuum a number"),
        ("power $signed", "power plus or minus a number"),
        ("known (iodine | latex) ([and] (iodine | latex))<0-3>", "known iodine or latex"),
        ("very<1-3> firm", "very firm"),
        ("say (that | it) again", "say that again"),
        ("(concern | concerns) stated", "concern stated"),
        ("tray (short | of a kind that nobody would name in so many words)", "tray short"),
        ("go {tag} on $missing", "go on"),
    ],
)
def test_a_phrase_is_written_as_it_is_said(phrase: str, text: str) -> None:
    assert written(parse_expansion(phrase, "phrase"), RULES) == text


def test_a_long_choice_is_cut_and_says_so() -> None:
    words = [f"word{'x' * number}" for number in range(20)]
    text = written(parse_expansion(" | ".join(words), "phrase"), RULES)
    assert text.startswith("word, wordx, ")
    assert text.endswith(" or another")
    assert words[-1] not in text
