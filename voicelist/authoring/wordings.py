"""A team's own words, from its records: what was not understood for an item and then said otherwise
becomes a proposal for the checklist, with how often it was said.

Nothing changes by itself. A proposal is words for a thing or for one of its states, never a value;
no denial, question or doubt, nothing that another item is called by, and nothing that was said of
good and bad alike. Whoever adds it judges it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

from voicelist.documents.embedded import Bundle
from voicelist.errors import RecordError
from voicelist.grammar.ruleset import RuleSet
from voicelist.grammar.syntax import Node, PhrasePlace, Token
from voicelist.grammar.syntax import Sequence as Row
from voicelist.record.journal import Entry
from voicelist.session import state as st
from voicelist.session.natural import Natural
from voicelist.session.record_base import Record
from voicelist.session.records import Answered, Heard, from_body
from voicelist.session.state import State, evolve
from voicelist.understanding.plain_speech import About, Amounts, NaturalAnswers

Words = tuple[str, ...]
# Said so long before the answer it may have been of something else: a line that was tightened in
# between. Project choice.
_BEFORE_AT_MOST_MS = 20_000
# A thing or a state has no more words.
_WORDS_AT_MOST = 5
_KEYS = {st.SAID_DONE: "good", st.SAID_FAULT: "bad"}
_KEEPS_FROM = ("later", "reported", "doubtful", "inverted", "negated")
_TROUBLE = "trouble"
_PLACE = PhrasePlace("records", 1, 1)


@dataclass(frozen=True, slots=True)
class Proposal:
    """Words for a `key` of an item (thing, good, bad): said so many times in so many cases.
    `phrase` is what the checklist of the newest of them has under the key, "" for nothing."""

    checklist: str
    item: str
    key: str
    words: str
    times: int
    cases: int
    phrase: str


@dataclass(frozen=True, slots=True)
class _SaidAnew:
    """What was said of an item, and whether it was then good or bad."""

    item: str
    key: str
    every: tuple[Words, ...]


class Wordings:
    """Takes cases, the newest first, and then proposes."""

    def __init__(self) -> None:
        self._found: dict[tuple[str, str, str, str], list[str]] = defaultdict(list)
        self._phrases: dict[tuple[str, str, str], str] = {}
        self._outcomes: dict[tuple[str, str, Words], set[str]] = defaultdict(set)
        self._origin: dict[tuple[str, str, str, str], set[Words]] = defaultdict(set)
        self._read: dict[str, Natural] = {}

    def take(self, entries: Sequence[Entry]) -> None:
        """One case."""
        case, first = entries[0].case, entries[0].body
        bundle = Bundle.from_json(first["documents"])
        natural = self._natural(bundle)
        checklist = bundle.checklist.id
        for said in said_otherwise(entries):
            every = [natural.answers.written_out(words) for words in said.every]
            if said.key == "good" and any(_tells_of_trouble(natural, one) for one in every):
                continue
            for words in every:
                self._outcomes[checklist, said.item, words].add(said.key)
                found = proposed(natural, said.item, said.key, words)
                if found is not None:
                    self._note(natural, (checklist, said.item, found[0]), found[1], words, case)

    def _note(
        self, natural: Natural, of: tuple[str, str, str], own: Words, said: Words, case: str
    ) -> None:
        whole = (*of, " ".join(own))
        self._found[whole].append(case)
        self._origin[whole].add(said)
        self._phrases.setdefault(of, getattr(natural.items[of[1]], of[2]) or "")

    def proposals(self, at_least: int = 1) -> tuple[Proposal, ...]:
        """The proposals, the most frequent first; none that was said of good and bad alike."""
        made = (
            Proposal(*of, len(cases), len(set(cases)), self._phrases[of[:3]])
            for of, cases in self._found.items()
            if len(cases) >= at_least and not self._is_torn(of)
        )
        return tuple(sorted(made, key=lambda one: (-one.times, one.checklist, one.item, one.words)))

    def _is_torn(self, of: tuple[str, str, str, str]) -> bool:
        checklist, item, key, words = of
        other = {"good": "bad", "bad": "good"}.get(key, "")
        return (checklist, item, other, words) in self._found or any(
            len(self._outcomes[checklist, item, said]) > 1 for said in self._origin[of]
        )

    def _natural(self, bundle: Bundle) -> Natural:
        """The frames of a case; of cases with the same documents once."""
        key = repr((bundle.checklist, sorted(bundle.rules.items())))
        if key not in self._read:
            items = {item.id: item for _, item in bundle.checklist.all_items()}
            rules = RuleSet.from_texts(bundle.rules.items())
            self._read[key] = Natural(items, rules, bundle.lexicon.respellings())
        return self._read[key]


def said_otherwise(entries: Iterable[Entry]) -> Iterator[_SaidAnew]:
    """What was not understood of an item, or was read back, before the item was answered."""
    state, waiting = State(), dict[str, list[tuple[Words, str, int]]]()
    for entry in entries:
        record = _record_of(entry)
        asked = state.asked
        if isinstance(record, Heard) and asked and record.words:
            if record.status == "not-understood" or record.why:
                said = (tuple(record.words.split()), entry.run, entry.mono_ms)
                waiting.setdefault(asked, []).append(said)
        elif isinstance(record, Answered):
            every = tuple(
                words
                for words, run, mono_ms in waiting.pop(record.item, ())
                if run == entry.run and entry.mono_ms - mono_ms <= _BEFORE_AT_MOST_MS
            )
            if record.answer in _KEYS and every:
                yield _SaidAnew(record.item, _KEYS[record.answer], every)
        state = evolve(state, record)


def _record_of(entry: Entry) -> Record:
    try:
        return from_body(entry.kind, entry.body)
    except (KeyError, TypeError) as error:
        raise RecordError(f"Event {entry.seq} of {entry.case} is of no known kind.") from error


def _tells_of_trouble(natural: Natural, words: Words) -> bool:
    """Whether something was denied or amiss: what is good later was mended."""
    return any(natural.answers.around.holds_any(rule, words) for rule in ("negated", _TROUBLE))


def proposed(natural: Natural, item_id: str, key: str, words: Words) -> tuple[str, Words] | None:
    """The key and the words that a checklist would need to understand `words`; None where it needs
    none, or may not have them."""
    about = natural.about(item_id)
    if about is None or not words or _may_not_be(natural, words, key):
        return None
    if natural.answers.read(words, about) in (Amounts.FULL, Amounts.SHORT, Amounts.FAULT):
        return None
    if _names_another(natural, item_id, about, words):
        return None
    found = _thing(natural, about, key, words) or _state(natural, about, key, words)
    return None if found is None or _is_taken(natural, item_id, found) else found


def _may_not_be(natural: Natural, words: Words, key: str) -> bool:
    answers = natural.answers
    kept = (*_KEEPS_FROM, _TROUBLE) if key == "good" else _KEEPS_FROM
    mere = any(answers.is_one(rule, words) for rule in ("affirmed", "refused"))
    return (
        mere
        or answers.asks_or_orders(words)
        or any(answers.around.holds_any(one, words) for one in kept)
    )


def _names_another(natural: Natural, item_id: str, about: About, words: Words) -> bool:
    """Whether another item's thing stands in the words, outside of what this one is called."""
    own = {at for start, end in _places(natural, about, words) for at in range(start, end)}
    for other in natural.items:
        of_other = natural.about(other)
        if other == item_id or of_other is None:
            continue
        for start, end in _places(natural, of_other, words):
            if end > start and own.isdisjoint(range(start, end)):
                return True
    return False


def _places(natural: Natural, about: About, words: Words) -> Iterator[tuple[int, int]]:
    """Where the thing is named."""
    frames = natural.answers.with_bound({"thing": about.thing})
    for start in range(len(words)):
        for end in frames.ends("thing", words, start):
            yield start, end


def _spans(words: Words) -> Iterator[Words]:
    """Runs of words, the shortest first."""
    runs = combinations(range(len(words) + 1), 2)
    for start, end in sorted(runs, key=lambda one: (one[1] - one[0], one[0])):
        if end - start <= _WORDS_AT_MOST:
            yield words[start:end]


def _thing(natural: Natural, about: About, key: str, words: Words) -> tuple[str, Words] | None:
    """The words for the thing, where a state was named that is known."""
    for own in _spans(words):
        if natural.answers.is_said(words, _with(about, key, thing=_node(own)), key, named=True):
            return "thing", own
    return None


def _state(natural: Natural, about: About, key: str, words: Words) -> tuple[str, Words] | None:
    """The words for the state, of the thing by its name or of what is asked."""
    for named in (True, False):
        for own in _spans(words):
            other = _with(about, key, state=_node(own))
            if natural.answers.is_said(words, other, key, named=named):
                return key, own
    return None


def _with(about: About, key: str, thing: Node | None = None, state: Node | None = None) -> About:
    good = state if state is not None and key == "good" else about.good
    bad = state if state is not None and key == "bad" else about.bad
    return About(thing or about.thing, good, bad, about.deed, none=about.none)


def _node(words: Words) -> Node:
    return Row(tuple(Token(word, _PLACE) for word in words))


def _is_taken(natural: Natural, item_id: str, found: tuple[str, Words]) -> bool:
    """Whether the words mean something already: the item's opposite state, a small word that says
    nothing by itself, or another item's thing."""
    key, own = found
    about = natural.about(item_id)
    opposite = {"good": "bad", "bad": "good"}.get(key, "")
    if about is not None and opposite:
        bound = {"state": getattr(about, opposite), "thing": about.thing}
        state = natural.answers.with_bound(bound)
        if state.holds("state", own):
            return True
    return any(_is_called(natural, one, own) for one in natural.items if one != item_id) or (
        _says_nothing(natural.answers, own)
    )


def _is_called(natural: Natural, item_id: str, own: Words) -> bool:
    about = natural.about(item_id)
    return about is not None and natural.answers.with_bound({"thing": about.thing}).holds(
        "thing", own
    )


def _says_nothing(answers: NaturalAnswers, own: Words) -> bool:
    return answers.is_whole("says_nothing", own)


def as_lines(proposals: Sequence[Proposal]) -> list[str]:
    """Proposals as lines of YAML: each key once, with all that is new behind what it has."""
    by_key: dict[tuple[str, str, str], list[Proposal]] = defaultdict(list)
    for one in proposals:
        by_key[one.checklist, one.item, one.key].append(one)
    lines: list[str] = []
    for (checklist, item, key), found in by_key.items():
        lines.append(f"# {checklist}: {item}")
        lines += [f"#   {one.words}: {_often(one)}" for one in found]
        whole = " | ".join(filter(None, (found[0].phrase, *(one.words for one in found))))
        lines.append(f'{key}: "{whole}"')
    return lines


def _often(one: Proposal) -> str:
    times = "once" if one.times == 1 else f"{one.times} times"
    return f"{times} in {one.cases} case{'' if one.cases == 1 else 's'}"
