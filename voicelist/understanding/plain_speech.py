"""Answers as people put them, for the item that is asked: what an utterance amounts to under frames
of the language, or that it amounts to nothing.

An utterance is an answer at once only if frames cover all of it. Where they cover a whole clause of
it, and nothing around that clause asks, doubts, denies, puts off or reports what others said, it is
`LOOSE`: it may be read back, and passes nothing by itself.
"""

from __future__ import annotations

from collections.abc import Container, Iterator, Mapping, Sequence

from voicelist.grammar.budget import TooLarge
from voicelist.grammar.frames import Frames
from voicelist.grammar.ruleset import RuleSet
from voicelist.grammar.syntax import Node, PhrasePlace, Reference, Void
from voicelist.understanding.amounts import About, Amounts
from voicelist.understanding.around import Surroundings, without
from voicelist.understanding.particles import Particles
from voicelist.understanding.written_out import WritingOut, tagged

Words = tuple[str, ...]
# Names that stand for phrases of the item that is asked.
BOUND = frozenset(("thing", "state", "deed", "object", "clause", "source", "value"))
# Rule files that are read along the words: the recogniser does not listen for what they permit.
_READ_ALONG = frozenset(("answers", "states", "values_said", "heard"))
_AT = PhrasePlace("frames", 1, 1)
# How the rules of a record are told of.
_EMBEDDED = "the embedded rules "
# So many words may stand around a clause. Project choice: about two breaths.
AROUND_AT_MOST = 14
# What only names the thing is not yet told of it.
_NAMING_AT_MOST = 3
# Rules that keep an utterance from being an answer wherever they stand outside a clause.
KEEPS_FROM = ("later", "reported", "doubtful", "inverted", "negated")
_NAMED, _UNNAMED = "full", "short"
_OBJECTS = {_NAMED: "mine", _UNNAMED: "it_or_them"}


def is_read_along(file: str) -> bool:
    """Whether a rule file holds frames and wordings that are not listened for."""
    name = file.rpartition("/")[2].removeprefix(_EMBEDDED)
    return name.removesuffix(".abnf") in _READ_ALONG


__all__ = [
    "AROUND_AT_MOST",
    "BOUND",
    "KEEPS_FROM",
    "About",
    "Amounts",
    "NaturalAnswers",
    "Words",
    "is_read_along",
]


class NaturalAnswers:
    """The frames of a rule set."""

    def __init__(self, rules: RuleSet) -> None:
        self._plain = Frames(rules)
        self._rules = rules
        self._written = WritingOut(rules)
        self.small = Particles.from_rules(rules)
        self.around = Surroundings(self._plain, rules)

    def written_out(self, words: Sequence[str]) -> Words:
        """The words without fillers and what was said twice, with shortened forms in full."""
        return self._written.out(words)

    def without_hesitations(self, words: Sequence[str]) -> Words:
        """The same, with fillers that may belong to a value ("oh" is a nought)."""
        return self._written.without_hesitations(words)

    def without_openings(self, words: Words) -> Words:
        """The words from the first on that does more than open an utterance."""
        while words:
            end = max(self._plain.ends("openings", words, 0) | {0})
            if not end:
                break
            words = words[end:]
        return words

    def read(self, said: Sequence[str], about: About) -> Amounts | None:
        """What words amount to for an item; None for nothing."""
        try:
            return self._read(self.written_out(said), about)
        except TooLarge:
            return None

    def is_in_full(self, said: Sequence[str], about: About) -> bool:
        """Whether words are an answer that names the thing; what `read` takes for FULL."""
        try:
            words = self.written_out(said)
            frames = self._frames(about, _NAMED, about.good)
            if not frames.holds("answer", words):
                return False
            return bool(self.without_openings(words)) and not self.asks_or_orders(words)
        except TooLarge:
            return False

    def _read(self, words: Words, about: About) -> Amounts | None:
        rest = self.without_openings(words)
        if not rest or self.asks_or_orders(words):
            return None
        for kind, named in ((Amounts.FULL, _NAMED), (Amounts.SHORT, _UNNAMED)):
            if self._frames(about, named, about.good).holds("answer", words):
                return kind
        told = _without(self._past_no(rest), self.small.lasting)
        bad = (self._frames(about, named, about.bad) for named in _OBJECTS)
        if any(one.holds("answer", told) for one in bad):
            return Amounts.FAULT
        if self._is_denied(words, about):
            return Amounts.DENIED
        if self._is_fault_denied(words, about):
            return Amounts.LOOSE
        covered = self._covered(words, about)
        if self._is_loose(words, about, covered) or self._is_told_last(words, about, covered):
            return Amounts.LOOSE
        if self._is_all_well(words, about) or self._is_affirmed(words, about):
            return Amounts.LOOSE
        return Amounts.TROUBLE if self._is_trouble(words, rest, about) else None

    def with_bound(self, bound: Mapping[str, Node]) -> Frames:
        """The rules, where names stand for these phrases."""
        return self._plain.with_bound(bound)

    def ends(self, rule: str, words: Words, start: int) -> frozenset[int]:
        """Where sentences of a rule end that begin at a word and say something."""
        return self._plain.ends(rule, words, start) - {start}

    def tagged(self, rule: str) -> dict[Words, str]:
        """The alternatives of a rule, with the tag of each."""
        return {words: tag for tag, words in tagged(self._rules, rule)}

    def is_said(self, words: Words, about: About, key: str, *, named: bool) -> bool:
        """Whether frames with the item's good or bad states (`key`) cover all of the words, the
        thing being named or not."""
        state = about.good if key == "good" else about.bad
        kind = _NAMED if named else _UNNAMED
        return self._frames(about, kind, state).holds("answer", words)

    def value_spans(self, said: Words, source: Sequence[str]) -> Iterator[tuple[int, int]]:
        """Where a value may stand in the words if nothing but frames is around it. `source` are the
        words for what it is read from: what another paper says is no answer."""
        frames = self.around.reading_from(source)
        for start in sorted(frames.ends("before_value", said, 0) | {0}):
            for end in range(start + 1, len(said) + 1):
                behind = self._plain.ends("behind_value", said, end) | {end}
                if len(said) in behind:
                    yield start, end

    def is_one(self, rule: str, said: Sequence[str]) -> bool:
        """Whether the words are a sentence of a rule: as said, written out, or without openings."""
        words = self.written_out(said)
        ways = (tuple(said), words, self.without_openings(words))
        return any(self._plain.holds(rule, one) for one in ways if one)

    def is_whole(self, rule: str, words: Words) -> bool:
        """Whether the words, as they are, are a sentence of a rule."""
        return self._plain.holds(rule, words)

    def asks_or_orders(self, words: Words) -> bool:
        """Whether it begins as a question or as an order, or ends as a question. Where the rules
        lack small words of the language that cannot be told."""
        if not self.small.are_complete() or not self.small.asking_for.isdisjoint(words):
            return True
        rest = self.without_openings(words)
        begins = ("question_begins", "order_begins")
        says = bool(self._plain.ends("no_question_begins", rest, 0))
        if not says and any(self._plain.ends(one, rest, 0) - {0} for one in begins):
            return True
        return any(self._plain.holds("question_ends", rest[at:]) for at in range(len(rest)))

    def frames(self, about: About, state: Node, *, named: bool) -> Frames:
        """The frames of answers with a state of the item, where its thing is named or not."""
        return self._frames(about, _NAMED if named else _UNNAMED, state)

    def _frames(self, about: About, named: str, state: Node) -> Frames:
        good = state is about.good
        bound = {
            "thing": about.thing,
            "state": state,
            "deed": about.deed if good else Void(),
            "object": Reference(_OBJECTS[named], _AT),
            "clause": Reference(named, _AT),
        }
        return self._plain.with_bound(bound)

    def _is_denied(self, words: Words, about: About) -> bool:
        """Whether it is an answer once its denial is taken out."""
        if self.small.denying.isdisjoint(words):
            return False
        bare = _without(self._past_no(words), self.small.denying | self.small.beside_a_denial)
        frames = (self._frames(about, named, about.good) for named in _OBJECTS)
        return any(one.holds("answer", bare) for one in frames)

    def _is_fault_denied(self, words: Words, about: About) -> bool:
        """Whether it is the fault that is denied, and nothing but that: "it's not loose"."""
        if about.none or not self.small.beside_a_denial.isdisjoint(words):
            return False
        at = next((n for n, word in enumerate(words) if word in self.small.denying_a_verb), None)
        if at is None:
            return False
        bare = words[:at] + words[at + 1 :]
        frames = [self._frames(about, named, about.bad) for named in _OBJECTS]
        ends = (end for one in frames for end in one.ends("state", words, at + 1))
        bad = any(end > at + 1 and self._are_endings(words[end:]) for end in ends)
        return bad and any(one.holds("answer", bare) for one in frames)

    def _is_loose(self, words: Words, about: About, covered: Sequence[bool]) -> bool:
        if not any(covered):
            return False
        around = self._outside(words, covered, about)
        if self._ends_with_clause(words, covered, about):
            around = self.around.but(words, around, "harmless_before_it")
        return sum(around) <= AROUND_AT_MOST and self._nothing_against(words, around, about)

    def _ends_with_clause(self, words: Words, covered: Sequence[bool], about: About) -> bool:
        """Whether it ends with a clause that has a verb, so that words before it tell how that
        came to be."""
        end = max((at + 1 for at, one in enumerate(covered) if one), default=0)
        if not self._are_endings(words[end:]):
            return False
        frames = (self._frames(about, named, about.good) for named in _OBJECTS)
        return any(
            end in one.ends("with_verb", words, start)
            for one in frames
            for start in range(len(words))
            if covered[start]
        )

    def _is_told_last(self, words: Words, about: About, covered: Sequence[bool]) -> bool:
        """Whether somebody tells what was done and ends with a clause that it is so."""
        end = max((at + 1 for at, one in enumerate(covered) if one), default=0)
        if not end or not self._are_endings(words[end:]):
            return False
        start = max((at + 1 for at in range(end) if not covered[at]), default=0)
        told = self.without_openings(words[:start])
        tellers = ("i_did", "they_did") if about.none else ("i_did",)
        did = any(self._plain.ends(one, told, 0) for one in tellers)
        if not did or self._plain.ends("i_do_not_yet", told, 0):
            return False
        states = self._frames(about, _UNNAMED, about.good).ends("state_said", words, start)
        if end in states and not about.none:
            return False  # a state alone is no clause
        around = self._outside(told, [False] * len(told), about)
        around = self.around.but(told, around, "i_told")
        kept_from = ("not_done_yet", "reported", "unsure", "negated")
        return sum(around) <= AROUND_AT_MOST and not any(
            self.around.stands(rule, told, around) for rule in kept_from
        )

    def _are_endings(self, words: Words) -> bool:
        return not words or self._plain.holds("looked", words)

    def _outside(self, words: Words, covered: Sequence[bool], about: About) -> list[bool]:
        """Where words stand that are neither covered nor deny a fault; to the call whether there is
        anything, neither what would matter."""
        around = self.around.but_denied_faults(words, [not one for one in covered])
        if not about.none:
            return around
        first = max(self._plain.ends("no_at_first", words, 0) | {0})
        around[:first] = [False] * first
        around = self.around.but(words, around, "none_alone")
        risks = self._plain.with_bound({"thing": about.thing, "state": about.bad})
        return without(risks, "no_risk", words, around)

    def _is_all_well(self, words: Words, about: About) -> bool:
        """Whether the thing, by its name, is said to be well in no word of its own."""
        well = self._frames(about, _NAMED, Reference("all_well", _AT))
        return well.holds("answer", words)

    def _is_affirmed(self, words: Words, about: About) -> bool:
        """Whether it begins with "yes" and tells of the item, and nothing in all of it is amiss,
        doubted, denied, put off or reported. To "is there anything?" yes is no good answer."""
        if about.none or not self._plain.ends("yes", words, 0) - {0}:
            return False
        around = self.around.but_denied_faults(words, [True] * len(words))
        if not self._nothing_against(words, around, about):
            return False
        return not all(around) or self._tells_of(words, about)

    def _nothing_against(self, words: Words, around: Sequence[bool], about: About) -> bool:
        """Whether nothing there is amiss, doubted, denied, put off or reported."""
        if self._is_amiss(words, around, about):
            return False
        return not any(self.around.stands(rule, words, around) for rule in KEEPS_FROM)

    def _tells_of(self, words: Words, about: About) -> bool:
        """Whether the item's thing, deed or good state stands in the words, or that all is well."""
        bound = {"thing": about.thing, "state": about.good, "deed": about.deed}
        frames = self._plain.with_bound(bound)
        return any(
            not self._plain.holds("small_states", words[start:end])
            for rule in ("thing", "state", "deed", "all_well")
            for start in range(1, len(words))
            for end in frames.ends(rule, words, start) - {start}
        )

    def _covered(self, words: Words, about: About) -> list[bool]:
        """Which words belong to whole clauses of the item."""
        covered = [False] * len(words)
        for named in _OBJECTS:
            frames = self._frames(about, named, about.good)
            for start in range(len(words)):
                for end in frames.ends(named, words, start):
                    ordered = not about.none and self._is_object(frames, words, start, end)
                    if not ordered and self._counts(frames, words, start, end):
                        covered[start:end] = [True] * (end - start)
        return covered

    def _counts(self, frames: Frames, words: Words, start: int, end: int) -> bool:
        """A clause has a verb or its thing; a state by itself counts at the beginning or the end,
        and not where it is a small word such as "on". A verb before a clause makes it a question,
        and what somebody else said is no answer."""
        if end <= start:
            return False
        if start and words[start - 1] in self.small.making_a_question:
            return False
        if start and self._plain.ends("reported", words, start) - {start}:
            return False
        behind_determiner = self._plain.ends("determiner", words, start) - {start}
        if end < len(words) and any(
            end in frames.ends("state", words, at) for at in behind_determiner
        ):
            return False  # "that set belongs ..."
        if end not in frames.ends("state_said", words, start):
            return True
        first = not self.without_openings(words[:start])
        if first and end < len(words) and words[end] in self.small.likening:
            return True
        at_edge = first or end == len(words)
        return at_edge and not self._plain.holds("small_state_said", words[start:end])

    def _is_object(self, frames: Frames, words: Words, start: int, end: int) -> bool:
        """Whether it ends, without a verb, with a thing and its state that stand behind a word that
        is not known: what was ordered ("push that tubing in") or is told of somebody."""
        kinds = ("with_verb", "state_said")
        return any(
            end in frames.ends("verbless", words, at)
            and not any(end in frames.ends(one, words, at) for one in kinds)
            and not self._may_precede(words[:at])
            for at in range(1, start + 1)
        )

    def _may_precede(self, words: Words) -> bool:
        """Whether a clause without a verb may begin behind these words."""
        ends = (self._plain.ends("may_precede", words, at) for at in range(len(words)))
        return not self.without_openings(words) or any(len(words) in one for one in ends)

    def _is_amiss(self, words: Words, where: Sequence[bool], about: About) -> bool:
        """Whether a word for trouble, or a bad state of the item, stands there."""
        if self.around.stands("trouble", words, where):
            return True
        bad = self._plain.with_bound({"state": about.bad, "thing": about.thing})
        return any(
            where[start] and not self._plain.holds("small_states", words[start:end])
            for start in range(len(words))
            for end in bad.ends("state", words, start) - {start}
        )

    def _is_trouble(self, words: Words, rest: Words, about: About) -> bool:
        """Whether something is told that may be amiss, by nobody else and not for later."""
        small = self.small
        if about.none and rest[0] in small.there_is_some:
            return True
        begins_with_no = rest[0] in small.denying_at_first and len(rest) > 1
        if not begins_with_no:
            # "It will not lock" is no promise, and "still" tells what is.
            behind = (*rest[1:], "")
            pairs = zip(rest, behind, strict=True)
            told = tuple(word for word, after in pairs if after not in small.denying_a_verb)
            told = _without(told, small.lasting)
            if any(self.around.holds_any(rule, told) for rule in ("later", "reported", "inverted")):
                return False
        amiss = self._is_amiss(rest, [True] * len(rest), about)
        if begins_with_no or amiss or self.around.holds_any("negated", rest):
            return True
        if about.none:
            return words[0] != rest[0] or rest[0] in small.telling_of_some
        thing = self._plain.with_bound({"thing": about.thing})
        named = any(thing.ends("thing", rest, start) - {start} for start in range(len(rest)))
        states = not isinstance(about.good, Void)
        return states and named and len(rest) > _NAMING_AT_MOST

    def _past_no(self, words: Words) -> Words:
        return words[1:] if words and words[0] in self.small.denying_at_first else words


def _without(words: Words, some: Container[str]) -> Words:
    return tuple(word for word in words if word not in some)
