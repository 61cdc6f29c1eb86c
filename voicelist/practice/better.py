"""Better wordings for what was not understood in a rehearsal: one that the list permits already and
that was understood, and what could be added to the list.

Nothing changes by itself. What is proposed is made of the words of the call, of people's own words
as `authoring.wordings` takes them from a record, and of other words for the same state; none that
means something else already, or sounds like what does.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from voicelist.authoring.wordings import Proposal, proposed
from voicelist.documents.checklist import Item
from voicelist.documents.phone_table import phone_table
from voicelist.grammar.frames import Frames
from voicelist.grammar.syntax import Choice, Token
from voicelist.linting.sound_alikes import differing
from voicelist.phonetics.phones import apart
from voicelist.practice.from_call import AskedFor
from voicelist.practice.partner import OWN, SLIP, own_answer
from voicelist.practice.told import Exchange, Phrase, RehearsalTold
from voicelist.session.case import Case
from voicelist.understanding.plain_speech import Amounts

# Of pairs of words further apart than this none of 360 was taken for the other one, said by
# synthetic voices in noise: tests/benchmarks/studies/sound_alikes.py.
FAR_APART = 0.35
# So many wordings are proposed for one item. Project choice.
_AT_MOST = 3
_STATES = "is_"


@dataclass(frozen=True, slots=True)
class Tried:
    """How often a voice was understood with a wording."""

    voice: str
    understood: int
    times: int


@dataclass(frozen=True, slots=True)
class Addition:
    """What the checklist could have besides: `words` by key (done, thing, good, bad), and the lines
    that it would then be. `spoken` is the sentence to be tried; `apart` is how far it sounds from
    the nearest sentence that means something else (0 the same, 1 nothing in common)."""

    words: tuple[tuple[str, str], ...]
    lines: tuple[str, ...]
    spoken: str
    apart: float
    tried: tuple[Tried, ...] = ()


@dataclass(frozen=True, slots=True)
class Better:
    """An item of which phrases were not understood: what to say instead, and what to add."""

    item: str
    phrases: tuple[Phrase, ...]
    say: str
    additions: tuple[Addition, ...]


def better_wordings(
    case: Case, told: RehearsalTold, proposals: Sequence[Proposal]
) -> tuple[Better, ...]:
    """By item, in the order of the list. `proposals` are those of the rehearsal's own record."""
    phrases = told.phrases()
    found = []
    for item_id, item in case.items.items():
        missed = tuple(one for one in phrases if one.item == item_id and one.understood < one.times)
        if not missed:
            continue
        of_record = [one for one in proposals if one.item == item_id]
        own = [one for one in of_record if not _is_no_wording(case, one, told.exchanges)]
        every = (
            one for one in _additions(case, item, missed, own) if not _is_opposed(case, item, one)
        )
        additions = tuple(_best(every))
        found.append(Better(item_id, missed, _say(phrases, item_id, missed), additions))
    return tuple(found)


def _say(phrases: Iterable[Phrase], item_id: str, missed: Sequence[Phrase]) -> str:
    """The wording that was understood each time, the one said most often."""
    known = [one for one in phrases if one.item == item_id and one not in missed]
    return max(known, key=lambda one: one.understood).said if known else ""


def _is_no_wording(case: Case, one: Proposal, exchanges: Iterable[Exchange]) -> bool:
    """Whether a proposal was made of a slip, or of a partner's line that was heard otherwise than
    it was said: nobody speaks like that."""
    natural, wanted = case.natural, (one.key, tuple(one.words.split()))
    return any(
        proposed(natural, one.item, state, natural.answers.written_out(each.heard.split()))
        == wanted
        for each in exchanges
        for state in ("good", "bad")
        if each.item == one.item and (each.purpose == SLIP or each.heard != each.said)
    )


def _additions(
    case: Case, item: Item, missed: Sequence[Phrase], proposals: Sequence[Proposal]
) -> Iterator[Addition]:
    for one in proposals:
        yield _addition(case, item, _sentence_with(case, item, one), **{one.key: one.words})
    asked = own_answer(case, item)
    if asked is None:
        return
    for phrase in missed:
        if phrase.purpose == OWN:
            yield from _own_words(case, item, asked, phrase.said)
        else:
            yield from _other_states(case, item, asked)


def _is_opposed(case: Case, item: Item, one: Addition) -> bool:
    """Whether the sentence means that it is not so, or nothing new: then it is no proposal."""
    words = tuple(one.spoken.split())
    kinds = ("done", "fault")
    names = [name for kind in kinds if (name := f"{item.id}.{kind}") in case.grammar.names]
    if any(case.grammar.only(name).parses(words) for name in names):
        return True
    about = case.natural.about(item.id)
    amounts = None if about is None else case.natural.answers.read(words, about)
    return amounts in (Amounts.FAULT, Amounts.DENIED, Amounts.TROUBLE)


def _own_words(case: Case, item: Item, asked: AskedFor, said: str) -> Iterator[Addition]:
    """The call's words as a sentence of the list; and where the list does not say what the item is
    about, that, so that people's own sentences are read."""
    natural = case.natural
    words = natural.answers.written_out(said.split())
    found = None if item.thing is None else proposed(natural, item.id, "good", words)
    if found is not None:
        yield _addition(case, item, said, asked.whole, **{found[0]: " ".join(found[1])})
        return
    yield _addition(case, item, asked.whole, done=asked.whole)
    if item.thing is None and asked.has_states:
        states = {"thing": asked.thing, "good": asked.good, "bad": asked.bad}
        yield _addition(case, item, said, asked.whole, **states)


def _other_states(case: Case, item: Item, asked: AskedFor) -> Iterator[Addition]:
    """Sentences for what is heard badly as the list has it: the call's words, and other words for
    the same state."""
    states = dict.fromkeys((asked.good, *_same_state(case, asked)))
    for state in states:
        whole = f"{asked.thing} {state}"
        yield _addition(case, item, whole, done=whole)


def _same_state(case: Case, asked: AskedFor) -> Iterator[str]:
    """Single words of the rules for states that have the good state of the call and not its bad
    one."""
    rules = case.natural.rules
    good, bad = asked.good.split(), asked.bad.split()
    for file in rules.files:
        for rule in file.rules:
            if not rule.name.startswith(_STATES):
                continue
            frames = Frames(rules)
            if frames.holds(rule.name, good) and not frames.holds(rule.name, bad):
                parts = rule.body.parts if isinstance(rule.body, Choice) else ()
                yield from (one.text for one in parts if isinstance(one, Token))


def _sentence_with(case: Case, item: Item, one: Proposal) -> str:
    """A sentence in which the words of a proposal would be said."""
    asked = own_answer(case, item)
    if asked is None:
        return one.words
    return f"{one.words} {asked.good}" if one.key == "thing" else f"{asked.thing} {one.words}"


def _addition(case: Case, item: Item, spoken: str, short: str = "", **words: str) -> Addition:
    """`short` is the same without small words, for the distance to others."""
    lines = []
    for key, added in words.items():
        whole = " | ".join(filter(None, (getattr(item, key), added)))
        lines.append(f'{key}: "{whole}"')
    return Addition(
        tuple(words.items()), tuple(lines), spoken, _nearest(case, item, short or spoken)
    )


def _nearest(case: Case, item: Item, spoken: str) -> float:
    """How far a sentence sounds from the nearest that means something else and may be said in the
    same section: the item's fault, and what others answer."""
    table = phone_table(case.bundle.checklist.language)
    ours = tuple(spoken.split())
    nearest = 1.0
    for text in _rivals(case, item):
        here, there = differing(ours, tuple(text.split()))
        if not (here and there):
            return 0.0
        nearest = min(nearest, apart(table.of_words(here), table.of_words(there)))
    return round(nearest, 2)


def _rivals(case: Case, item: Item) -> Iterator[str]:
    section = case.section_of[item.id]
    for other in section.items:
        kinds = ("fault",) if other.id == item.id else ("done", "fault")
        for kind in kinds:
            name = f"{other.id}.{kind}"
            if name in case.grammar.names:
                yield from case.grammar.examples(name)


def _best(additions: Iterable[Addition]) -> list[Addition]:
    """A few that sound like nothing else; each once, in the order in which they were found."""
    apart_enough = (one for one in additions if one.apart > FAR_APART)
    every = {one.words: one for one in apart_enough}
    return list(every.values())[:_AT_MOST]


def with_trials(better: Better, trials: Sequence[tuple[str, Tried]]) -> Better:
    """With what came of trying its additions (by their `spoken`), the best understood first; what
    no voice was understood with is left out."""
    tried = [
        replace(one, tried=tuple(trial for spoken, trial in trials if spoken == one.spoken))
        for one in better.additions
    ]
    kept = [one for one in tried if not one.tried or any(each.understood for each in one.tried)]
    kept.sort(key=lambda one: -sum(each.understood for each in one.tried))
    return replace(better, additions=tuple(kept))
