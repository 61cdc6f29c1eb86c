"""A phrase written out for people: its own words, with NUMBER where a number is said."""

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
        ("line [is] (firm | on and firm)", "line [is] (firm | on and firm)"),
        ("left | right", "left | right"),
        ("eye $side", "eye (left | right)"),
        ("vacuum $count", "vacuum NUMBER"),
        ("power $signed", "power (plus | minus) NUMBER"),
        ("known (iodine | latex) ([and] (iodine | latex))<0-3>", "known (iodine | latex) [...]"),
        ("very<1-3> firm", "very [...] firm"),
        ("go {tag} on $missing", "go on $missing"),
    ],
)
def test_a_phrase_is_written_as_it_is_said(phrase: str, text: str) -> None:
    assert written(parse_expansion(phrase, "phrase"), RULES) == text


def test_a_long_choice_is_cut_and_says_so() -> None:
    words = [f"word{'x' * number}" for number in range(20)]
    text = written(parse_expansion(" | ".join(words), "phrase"), RULES)
    assert text.startswith("word | wordx | ")
    assert text.endswith(" | ...")
    assert words[-1] not in text
