"""Running talk of a theatre that is no answer: ordinary sentences with the checklist's own words.

A pure function of a checklist, a plan and a seed. Whatever comes out is kept: nothing is left out
because it passed.
"""

from __future__ import annotations

import random
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from tests.team.chatter import chatter
from voicelist.documents.checklist import Item
from voicelist.session.case import Case

# {T} the thing asked about, {S} a state of it.
_BOTH = (
    "the {T} in the other room was never {S} when i came by",
    "somebody asked me last night whether {T} means {S} or something else",
    "in the old theatre the {T} had to be {S} long before breakfast",
    "i do not remember the {T} ever being {S} on a friday",
    "she always says that {S} is the best word for a {T}",
    "you know how long it takes until the {T} looks {S} from over there",
    "they teach the students that a {T} is {S} or it is nothing",
    "my first teacher called every {T} {S} no matter what it was",
    "tomorrow we can talk about the {T} and why nobody said {S}",
    "what would you do with a {T} that comes out {S} in the afternoon",
    "he wrote {S} on the board and {T} underneath it",
    "the {T} yes the {T} that one was {S} all summer and then it was gone",
    "so i said {T} and she said {S} and we both laughed",
    "the firm that sells the {T} sent us one that was not {S} at all",
)
_THING = (
    "where do they keep the spare {T} these days",
    "the new {T} costs twice as much as the old one",
    "i ordered another {T} in march and it never came",
    "have you seen how she holds the {T} with two fingers",
    "we ran out of boxes for the {T} again",
    "the trainee practised with the {T} on monday",
    "that {T} reminds me of my kitchen at home",
    "could we look at the {T} together when this is over",
    "they changed the colour of the {T} without telling anybody",
    "there is a whole chapter about the {T} in that book",
)
_STATE = (
    "is everything {S} over there or are you still waiting for the lift",
    "he was quite {S} about it in the meeting on tuesday",
    "that door is never {S} in winter",
    "she only said {S} because she wanted to go home",
    "the word {S} is on every second page of the manual",
    "my shoes were {S} this morning and now look at them",
    "not {S} enough if you ask me but nobody asks me",
)
_NUMBERS = (
    "the vacuum was {N} for a year and then somebody changed it to {M}",
    "i live at number {N} and she lives at number {M}",
    "the flow was about {N} on the machine that we had before",
    "the power went up to {N} in that video which i would never do",
    "they paid {N} for the old chair and {M} for the new one",
    "plus {N} was her left eye and minus {M} was the other one i think",
    "grade three or grade four it was {N} patients in all last year",
)
# {A} an answer, word by word.
_ANSWERS = (
    "last week he shouted {A} across the whole corridor",
    "they printed {A} on the poster beside the lift",
    "i dream of {A} every night since we started",
    "nobody in the other hospital says {A} like that",
    "what does {A} even mean to somebody from outside",
    "if you say {A} one more time i am going home",
    "she sang {A} to the tune of that song from the radio",
)
_EXAMPLES = 4
_TENS = ("twenty", "thirty", "forty", "fifty", "sixty", "eighty", "ninety")
_HUNDREDS = ("one", "two", "three", "four", "five")


_NO_STATES = ("or", "and", "which", "in", "not", "one", "sign", "surgeon", "please", "")


@dataclass(frozen=True, slots=True)
class Words:
    """What is asked about at an item, the states that its call names, and permitted answers."""

    thing: str
    states: tuple[str, ...]
    answers: tuple[str, ...]


def words_of(case: Case, item: Item) -> Words:
    """An item's own words."""
    states, colon, thing = re.sub(
        r"[^a-z: ]", "", item.call.lower().replace("&", " and ")
    ).partition(":")
    named = tuple(word for word in states.split() if colon and word not in _NO_STATES)
    own = [name for name in case.grammar.names if name.partition(".")[0] == item.id]
    answers = tuple(text for name in own for text in case.grammar.examples(name)[:_EXAMPLES])
    thing = thing.strip().removeprefix("the ") or item.name or item.id.replace("-", " ")
    return Words(thing, named or ("ready",), answers)


def talk(own: Words, others: Sequence[Words], chance: random.Random) -> Iterator[str]:
    """Sentences without end, half of those about a thing about that of the item that is asked."""
    while True:
        about = own if chance.random() < 0.5 else chance.choice(others)
        kind = chance.random()
        if kind < 0.2:
            yield chatter(chance)
        elif kind < 0.3:
            yield chance.choice(_NUMBERS).format(N=_number(chance), M=_number(chance))
        elif kind < 0.5 and about.answers:
            yield chance.choice(_ANSWERS).format(A=chance.choice(about.answers))
        else:
            forms = _BOTH if kind < 0.75 else _THING if kind < 0.9 else _STATE
            yield chance.choice(forms).format(T=about.thing, S=chance.choice(about.states))


def _number(chance: random.Random) -> str:
    tens = chance.choice(_TENS)
    return tens if chance.random() < 0.5 else f"{chance.choice(_HUNDREDS)} {tens}"
