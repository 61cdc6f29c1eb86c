"""What the subset of SRGS 1.0 ABNF reads, and that all else is refused where it stands.

Section numbers are those of the W3C Recommendation of 16 March 2004. The sections, and the syntax
in its appendix D, are from memory but for what the conformance grammars of the W3C show, which were
read: abnf-precedence, repeat-0-times and alternative-empty-paren. The examples are our own.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.grammar.small_grammars import PHRASES, UTTERANCES, Phrase, Sentence
from voicelist.errors import DocumentError, Problem
from voicelist.grammar.abnf import parse_expansion, parse_rules
from voicelist.grammar.grammar import Grammar
from voicelist.grammar.ruleset import RuleSet
from voicelist.grammar.syntax import Choice, Node, PhrasePlace, Reference, RuleFile, Tag, Token

PartT = TypeVar("PartT")
HEADER = "#ABNF 1.0 UTF-8;\nlanguage en-US;\n"


def rule_file(rules: str) -> RuleFile:
    return parse_rules(HEADER + rules, "rules.abnf")


def permits(phrase: str, sentence: str, rules: str = "") -> bool:
    known = RuleSet.from_texts([("rules.abnf", HEADER + rules)])
    node = parse_expansion(phrase, "phrase.abnf")
    return bool(Grammar({"phrase": node}, known).parses(sentence.split()))


def refusal(phrase: str, line: int = 1, column: int = 1) -> Problem:
    with pytest.raises(DocumentError) as caught:
        parse_expansion(phrase, "phrase.abnf", line, column)
    (problem,) = caught.value.problems
    return problem


def refusal_of_rules(text: str) -> Problem:
    with pytest.raises(DocumentError) as caught:
        parse_rules(text, "rules.abnf")
    (problem,) = caught.value.problems
    return problem


# What is read


@pytest.mark.parametrize(
    ("phrase", "permitted", "refused"),
    [
        # 2.1 tokens: words, and several words in quotes; capitals make no difference
        ("hello", ["hello"], ["hell", "hello hello", ""]),
        ("the patient's eye", ["the patient's eye"], ["the patients eye"]),
        ('"boxed lens" please', ["boxed lens please"], ["boxed please", "lens please"]),
        ("Left", ["left"], ["right"]),
        # 2.2.3 special rules
        ("a $NULL b", ["a b"], ["a", "a null b"]),
        ("a | b $VOID", ["a"], ["b"]),
        # 2.3 sequences and groups
        ("this is (a test)", ["this is a test"], ["this is a", "is this a test"]),
        # 2.4 alternatives, and their weights
        ("left | right", ["left", "right"], ["left right"]),
        ("/10/ small | /2/ medium | large", ["small", "medium", "large"], ["10 small"]),
        ("/3.1415/ pie | /1./ beer | /.25/ cola", ["pie", "beer", "cola"], []),
        # 2.5 repeats
        ("very<3> dense", ["very very very dense"], ["very very dense", "dense"]),
        ("very<0-2> dense", ["dense", "very dense", "very very dense"], ["very very very dense"]),
        ("[very] dense", ["dense", "very dense"], ["very very dense"]),
        ("very<0-1 /0.6/> dense", ["dense", "very dense"], ["very very dense"]),
        # the conformance grammar repeat-0-times: what is repeated no times is not there
        ("way (to go)<0> back", ["way back"], ["way to go back"]),
        ("way $NULL<0> $VOID<0> {tag}<0> back", ["way back"], ["way"]),
        # 2.6 tags are not spoken
        ("go {left} left", ["go left"], ["go left left"]),
        ("go {!{ out = {side: 1}; }!} left", ["go left"], ["go"]),
        # 2.8 precedence: repeat, then sequence, then alternatives; groups before all
        ("repeat this<2>", ["repeat this this"], ["repeat this repeat this"]),
        ("New York | Amsterdam", ["new york", "amsterdam"], ["new amsterdam"]),
        ("New (Mexico | Hampshire)", ["new hampshire"], ["hampshire"]),
        ("foo <2>bar", ["foo foo bar"], ["foo bar bar"]),
        ('a<3> "da da"<1> (a do<1>)<2>', ["a a a da da a do a do"], ["a a a da a do a do"]),
        ("[small | large] pizza", ["pizza", "small pizza"], ["small large pizza"]),
        # comments
        ("a /* not b */ c // nor d", ["a c"], ["a b c"]),
    ],
)
def test_a_phrase_permits_what_the_specification_says(
    phrase: str, permitted: list[str], refused: list[str]
) -> None:
    for sentence in permitted:
        assert permits(phrase, sentence), sentence
    for sentence in refused:
        assert not permits(phrase, sentence), sentence


@given(PHRASES, UTTERANCES)
def test_a_phrase_permits_its_sentences_and_nothing_else(
    phrase: Phrase, utterance: Sentence
) -> None:
    grammar = phrase.grammar()
    for sentence in phrase.sentences:
        assert grammar.parses(sentence)
    assert bool(grammar.parses(utterance)) == (utterance in phrase.sentences)


def test_weights_are_kept_beside_the_alternatives() -> None:
    node = parse_expansion("/10/ small | large | /.5/ medium", "phrase.abnf")
    assert isinstance(node, Choice)
    assert node.weights == (10.0, 1.0, 0.5)


def test_a_tag_is_carried_through_as_it_is_written() -> None:
    assert parse_expansion("{ lens power }", "f") == Tag("lens power")
    assert parse_expansion("{!{ if (x) {y} }!}", "f") == Tag("if (x) {y}")


def test_words_and_references_know_where_they_are_written() -> None:
    node = parse_expansion("lens\n  (power | $model)", "list.yaml", line=7, column=15)
    places = {part.text: part.place for part in parts_of(node, Token)}
    assert places == {
        "lens": PhrasePlace("list.yaml", 7, 15),
        "power": PhrasePlace("list.yaml", 8, 4),
    }
    assert [part.place for part in parts_of(node, Reference)] == [PhrasePlace("list.yaml", 8, 12)]


def parts_of(node: Node, kind: type[PartT]) -> list[PartT]:
    if isinstance(node, kind):
        return [node]
    inner = getattr(node, "parts", None) or ([node.part] if hasattr(node, "part") else [])
    return [found for part in inner for found in parts_of(part, kind)]


# Whole documents


def test_a_document_has_its_declarations_and_rules() -> None:
    file = parse_rules(
        "#ABNF 1.0 UTF-8;\n"
        "language en-US;  // 4.5\n"
        "mode voice;  // 4.6\n"
        "root $order;  // 4.7\n"
        "tag-format <semantics/1.0>;  // 4.8\n"
        'meta "description" is "orders";  // 4.11\n'
        "meta 'in.1' is 'one \"small\" coffee';\n"
        'http-equiv "Content-Type" is "text/plain";\n'
        "/** 3.3: @example a coffee */\n"
        "public $order = a $drink;\n"
        "private $drink = coffee | tea;\n"
        "$extra = milk;\n",
        "rules.abnf",
    )
    assert (file.file, file.language, file.root) == ("rules.abnf", "en-US", "order")
    assert [(rule.name, rule.public) for rule in file.rules] == [
        ("order", True),
        ("drink", False),
        ("extra", False),
    ]
    assert file.rules[1].place == PhrasePlace("rules.abnf", 11, 9)


@pytest.mark.parametrize("header", ["#ABNF 1.0;", "#ABNF 1.0 UTF-8;", "#ABNF 1.0 ISO-8859-1;"])
def test_the_header_may_name_an_encoding(header: str) -> None:
    assert parse_rules(f"{header}\n$a = b;", "rules.abnf").named("a") is not None


@pytest.mark.parametrize(
    ("text", "place", "found", "expected"),
    [
        ("language en-US;\n$a = b;", (1, 1), "no ABNF header", "#ABNF 1.0"),
        ("#ABNF 2.0;\n$a = b;", (1, 1), "no ABNF header", "#ABNF 1.0"),
        ("#ABNF 1.0;\n$a = b", (2, 7), "the end of the text", "';' at the end of rule $a"),
        ("#ABNF 1.0;\n$a b;", (2, 4), "'b'", "'=' after $a"),
        ("#ABNF 1.0;\n$a = ;", (2, 6), "';'", "a word, $rule, group or tag"),
        ("#ABNF 1.0;\n$a = b;\n$a = c;", (3, 1), "rule $a again", "once"),
        ("#ABNF 1.0;\nroot $b;\n$a = b;", (2, 1), "root $b", "a rule of that name"),
        ("#ABNF 1.0;\nroot", (2, 5), "the end of the text", "a rule name"),
        ("#ABNF 1.0;\nmode dtmf;", (2, 6), "'dtmf'", "'voice'"),
        ("#ABNF 1.0;\nlanguage", (2, 9), "the end of the text", "a language tag"),
        ("#ABNF 1.0;\nlanguage ;", (2, 10), "';'", "a language tag"),
        ("#ABNF 1.0;\nlanguage en", (2, 12), "the end of the text", "';' after the language"),
        ("#ABNF 1.0;\nmeta 'a' is 'b'", (2, 16), "the end of the text", "';' after meta"),
        ("#ABNF 1.0;\npublic", (2, 7), "the end of the text", "a rule name"),
        ("#ABNF 1.0;\nbase <http://a.example/>;", (2, 1), "'base'", "a rule name"),
        ("#ABNF 1.0;\nlexicon <http://a.example/>;", (2, 1), "'lexicon'", "a rule name"),
    ],
)
def test_a_broken_document_is_refused_where_it_breaks(
    text: str, place: tuple[int, int], found: str, expected: str
) -> None:
    problem = refusal_of_rules(text)
    assert (problem.file, problem.line, problem.column) == ("rules.abnf", *place)
    assert found in problem.found
    assert expected in problem.expected


# What is outside the subset


@pytest.mark.parametrize(
    ("phrase", "column", "found", "expected"),
    [
        ("a $GARBAGE b", 3, "$GARBAGE", "outside the subset"),
        ("a $<http://a.example/g#b>", 3, "'$'", "grammar addresses are outside the subset"),
        ("a<2->", 2, "<2->", "a bounded repeat"),
        ("a<0->", 2, "<0->", "a bounded repeat"),
        ("a<3-2>", 2, "<3-2>", "least <= most"),
        ("a<33>", 2, "<33>", "<= 32"),
        ("a*", 2, "'*'", "the star is outside the subset"),
        ("a+", 2, "'+'", "the plus is outside the subset"),
        ("oui!fr-FR", 1, "'oui!'", "no language attached"),
        ("()", 2, "')'", "a word, $rule, group or tag"),
        ("[]", 2, "']'", "a word, $rule, group or tag"),
        ("/0/ a | b", 1, "weight 0.0", "above zero"),
        ("a | | b", 5, "'|'", "a word, $rule, group or tag"),
        ("a |", 4, "the end of the text", "a word, $rule, group or tag"),
        ("(a | b", 7, "the end of the text", "')' to close the group"),
        ("[a | b)", 7, "')'", "']' to close the optional part"),
        ("a)", 2, "')'", "the end of the phrase"),
        ("a; b", 2, "';'", "the end of the phrase"),
        ("{unclosed a", 1, "'{'", "a tag closed by }"),
        ('"unclosed a', 1, "'\"'", "a quoted phrase closed on its line"),
        ('"" a', 1, '""', "at least one word"),
        ("'single' a", 1, "'single'", "a word"),
        ("<address>", 1, "<address>", "a word"),
        ("$first-half", 7, "'-'", "a word"),
        ("vacuum, please", 7, "','", "a word"),
        ("", 1, "the end of the text", "a word, $rule, group or tag"),
    ],
)
def test_what_is_outside_the_subset_is_refused_where_it_stands(
    phrase: str, column: int, found: str, expected: str
) -> None:
    problem = refusal(phrase, line=12, column=20)
    assert (problem.file, problem.line, problem.column) == ("phrase.abnf", 12, 19 + column)
    assert found in problem.found
    assert expected in problem.expected


def test_brackets_without_end_are_refused_not_a_crash() -> None:
    assert "brackets" in refusal("(" * 5000 + "a" + ")" * 5000).found
    assert permits("(" * 50 + "a" + ")" * 50, "a")


@given(st.text(alphabet="ab $<>0123-[](){}|/;\"'!*\n#", max_size=40))
def test_any_phrase_is_read_or_refused_at_a_place_inside_it(text: str) -> None:
    lines = text.split("\n")
    for problem in problems_of(parse_expansion, text):
        assert 1 <= problem.line <= len(lines)
        assert 1 <= problem.column <= len(lines[problem.line - 1]) + 1


@given(
    st.text(alphabet="ab $=;|.\n", max_size=30), st.sampled_from(["", "language", "root", "mode"])
)
def test_any_document_is_read_or_refused_at_a_place_inside_it(text: str, first: str) -> None:
    document = f"#ABNF 1.0;\n{first} {text}"
    lines = document.split("\n")
    for problem in problems_of(parse_rules, document):
        assert 1 <= problem.line <= len(lines)
        assert 1 <= problem.column <= len(lines[problem.line - 1]) + 1


def problems_of(read: Callable[[str, str], object], text: str) -> tuple[Problem, ...]:
    try:
        read(text, "file")
    except DocumentError as error:
        return error.problems
    return ()


# Rule sets


def test_all_broken_files_are_reported_at_once() -> None:
    with pytest.raises(DocumentError) as caught:
        RuleSet.from_texts([("one", HEADER + "$a = ;"), ("two", "none"), ("three", HEADER)])
    assert [problem.file for problem in caught.value.problems] == ["one", "two"]


def test_a_public_name_belongs_to_one_file() -> None:
    texts = [("one", HEADER + "public $a = b;"), ("two", HEADER + "\npublic $a = c;")]
    with pytest.raises(DocumentError) as caught:
        RuleSet.from_texts(texts)
    (problem,) = caught.value.problems
    assert (problem.file, problem.line, problem.column) == ("two", 4, 8)
    assert "one:3" in problem.expected


def test_a_private_rule_is_seen_in_its_own_file_only() -> None:
    rules = RuleSet.from_texts([("one", HEADER + "public $a = $b; $b = x;")])
    assert Grammar({"phrase": Reference("a", PhrasePlace("f", 1, 1))}, rules).parses(["x"])
    with pytest.raises(DocumentError) as caught:
        Grammar({"phrase": parse_expansion("$b", "list.yaml", 3, 9)}, rules)
    (problem,) = caught.value.problems
    assert (problem.file, problem.line, problem.column) == ("list.yaml", 3, 9)
    assert "$a" in problem.expected


def test_a_files_own_rule_goes_before_a_public_one_of_the_same_name() -> None:
    rules = RuleSet.from_texts(
        [
            ("one", HEADER + "public $unit = theirs;"),
            ("two", HEADER + "public $a = $unit; $unit = ours;"),
        ]
    )
    grammar = Grammar({"phrase": parse_expansion("$a", "f")}, rules)
    assert grammar.parses(["ours"])
    assert not grammar.parses(["theirs"])


def test_unknown_and_recursive_rules_are_reported_all_at_once() -> None:
    rules = RuleSet.from_texts([("one", HEADER + "public $a = x $b; public $b = y [$a];")])
    roots = {
        "first": parse_expansion("$a $nowhere", "list.yaml", 3, 9),
        "second": parse_expansion("$lost | z", "list.yaml", 4, 9),
    }
    with pytest.raises(DocumentError) as caught:
        Grammar(roots, rules)
    found = [(one.file, one.line, one.column, one.found) for one in caught.value.problems]
    assert found == [
        ("one", 3, 34, "a rule inside itself ($a -> $b -> $a)"),
        ("list.yaml", 3, 12, "$nowhere"),
        ("list.yaml", 4, 9, "$lost"),
    ]


def test_rules_that_all_hold_one_another_are_refused_quickly() -> None:
    names = [f"$r{number}" for number in range(12)]
    text = "".join(f"public {name} = x ({' | '.join(names)});\n" for name in names)
    rules = RuleSet.from_texts([("one", HEADER + text)])
    with pytest.raises(DocumentError) as caught:
        Grammar({"phrase": parse_expansion("$r0", "f")}, rules)
    assert all("a rule inside itself" in problem.found for problem in caught.value.problems)


@pytest.mark.parametrize(
    "rules",
    [
        "".join(f"public $r{n} = $r{n + 1} $r{n + 1};" for n in range(40)) + "public $r40 = x;",
        "public $r0 = ((((((x<32>)<32>)<32>)<32>)<32>)<32>)<32>;",
        "public $r0 = (((($NULL<32>)<32>)<32>)<32>)<32>;",
        "".join(f"public $r{n} = x $r{n + 1};" for n in range(400)) + "public $r400 = x;",
    ],
    ids=["doubling", "repeats in repeats", "repeats of nothing", "four hundred deep"],
)
def test_rules_without_measure_are_refused(rules: str) -> None:
    known = RuleSet.from_texts([("one", HEADER + rules)])
    with pytest.raises(DocumentError) as caught:
        Grammar({"phrase": parse_expansion("$r0", "f")}, known)
    (problem,) = caught.value.problems
    assert "too large" in problem.found
