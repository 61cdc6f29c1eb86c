"""Talk of a room that is not for the checklist; invented, with words of the trade in it."""

from __future__ import annotations

import random

_TALK = (
    "did you see the football match last night",
    "it is getting warm in here",
    "can somebody turn the music down",
    "the next patient is still having coffee",
    "how are you feeling over there",
    "we will be with you in a moment",
    "please look straight at the light",
    "that was the longest list of the week",
    "has anyone seen my glasses",
    "the kitchen closes at two today",
    "my daughter starts school on monday",
    "i think the printer is out of paper again",
    "you are doing very well",
    "could you pass me the towel please",
    "she said the bus was late",
    "let us take the other chair",
    "what time is the meeting",
    "the trainee comes at ten",
    "no not that one the other one",
    "yes thank you",
)
# With a word of some item in it: the hard part of a room.
_NEAR = (
    "is the irrigation line firm",
    "somebody should look at the bottle later",
    "the tip was loose yesterday",
    "that sleeve came from the new box",
    "we had a low bottle last week",
    "do you know where the eye drops are",
    "the left one was done in spring",
    "the counts were complete yesterday i think",
    "i never found the pedal in the old room",
    "the mark should be visible by then",
    "her lens power was surprising",
    "vacuum is never where i left it",
    "no concerns about lunch at all",
    "is the consent form in the folder",
)
_OPENINGS = ("well", "okay so", "and then", "i said", "he thinks", "maybe", "you know")


def chatter(chance: random.Random) -> str:
    """One sentence of talk: as it is, cut off, or with something before it."""
    line = chance.choice(_TALK if chance.random() < 0.7 else _NEAR)
    words = line.split()
    turn = chance.random()
    if turn < 0.2:
        words = words[: chance.randint(1, len(words))]
    elif turn < 0.4:
        words = [*chance.choice(_OPENINGS).split(), *words]
    return " ".join(words)
