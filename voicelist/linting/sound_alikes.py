"""Answers that may be active together and are easily heard for one another: those that sound nearly
alike, and those that are the beginning of another.

Compared is what differs: the words that two sentences have in common at their beginning and end are
left out, and so are numbers, which `lint_numbers` looks at.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from functools import lru_cache
from itertools import combinations

from voicelist.documents.phone_table import phone_table
from voicelist.documents.wording import quoted
from voicelist.errors import Problem
from voicelist.grammar.budget import Meter
from voicelist.grammar.match import Match
from voicelist.grammar.wordgraph import START, WordGraph, joint_sentence
from voicelist.linting.material import Compiled, PermittedAnswer
from voicelist.phonetics.phones import Phones, PhoneTable, apart_within
from voicelist.session.values import value_said

# Measured (tests/benchmarks/studies/sound_alikes.py): of 24 pairs of words up to ALIKE apart, said
# by synthetic voices in noise of 0 to 20 dB, 65 of 432 were taken for the other word of the pair;
# of 5 pairs above it up to NEARLY 5 of 90; of 8 pairs from there to 0.35, 8 of 144, six of them
# eighteen and eighty, which `lint_numbers` looks for; of 20 pairs beyond 0.35 none of 360. Of pairs
# of common words taken by chance 1 in 1,000 lies within ALIKE, 2 in 1,000 within NEARLY.
ALIKE = 0.20
NEARLY = 0.25
# Sentences that differ over more words than these are told apart: what both have in between makes
# them no more alike. Project choice.
_MOST_WORDS = 3

_VALUES_IN_WORDS = ("eye", "lens-model", "planned")

Wording = tuple[str, ...]
Wordings = tuple[Wording, ...]
Nearest = tuple[float, Wording, Wording]


@dataclass(frozen=True, slots=True)
class _Ear:
    """How far apart sentences sound; what was compared once is not compared again. What is further
    than NEARLY is 1 apart."""

    table: PhoneTable
    _phones: dict[Wording, Phones] = field(default_factory=dict)
    _known: dict[tuple[Wording, Wording], float] = field(default_factory=dict)
    _nearest: dict[tuple[Wordings, Wordings], Nearest] = field(default_factory=dict)

    def nearest(self, ours: Wordings, theirs: Wordings) -> Nearest:
        """The nearest sentences of two answers, and how far they are apart."""
        key = ours, theirs
        if key not in self._nearest:
            pairs = ((this, that) for this in ours for that in theirs if not _differ(this, that))
            told = ((self.apart(this, that), this, that) for this, that in pairs)
            self._nearest[key] = min(told, default=(1.0, (), ()))
        return self._nearest[key]

    def apart(self, ours: Wording, theirs: Wording) -> float:
        """How far apart the words are in which two sentences differ. 1 where they differ in none,
        or where one has more words and nothing else: other lints look at those."""
        pair = differing(ours, theirs)
        if not all(pair) or min(map(len, pair)) > _MOST_WORDS:
            return 1.0
        if pair not in self._known:
            mine, yours = map(self._phones_of, pair)
            found = apart_within(mine, yours, NEARLY)
            self._known[pair] = 1.0 if found is None else found
        return self._known[pair]

    def _phones_of(self, words: Wording) -> Phones:
        if words not in self._phones:
            self._phones[words] = self.table.of_words(words)
        return self._phones[words]


@lru_cache(maxsize=4)
def _ear(language: str) -> _Ear:
    """One for all checklists of a language: the commands are the same in each."""
    return _Ear(phone_table(language))


def _differ(ours: Wording, theirs: Wording) -> bool:
    """Whether two sentences have neither end in common, and are too long to be compared then."""
    if len(ours) <= _MOST_WORDS or len(theirs) <= _MOST_WORDS:
        return False
    return ours[0] != theirs[0] and ours[-1] != theirs[-1]


def differing(ours: Wording, theirs: Wording) -> tuple[Wording, Wording]:
    """Two sentences without the words that both begin and end with."""
    shortest = min(len(ours), len(theirs))
    before = next((at for at in range(shortest) if ours[at] != theirs[at]), shortest)
    ours, theirs, shortest = ours[before:], theirs[before:], shortest - before
    behind = next((at for at in range(shortest) if ours[-1 - at] != theirs[-1 - at]), shortest)
    return ours[: len(ours) - behind], theirs[: len(theirs) - behind]


def lint_sounds(compiled: Compiled) -> Iterator[Problem]:
    """Sound-alikes and beginnings among the answers and commands of a checklist."""
    ear = _ear(compiled.material.checklist.language)
    meter = compiled.meter("steps to compare how they sound")
    texts = {one.name: _wordings(compiled, one) for one in compiled.answers}
    for one, other in combinations(compiled.answers, 2):
        if together(one, other):
            here, there = (one, other) if other.item is None else (other, one)
            meter.spend(len(texts[one.name]) * len(texts[other.name]))
            yield from _alike(ear, here, there, texts[here.name], texts[there.name])
            yield from _beginning(compiled, one, other, meter)
            yield from _beginning(compiled, other, one, meter)
    for answer in compiled.answers:
        yield from _values_alike(ear, compiled, answer, meter)


def together(one: PermittedAnswer, other: PermittedAnswer) -> bool:
    """Whether both may be permitted at the same moment: a command always, the answers of one item,
    and items of which one is no stop item, for that may be deferred and answered later."""
    if one.item is None or other.item is None or one.item.id == other.item.id:
        return True
    return not (one.item.stop and other.item.stop)


def _wordings(compiled: Compiled, answer: PermittedAnswer) -> tuple[Wording, ...]:
    """Sentences that hold every word pair of a phrase, without their numbers."""
    readings = compiled.readings.get(answer.name)
    if readings is None:
        part = compiled.parts[answer.name]
        sentences = (one.split() for one in part.phrase_list())
        readings = tuple(match for words in sentences for match in part.parses(words)[:1])
    return tuple(dict.fromkeys(map(_without_numbers, readings)))


def _without_numbers(match: Match) -> Wording:
    words = list(match.words)
    at = 0
    for number in (one.words for one in match.walk() if one.value is not None):
        starts = range(at, len(words) - len(number) + 1)
        at = next((start for start in starts if tuple(words[start:][: len(number)]) == number), at)
        del words[at : at + len(number)]
    return tuple(words)


def _alike(
    ear: _Ear, here: PermittedAnswer, there: PermittedAnswer, ours: Wordings, theirs: Wordings
) -> Iterator[Problem]:
    """The nearest sentences of two answers, if they are near."""
    how_far, this, that = ear.nearest(ours, theirs)
    if how_far <= NEARLY:
        yield _sounds_alike(here, how_far, this, f"{quoted(' '.join(that))} of {there.name}")


def _sounds_alike(here: PermittedAnswer, how_far: float, said: Wording, rival: str) -> Problem:
    """An error where it is very near, a note where it is near."""
    found = f"{quoted(' '.join(said))}, which sounds much like {rival} ({how_far:.2f} apart)"
    least = ALIKE if how_far <= ALIKE else NEARLY
    expected = (
        f"expected words of other sounds: more than {least:.2f} apart, where 1 is nothing alike"
    )
    return replace(here.place.problem(found, expected), note=how_far > ALIKE)


def _values_alike(
    ear: _Ear, compiled: Compiled, answer: PermittedAnswer, meter: Meter
) -> Iterator[Problem]:
    """Values of one phrase that are words and sound alike: models of lenses, what is planned,
    the two sides."""
    compare = str(answer.item.compare) if answer.item is not None else ""
    if compare not in _VALUES_IN_WORDS:
        return
    told = [(match.words, _value(compare, match)) for match in compiled.readings[answer.name]]
    meter.spend(len(told) * len(told))
    for (ours, value), (theirs, another) in combinations(told, 2):
        if value is None or another is None or value == another:
            continue
        how_far = ear.apart(ours, theirs)
        if how_far <= NEARLY:
            yield _sounds_alike(answer, how_far, ours, quoted(" ".join(theirs)))
            return


def _value(compare: str, match: Match) -> object:
    try:
        said = value_said(compare, match)
    except (ValueError, IndexError):  # reported by the lint of phrases
        return None
    return said.value if said is not None else None


def _beginning(
    compiled: Compiled, short: PermittedAnswer, long: PermittedAnswer, meter: Meter
) -> Iterator[Problem]:
    """A sentence that another answer goes on from: cut short, the other is taken for it."""
    graphs = compiled.parts[short.name].graph, compiled.parts[long.name].graph
    words = begun(*graphs, meter)
    if words is None:
        return
    harmless = short.item is not None and short.name.endswith(".fault")
    found = f"{quoted(' '.join(words))}, with which a sentence of {long.name} begins"
    expected = "expected an answer that no other one begins with: cut short, that is taken for this"
    yield replace(short.place.problem(found, expected), note=harmless)


def begun(short: WordGraph, long: WordGraph, meter: Meter) -> Wording | None:
    """A shortest sentence of `short` with which a longer one of `long` begins, or None."""

    def goes_on(ours: int, theirs: int) -> bool:
        return ours != START and short.ends[ours] and bool(long.steps[theirs])

    return joint_sentence(short, long, goes_on, meter)
