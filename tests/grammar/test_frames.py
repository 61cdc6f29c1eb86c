"""Frames read along the words permit what their rules permit, whatever a name stands for.

The sentences of each phrase are worked out beside its text, by what the operators do to sets of
sentences: W3C Speech Recognition Grammar Specification 1.0, sections 2.1 to 2.5.
"""

from __future__ import annotations

from hypothesis import given

from tests.grammar.small_grammars import PHRASES, UTTERANCES, Phrase, Sentence, joined
from voicelist.grammar.abnf import parse_expansion
from voicelist.grammar.frames import Frames
from voicelist.grammar.ruleset import RuleSet

HEAD = "#ABNF 1.0 UTF-8;\nlanguage en-US;\n"


def rules_of(inner: Phrase, outer: str = "") -> RuleSet:
    """A frame around a phrase, a choice of both, and a name that no rule has."""
    text = (
        f"{HEAD}public $inner = {inner.text};\n"
        f"public $frame = [well] $inner ( so | $inner )<0-1> $thing;\n{outer}"
    )
    return RuleSet.from_texts((("frames.abnf", text),))


def framed(inner: Phrase, thing: Phrase) -> frozenset[Sentence]:
    behind = frozenset({(), ("so",)}) | inner.sentences
    opened = joined(frozenset({(), ("well",)}), inner.sentences)
    return joined(joined(opened, behind), thing.sentences)


@given(PHRASES, PHRASES, UTTERANCES)
def test_a_frame_holds_its_sentences_and_no_others(
    inner: Phrase, thing: Phrase, said: Sentence
) -> None:
    plain = Frames(rules_of(inner))
    bound = plain.with_bound({"thing": parse_expansion(thing.text, "item.yaml")})
    every = framed(inner, thing) if inner.sentences else frozenset[Sentence]()
    for words in (said, ("well", *said), *sorted(every)[:40]):
        assert bound.holds("frame", words) == (words in every)
        assert plain.holds("inner", words) == (words in inner.sentences)
        assert not plain.holds("frame", words)
    for start in range(len(said) + 1):
        ends = {end for end in range(start, len(said) + 1) if said[start:end] in inner.sentences}
        assert plain.ends("inner", said, start) == ends


@given(PHRASES, PHRASES)
def test_a_name_that_is_bound_goes_before_a_rule_of_that_name(inner: Phrase, thing: Phrase) -> None:
    frames = Frames(rules_of(inner, "public $thing = never said;\n"))
    assert all(frames.holds("thing", words) == (words == ("never", "said")) for words in SAID)
    bound = frames.with_bound({"thing": parse_expansion(thing.text, "item.yaml")})
    every = framed(inner, thing) if inner.sentences else frozenset[Sentence]()
    for words in (*SAID, *sorted(every)[:40]):
        assert bound.holds("frame", words) == (words in every)


SAID: tuple[Sentence, ...] = ((), ("never",), ("never", "said"), ("red", "never", "said"))
