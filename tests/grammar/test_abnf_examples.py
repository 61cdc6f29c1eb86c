"""Examples of the SRGS 1.0 specification that lie inside the subset, as the public tests of a
converter quote them. Its endless repeats are outside, so the last one ends at two.
"""

from __future__ import annotations

import pytest

from tests.grammar.test_abnf import permits

EXAMPLES = """
public $city = Boston | Philadelphia | Fargo;
public $state = Florida | North Dakota | New York;
public $city_state = $city $state;
$action = /10/ open {OPEN} | /2/ close {CLOSE} | /1/ delete {DELETE} | /1/ move {MOVE};
$object = [the | a] (window | file | menu);
public $command = $action $object;
public $digit = "0" | "1" | "2" | "3";
public $pin = $digit $digit $digit $digit "#" | "*9";
public $topping = cheese | pepperoni;
"""


@pytest.mark.parametrize(
    ("phrase", "permitted", "refused"),
    [
        ("$city_state", ["fargo north dakota", "boston new york"], ["fargo", "fargo dakota"]),
        ("$command", ["open the window", "move a menu", "delete file"], ["open", "the a file"]),
        ("$pin", ["0 1 2 3 #", "*9"], ["0 1 2 3", "0 1 2 #", "0 1 2 3 *9"]),
        ('"   San    Francisco    "', ["san francisco"], ["san", "francisco"]),
        ("[very]big", ["big", "very big"], ["very very big"]),
        ("very   <0-1> big", ["big", "very big"], ["very very big"]),
        ("$digit <4-6>", ["0 1 2 3", "0 0 0 0 0 0"], ["0 1 2", "0 0 0 0 0 0 0"]),
        ("$digit <2-4 /.8/>", ["0 1", "0 1 2 3"], ["0", "0 1 2 3 0"]),
        ("this is a {tag1} test {tag2}", ["this is a test"], ["this is a tag1 test tag2"]),
        (
            "[[very] big] pizza ([with | and] $topping)<0-2>",
            ["pizza", "big pizza with pepperoni", "very big pizza with cheese and pepperoni"],
            ["very pizza", "pizza with", "pizza cheese pepperoni cheese"],
        ),
    ],
)
def test_the_specifications_examples_parse_as_it_says(
    phrase: str, permitted: list[str], refused: list[str]
) -> None:
    for sentence in permitted:
        assert permits(phrase, sentence, EXAMPLES), sentence
    for sentence in refused:
        assert not permits(phrase, sentence, EXAMPLES), sentence
