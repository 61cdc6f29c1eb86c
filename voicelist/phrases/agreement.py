"""What a sound amounts to that was heard more than once, because the first time left a doubt.

Hearing again may dispel a doubt; it never overrules a talk, a denial or an answer. One hearing more
is enough where the first found the same answer nearest; otherwise all must be compared.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from voicelist.phrases.understanding import (
    Context,
    Denied,
    Hypothesis,
    NotUnderstood,
    Opinion,
    Understanding,
    Understood,
    opinion,
)
from voicelist.phrases.weighing import gist_of

Looks = tuple[Sequence[Hypothesis], Sequence[Hypothesis]]
_VOTES = 2


def settled(hearings: Iterable[Looks | None], context: Context) -> Understanding:
    """What the first hearing amounts to, or where that is a doubt, what the further ones make of
    it. They are only asked for if there is need; None is one that could not be had, with which the
    doubt stays."""
    opinions: list[Opinion] = []
    for looks in hearings:
        if looks is None:
            return opinions[0].found
        opinions.append(opinion(*looks, context))
        if not isinstance(opinions[0].found, NotUnderstood):
            return opinions[0].found
        if len(opinions) == 2 and _dispelled(*opinions):
            return opinions[1].found
    return _agreed(opinions) or opinions[0].found


def _dispelled(first: Opinion, again: Opinion) -> bool:
    """Whether the second hearing understood what the first found nearest, or where that found
    nothing permitted."""
    found = again.found
    if not isinstance(found, Understood):
        return False
    return not first.nearest or gist_of(found.matches) in first.nearest


def _agreed(opinions: Sequence[Opinion]) -> Understanding | None:
    """The one answer that some understood, if none understood another and it was the nearest for
    most. A single one is enough only if all others were torn between permitted sentences."""
    if any(isinstance(one.found, Denied) for one in opinions):
        return None
    understood = [one.found for one in opinions if isinstance(one.found, Understood)]
    said = {gist_of(one.matches) for one in understood}
    if len(said) != 1:
        return None
    (answer,) = said
    nearest = sum(1 for one in opinions if answer in one.nearest)
    others = sum(1 for one in opinions if one.nearest) - nearest
    if len(understood) >= _VOTES:
        return understood[0] if nearest > others else None
    torn = sum(1 for one in opinions if isinstance(one.found, NotUnderstood) and one.found.torn)
    alone = torn == len(opinions) - 1 and nearest >= others
    return understood[0] if alone else None
