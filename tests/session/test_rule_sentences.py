"""What is said when a rule fires: short, calm, naming both numbers, and never an answer itself."""

from __future__ import annotations

import re
from functools import cache

import pytest

from tests.clinical.rule_examples import EXAMPLES
from tests.session.talk import shipped_bundle
from voicelist.clinical.profile import Finding
from voicelist.clinical.rules import RULES, findings
from voicelist.documents.sentences import Sentences
from voicelist.grammar.grammar import Grammar
from voicelist.grammar.ruleset import RuleSet
from voicelist.grammar.syntax import PhrasePlace, Reference
from voicelist.listening.typed import typed_words
from voicelist.session.catalogue import READ_BACK_WORDS_AT_MOST, READ_BACKS
from voicelist.session.rule_sentences import SENTENCES, sentence_for
from voicelist.session.wording import shown, spoken

# Heard or expected is in the words of the sentence itself, not as a value.
IN_WORDS = {
    ("flow-on-venturi", "none"),
    ("pulses-in-continuous", "continuous"),
    ("unit-missing", "cm or mmHg"),
}


def finding_of(name: str) -> Finding:
    one = EXAMPLES[name]
    return next(found for found in findings(one.fires, one.limits) if found.rule == name)


@cache
def whole_grammar() -> Grammar:
    """What a checklist may permit that asks for all of a profile, a lens, a grade."""
    rules = RuleSet.from_texts(shipped_bundle().rules.items())
    names = ("profile", "settings", "lens_power", "grade", "side", "accept", "confirm_profile")
    return Grammar({name: Reference(name, PhrasePlace(name, 1, 1)) for name in names}, rules)


@pytest.mark.parametrize("name", RULES)
def test_a_read_back_has_at_most_twelve_words(name: str) -> None:
    text = sentence_for(shipped_bundle().sentences, finding_of(name))
    assert len(text.split()) <= READ_BACK_WORDS_AT_MOST, text


@pytest.mark.parametrize("name", RULES)
def test_a_read_back_names_what_was_heard_and_what_was_expected(name: str) -> None:
    found = finding_of(name)
    text = sentence_for(shipped_bundle().sentences, found)
    for value in (found.heard, found.expected):
        if (name, value) not in IN_WORDS:
            assert shown(value) in text


@pytest.mark.parametrize("name", RULES)
def test_a_read_back_is_calm(name: str) -> None:
    text = sentence_for(shipped_bundle().sentences, finding_of(name))
    assert not re.search(r"wrong|fault|danger|alarm|error|fail", text, re.IGNORECASE)


@pytest.mark.parametrize("name", RULES)
def test_no_run_of_words_in_a_read_back_is_an_answer(name: str) -> None:
    """The assistant must not be able to answer itself, not even where all may be said."""
    bundle = shipped_bundle()
    text = sentence_for(bundle.sentences, finding_of(name))
    aloud = typed_words(spoken(bundle.sentences, bundle.lexicon, text), "en")
    for words in (aloud, typed_words(text, "en")):
        assert whole_grammar().graph.accepted_run(words) is None, words


def test_every_sentence_of_a_rule_is_known_and_held_to_the_length_of_a_read_back() -> None:
    used = {one.sentence for one in RULES.values()}
    assert used <= set(SENTENCES)
    assert set(SENTENCES) <= set(READ_BACKS)


def test_dioptres_are_read_back_with_their_sign() -> None:
    assert sentence_for(shipped_bundle().sentences, finding_of("lens-sources")) == (
        "Lens power is +21 on the box, +21.5 elsewhere. Please check."
    )


@pytest.mark.parametrize("name", RULES)
def test_the_sentences_of_an_older_record_are_enough(name: str) -> None:
    """A case that was begun before a rule had its own sentence goes on without it."""
    texts = {
        "card-differs": "{quantity} is {heard}; the card says {expected}.",
        "cannot-be": "{quantity} cannot be {heard}. Please correct it.",
    }
    older = Sentences(format=1, language="en-US", sentences=texts)
    assert sentence_for(older, finding_of(name))
