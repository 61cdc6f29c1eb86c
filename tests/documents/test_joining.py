"""What a site has of its own adds to what ships; of two entries of one name the site's counts."""

from __future__ import annotations

from pathlib import Path

import pytest

from voicelist.documents.finding import Shelves
from voicelist.documents.joining import (
    joined_lexicon,
    joined_rules,
    joined_sentences,
    load_lexicon_beside,
    load_rules,
)
from voicelist.errors import DocumentError, Problem
from voicelist.grammar.abnf import parse_expansion
from voicelist.grammar.grammar import Grammar
from voicelist.grammar.ruleset import RuleSet

OURS, SHIPPED = "ours", "shipped"
RULES = """\
#ABNF 1.0 UTF-8;
language en-US;
// Commas; and "quotes; in" comments end nothing.
public $role = nurse {nurse;} | doctor {doctor};
public $hand_over = $role handing over $private;
$private = now | "at once";
"""
LEXICON = """\
format: 1
language: en-US
words:
  - {written: phaco, say: fayko}
  - {written: toric, say: torrick}
"""
SENTENCES = 'format: 1\nlanguage: en-US\nsentences:\n  one: "One."\n  two: "Two."\n'


@pytest.fixture
def shelves(tmp_path: Path) -> Shelves:
    texts = {"rules/team.abnf": RULES, "lexicon.yaml": LEXICON, "sentences.en.yaml": SENTENCES}
    for name, text in texts.items():
        write(tmp_path / SHIPPED / name, text)
    (tmp_path / OURS).mkdir()
    return Shelves.around(tmp_path / OURS, tmp_path / SHIPPED)


def write(path: Path, text: str) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")


def ours(shelves: Shelves, name: str, text: str) -> None:
    write(shelves.folders[0] / name, text)


def says(shelves: Shelves, phrase: str, words: str) -> bool:
    rules = RuleSet.from_texts(load_rules(shelves)[0].items())
    return bool(Grammar({"said": parse_expansion(phrase, "phrase")}, rules).parses(words.split()))


def notes_of(shelves: Shelves) -> list[Problem]:
    problems: list[Problem] = []
    notes: list[Problem] = []
    joined_rules(shelves, problems, notes)
    joined_lexicon(shelves, problems, notes)
    joined_sentences(shelves, "en", problems, notes)
    assert problems == []
    return notes


def test_a_word_of_the_sites_own_leaves_the_shipped_ones_as_they_are(shelves: Shelves) -> None:
    ours(shelves, "lexicon.yaml", LEXICON.replace("phaco", "stent").replace("toric", "TORIC"))
    lexicon = load_lexicon_beside(shelves)
    assert lexicon is not None
    assert [word.written for word in lexicon.words] == ["stent", "TORIC", "phaco"]
    assert lexicon.to_speech("stent phaco toric") == "fayko fayko torrick"


def test_of_two_words_the_sites_counts_and_a_note_says_so(shelves: Shelves) -> None:
    ours(shelves, "lexicon.yaml", LEXICON.replace("torrick", "toe rick"))
    lexicon = load_lexicon_beside(shelves)
    assert lexicon is not None
    assert lexicon.to_speech("phaco toric") == "fayko toe rick"
    (note,) = notes_of(shelves)
    other = shelves.folders[1] / "lexicon.yaml"
    assert note.note
    assert (note.file, note.line) == (str(shelves.folders[0] / "lexicon.yaml"), 5)
    assert note.found == f"the word toric in place of what {other} has"


def test_a_word_is_told_of_in_the_file_that_has_it(shelves: Shelves) -> None:
    ours(shelves, "lexicon.yaml", "format: 1\nlanguage: en-US\nwords:\n  - {written: a, say: b}\n")
    joined = joined_lexicon(shelves, [], [])
    assert joined is not None
    files = [joined.place_of(("words", at, "say")).file for at in range(3)]
    assert [Path(file).parent.name for file in files] == [OURS, SHIPPED, SHIPPED]
    assert joined.place_of(("words", 2, "written")).line == 5


def test_sentences_add_up_and_the_sites_wording_counts(shelves: Shelves) -> None:
    ours(
        shelves, "sentences.en.yaml", SENTENCES.replace('"Two."', '"Second."').replace("one", "six")
    )
    joined = joined_sentences(shelves, "en", [], [])
    assert joined is not None
    assert dict(joined.document.sentences) == {"six": "One.", "two": "Second.", "one": "One."}
    assert [one.found.partition(" in place")[0] for one in notes_of(shelves)] == [
        "the sentence two"
    ]
    assert Path(joined.place_of(("sentences", "one")).file).parent.name == SHIPPED


@pytest.mark.parametrize("file", ["rules/ours.abnf", "rules/team.abnf"])
def test_a_rule_of_the_site_counts_also_where_a_shipped_one_refers_to_it(
    shelves: Shelves, file: str
) -> None:
    ours(shelves, file, "#ABNF 1.0;\nlanguage en-GB;\npublic $role = midwife {midwife};\n")
    assert says(shelves, "$hand_over", "midwife handing over at once")
    assert not says(shelves, "$hand_over", "nurse handing over now")
    (note,) = notes_of(shelves)
    assert note.found.startswith("the rule $role in place of what ")
    assert (note.line, note.column) == (3, 1)


def test_private_rules_of_two_files_of_one_name_are_two(shelves: Shelves) -> None:
    text = "#ABNF 1.0;\nlanguage en-US;\npublic $mine = so $private;\n$private = it is;\n"
    ours(shelves, "rules/team.abnf", text)
    assert says(shelves, "$mine", "so it is")
    assert says(shelves, "$hand_over", "doctor handing over now")
    assert notes_of(shelves) == []


def test_the_rest_of_a_shipped_file_keeps_its_lines(shelves: Shelves) -> None:
    ours(shelves, "rules/ours.abnf", "#ABNF 1.0;\npublic $role = midwife;\n")
    (shelves.folders[1] / "rules/team.abnf").write_text(
        RULES.replace('| "at once"', "| ("), encoding="utf-8"
    )
    with pytest.raises(DocumentError) as caught:
        RuleSet.from_texts(load_rules(shelves)[0].items())
    assert [(one.file, one.line) for one in caught.value.problems] == [("team", 6)]


def test_what_is_the_same_is_no_matter_for_a_note(shelves: Shelves) -> None:
    for name, text in (("lexicon.yaml", LEXICON), ("sentences.en.yaml", SENTENCES)):
        ours(shelves, name, text)
    ours(shelves, "rules/team.abnf", RULES.replace(" | ", "  |\n  "))
    assert notes_of(shelves) == []
    assert says(shelves, "$hand_over", "nurse handing over now")


def test_two_rules_of_one_name_in_one_folder_are_still_a_problem(shelves: Shelves) -> None:
    for name in ("one", "two"):
        ours(shelves, f"rules/{name}.abnf", "#ABNF 1.0;\npublic $role = midwife;\n")
    with pytest.raises(DocumentError) as caught:
        RuleSet.from_texts(load_rules(shelves)[0].items())
    assert [one.found for one in caught.value.problems] == ["public $role"]


def test_what_ships_in_another_language_stays_away(shelves: Shelves) -> None:
    ours(shelves, "lexicon.yaml", LEXICON.replace("en-US", "de-DE").replace("phaco", "phako"))
    ours(shelves, "rules/ours.abnf", "#ABNF 1.0;\nlanguage de-DE;\npublic $rolle = pflege;\n")
    lexicon = load_lexicon_beside(shelves)
    assert lexicon is not None
    assert [word.written for word in lexicon.words] == ["phako", "toric"]
    assert list(load_rules(shelves)[0]) == ["ours"]
