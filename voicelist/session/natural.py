"""What was said in people's own words, and not in a permitted sentence: an answer to the item that
is asked, its fault, a command, a word to a read-back.

Whatever passes here at once names the thing, or is an answer to an ordinary item that was just
called. What is short and about a stop item, and what is only loosely an answer, is read back first.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence, Set
from dataclasses import dataclass, field

from voicelist.documents.checklist import Item
from voicelist.grammar.abnf import parse_expansion
from voicelist.grammar.grammar import Grammar
from voicelist.grammar.match import Match
from voicelist.grammar.ruleset import RuleSet
from voicelist.grammar.syntax import Node, Void
from voicelist.session.accepted_said import ACCEPT, accepted_said
from voicelist.session.settings_said import SettingsSaid
from voicelist.understanding.interpretation import (
    Denied,
    NotUnderstood,
    Unconfirmed,
    Understanding,
    Understood,
)
from voicelist.understanding.loose_values import LooseValues
from voicelist.understanding.named_rules import NamedRules
from voicelist.understanding.plain_speech import About, Amounts, NaturalAnswers

_DONE = (Amounts.FULL, Amounts.SHORT, Amounts.LOOSE)
_COMMAND = "command."
# How the rules are named that hold other wordings of commands.
_ALSO = "also_"
_AFFIRMED, _REFUSED = "affirmed", "refused"
# What "yes" and "no" mean to the read-back that waits: the first of these that is permitted.
_AGREES = ("report_it", "correct", "agree_to_change", "begin_now", "abandon_now")
_REFUSES = ("do_not_report", "keep_plan", "not_yet", "go_on_with_case")
NOTHING = ("$none", "$is_never")
# Why an utterance is asked about once more, where nothing else was said.
BARE_WORD = "yes or no by itself does not answer the question"
VALUE_LACKS = "a part of the value is lacking"
# By what is compared: a rule for a part of the value, and the sentence that asks for the rest.
_PARTS = {
    "grade": (("grade_alone", "missing-scale"), ("scale_alone", "missing-grade")),
    "lens-power": (("power_alone", "missing-sign"), ("sign_alone", "missing-power")),
    "profile": (("not_voiced", "missing-settings"),),
}
_AS_WRITTEN = "as_written"
# So many words of an answer hold more than a state or a word of agreement.
_WORDS_OF_WHOLE = 3
_NAMING_NOTHING = "naming_nothing"

Words = tuple[str, ...]


@dataclass(slots=True)
class Natural:
    """The wordings of a checklist's items under its rules."""

    items: Mapping[str, Item]
    rules: RuleSet
    respellings: Mapping[str, Sequence[Sequence[str]]] = field(default_factory=dict)
    _answers: NaturalAnswers | None = None
    _settings: SettingsSaid | None = None
    _loose_values: LooseValues | None = None
    _about: dict[str, About | None] = field(default_factory=dict)
    _values: dict[str, Grammar | None] = field(default_factory=dict)
    _value_nodes: dict[str, Node | None] = field(default_factory=dict)

    def unless_permitted(
        self, found: Understanding, words: Words, asked: str, active: Set[str]
    ) -> Understanding:
        """What was understood strictly, or else what the words amount to as people put them."""
        if isinstance(found, Understood | Denied):
            return found
        natural = self.understand(words, asked, active) or found
        if isinstance(natural, NotUnderstood) and natural.why != BARE_WORD:
            return self._value_amid_others(words, asked, active) or natural
        return natural

    def understand(self, words: Words, asked: str, active: Set[str]) -> Understanding | None:
        """What words amount to beyond the permitted sentences: for the item that is `asked`, for
        others whose answers are `active`, as a command, or as a word to what waits."""
        found = self._word_to_read_back(words, active) or self._command(words, active)
        if found is None and asked in self.items:
            found = self._answer(words, asked, active)
        if found is None or (isinstance(found, Denied) and found.in_other_words):
            found = self._command(words, active, amid_others=True) or found
        return found or self._other_item(words, asked, active)

    @property
    def answers(self) -> NaturalAnswers:
        if self._answers is None:
            self._answers = NaturalAnswers(self.rules)
        return self._answers

    @property
    def loose_values(self) -> LooseValues:
        if self._loose_values is None:
            self._loose_values = LooseValues(self.answers, self.rules)
        return self._loose_values

    @property
    def settings(self) -> SettingsSaid:
        if self._settings is None:
            self._settings = SettingsSaid(self.rules)
        return self._settings

    def about(self, item_id: str) -> About | None:
        """What an item says of itself; None where it does not."""
        if item_id not in self._about:
            item = self.items[item_id]
            self._about[item_id] = None if item.thing is None else _about(item)
        return self._about[item_id]

    def _word_to_read_back(self, words: Words, active: Set[str]) -> Understanding | None:
        if ACCEPT in active:
            accepted = accepted_said(self.answers, words)
            if accepted is not None:
                return Understood(accepted, words)
        waiting = [one for one in (*_AGREES, *_REFUSES) if _COMMAND + one in active]
        if not waiting:
            return None
        for rule, meant in ((_AFFIRMED, _AGREES), (_REFUSED, _REFUSES)):
            if self.answers.is_one(rule, words):
                name = next((one for one in meant if one in waiting), None)
                return None if name is None else Understood(Match(_COMMAND + name, words), words)
        return None

    def _answer(self, words: Words, asked: str, active: Set[str]) -> Understanding | None:
        value = self._value(words, asked)
        if value is not None:
            return value
        if self.missing(words, asked):
            return NotUnderstood(words, VALUE_LACKS)
        if any(self.answers.is_one(rule, words) for rule in (_AFFIRMED, _REFUSED)):
            return self._state_alone(words, asked, active) or NotUnderstood(words, BARE_WORD)
        return self._state(words, asked, active)

    def _state_alone(self, words: Words, asked: str, active: Set[str]) -> Understanding | None:
        """A word of consent that is also a state of the item, such as "correct"."""
        found = self._state(words, asked, active)
        return None if isinstance(found, Denied) else found

    def _state(self, words: Words, asked: str, active: Set[str]) -> Understanding | None:
        about = self.about(asked)
        amounts = None if about is None else self.answers.read(words, about)
        if amounts is None or not _has_answers(asked, active):
            return None
        if amounts in _DONE and f"{asked}.done" in active:
            return self._done(words, asked, amounts)
        if amounts is Amounts.FAULT and f"{asked}.fault" in active:
            return Understood(Match(f"{asked}.fault", words), words)
        if amounts in _DONE:
            return None
        return Denied(f"{asked}.done", words, in_other_words=amounts is Amounts.TROUBLE)

    def _done(self, words: Words, item_id: str, amounts: Amounts) -> Understanding:
        match, item = Match(f"{item_id}.done", words), self.items[item_id]
        at_once = amounts is Amounts.FULL or (amounts is Amounts.SHORT and not item.stop)
        return Understood(match, words) if at_once else Unconfirmed(match, words)

    def missing(self, words: Words, item_id: str) -> str:
        """The key of the sentence that asks for what a value lacks, where the rest of it is all
        that was said; or ""."""
        item = self.items[item_id]
        found = [
            key
            for rule, key in _PARTS.get(str(item.compare), ())
            for start, end in self.answers.value_spans(words, self._source_words(item))
            if self.answers.is_whole(rule, words[start:end])
        ]
        return found[0] if found else ""

    def value_phrase(self, item_id: str) -> tuple[Node | None, tuple[str, ...]]:
        """What an item's value is, as people say it, and the words for what it is read from."""
        item = self.items[item_id]
        if item_id not in self._value_nodes:
            phrase = item.short_value
            self._value_nodes[item_id] = None if phrase is None else _node(phrase, item_id)
        return self._value_nodes[item_id], self._source_words(item)

    def denies(self, words: Words) -> bool:
        """Whether a denial stands in the words."""
        return self.answers.around.holds_any("negated", self.answers.written_out(words))

    def is_whole(self, words: Words, rule: str) -> bool:
        """Whether frames cover all of an answer."""
        item_id, _, kind = rule.rpartition(".")
        about = self.about(item_id)
        if kind != "done" or about is None:
            return True
        return self.answers.read(words, about) is not Amounts.LOOSE

    def names_thing(self, words: Words, rule: str) -> bool:
        """Whether an answer says what it is about, so that nobody has to have heard its call."""
        item_id, _, kind = rule.rpartition(".")
        if item_id == "command" or item_id not in self.items:
            return False
        about = self.about(item_id)
        if kind == "done" and about is not None:
            return self.answers.is_in_full(words, about)
        return len(words) >= _WORDS_OF_WHOLE

    def again(self, words: Words, rule: str) -> Match | None:
        """An answer that was read back, once more from its words."""
        item_id, _, kind = rule.rpartition(".")
        if kind != "value":
            return Match(rule, words)
        found = self._value(words, item_id) or self._value_amid_others(words, item_id, {rule})
        return found.match if isinstance(found, Understood | Unconfirmed) else None

    def _value(self, words: Words, item_id: str) -> Understanding | None:
        if self.items[item_id].compare == "profile":
            return self._profile(words, item_id)
        grammar = self._value_grammar(item_id)
        if grammar is None or self.answers.asks_or_orders(self.answers.written_out(words)):
            return None
        found: dict[str, Match] = {}
        for said in dict.fromkeys((words, self.answers.without_hesitations(words))):
            for start, end in self.answers.value_spans(
                said, self._source_words(self.items[item_id])
            ):
                for match in grammar.parses(said[start:end]):
                    found.setdefault(repr(value_meaning(match)), match)
        if len(found) != 1:
            return None
        match = next(iter(found.values()))
        at_once = not self.items[item_id].stop and match.first(_AS_WRITTEN) is None
        return Understood(match, words) if at_once else Unconfirmed(match, words)

    def _value_amid_others(
        self, words: Words, asked: str, active: Set[str]
    ) -> Understanding | None:
        """The one value that stands in words which say nothing against it: to be read back."""
        if f"{asked}.value" not in active or self.items[asked].compare == "profile":
            return None
        grammar, source = self._value_grammar(asked), self._source_words(self.items[asked])
        matches = [] if grammar is None else self.loose_values.matches(words, grammar, source)
        found = {repr(value_meaning(match)): match for match in matches}
        return Unconfirmed(next(iter(found.values())), words) if len(found) == 1 else None

    def _profile(self, words: Words, item_id: str) -> Understanding | None:
        match = self.settings.read(words, f"{item_id}.value")
        return None if match is None else Understood(match, words)

    def _source_words(self, item: Item) -> tuple[str, ...]:
        """The words for what a value is read from."""
        nothing = self.rules.words(_NAMING_NOTHING)
        return tuple(word for word in (item.read_from or "").lower().split() if word not in nothing)

    def _value_grammar(self, item_id: str) -> Grammar | None:
        if item_id not in self._values:
            value, _ = self.value_phrase(item_id)
            roots = {} if value is None else {f"{item_id}.value": value}
            made = Grammar(roots, self.rules, self.respellings) if roots else None
            self._values[item_id] = made
        return self._values[item_id]

    def _command(
        self, words: Words, active: Set[str], *, amid_others: bool = False
    ) -> Understanding | None:
        commands = NamedRules(self.answers, self.rules, _ALSO)
        name = commands.named_amid_others(words) if amid_others else commands.named(words)
        if not name or _COMMAND + name not in active:
            return None
        return Understood(Match(_COMMAND + name, words), words)

    def _other_item(self, words: Words, asked: str, active: Set[str]) -> Understanding | None:
        """An answer that names the thing of one other item that is permitted now."""
        found = [
            item_id
            for item_id in self.items
            if item_id != asked and f"{item_id}.done" in active
            if (about := self.about(item_id)) is not None
            if self.answers.is_in_full(words, about)
        ]
        return self._done(words, found[0], Amounts.FULL) if len(found) == 1 else None


def _has_answers(item_id: str, active: Set[str]) -> bool:
    return any(name.startswith(f"{item_id}.") for name in active)


def value_meaning(match: Match) -> tuple[object, ...]:
    """What sets one value apart from another, however it was worded."""
    tags = tuple(one.tags for one in match.walk() if one.tags)
    return tags, tuple(one.value for one in match.walk() if one.value is not None)


def _about(item: Item) -> About:
    thing, good, bad, deed = (
        Void() if phrase is None else _node(phrase, item.id)
        for phrase in (item.thing, item.good, item.bad, item.deed)
    )
    return About(thing, good, bad, deed, none=any(one in (item.good or "") for one in NOTHING))


def _node(phrase: str, item_id: str) -> Node:
    return parse_expansion(phrase, item_id, 1, 1)
