"""The limits of the decision, in one place: each with value, unit, date and evidence.

*Score* is a gap between hypotheses of one pass, in the recogniser's own measure. *Log-likelihood*
is the natural logarithm of how much likelier the verifier finds one sentence than another. The
dates are those on which a value was set.

A rule is no limit and stands in the code: a strict parse of all that was said; a denial, a doubt or
a question never passes.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TypeVar

T = TypeVar("T")

# Own measurements. Chosen by looking at these, so that figures on them flatter.
_ORDERS = "orders in noise (tests/benchmarks/orders.py)"
_NOISE = f"{_ORDERS}, synthetic answers and near misses (understanding.py)"
_TALK = "synthetic answers and near misses (understanding.py), talk of strangers (strangers.py)"


def _limit(value: T, unit: str, since: str, evidence: str) -> T:
    """A limit, with what is known of it."""
    made: T = field(default=value, metadata=_known(unit, since, evidence))
    return made


def _known(unit: str, since: str, evidence: str) -> dict[str, str]:
    return {"unit": unit, "since": since, "evidence": evidence}


@dataclass(frozen=True, slots=True)
class Slack:
    """How far an answer may be behind what is not permitted and still be taken: `misplaced` words
    of the answers, at least half of this one's among them, `no_number` other words in a part of a
    number that leave none ("point seventy eye"), `in_long` a few other words in a long sentence,
    `one_word` another word for an answer of one word (much of what is said in a room sounds like
    "two" or "six"; such answers pass no stop item), `half` only the beginning of the answer,
    `beside` words more before or behind it, `unheard` speech there, `other` words, none of them
    the answer's, `strange` anything else, and a denial in the place of its last words."""

    misplaced: float
    no_number: float
    in_long: float
    one_word: float
    half: float
    beside: float
    unheard: float
    other: float
    strange: float


_FIRST = Slack(2.5, 3.5, 4.0, 3.5, 1.0, 0.0, 2.5, 0.0, 0.3)
_SECOND = Slack(1.7, 3.5, 4.0, 3.5, 1.0, 0.2, 2.5, 0.0, 1.0)


@dataclass(frozen=True, slots=True)
class Policy:
    """All limits of one decision."""

    # Time.
    deadline_s: float = _limit(4.0, "s", "2026-11-26", "project choice: somebody waits")
    # Decoding again ends so long before the deadline.
    verifier_spare_s: float = _limit(
        1.0,
        "s",
        "2026-11-27",
        "project choice: a question takes one or two tenths, the first half a second more",
    )
    # One after the other, as long as there is need.
    speeds: tuple[float, ...] = _limit(
        (1.0, 0.95, 1.05, 0.9, 1.1), "times its own speed", "2026-11-26", _ORDERS
    )

    # Stage 1: the strict parse.
    # Longer unknown noise at an edge, or speech without a word there, counts as a word.
    edge_noise_at_most_s: float = _limit(
        0.25, "s", "2026-11-25", "design rule, measured on clicks before answers"
    )
    # From here on "did you mean" is asked.
    offer_from: float = _limit(70.0, "similarity, 0 to 100", "2026-11-25", "project choice")
    # What each small word put in or exchanged costs.
    repair_cost: float = _limit(1.0, "score", "2026-11-25", _ORDERS)
    # Only so far behind the best a hypothesis is repaired, or read as several sentences.
    parsed_closely: float = _limit(2.0, "score", "2026-11-25", _ORDERS)
    # From here on a sentence is long.
    long_words: int = _limit(6, "words", "2026-11-25", _NOISE)
    # From here on words of the background around a sentence are left out amid babble.
    long_amid_babble_words: int = _limit(4, "words", "2026-11-25", _NOISE)
    # So many words are few.
    few_words: int = _limit(3, "words", "2026-11-26", _TALK)

    # Stage 1: gaps to other permitted sentences. Two answers within one are ambiguous.
    # What an unlikely number costs.
    unlikely: float = _limit(4.0, "score", "2026-11-25", _NOISE)
    # Any two.
    close: float = _limit(0.5, "score", "2026-11-25", _NOISE)
    # A teen and its ten.
    close_numbers: float = _limit(1.0, "score", "2026-11-25", _NOISE)
    # Two of one word each.
    close_one_word: float = _limit(3.0, "score", "2026-11-25", _NOISE)
    close_amid_babble: float = _limit(1.5, "score", "2026-11-25", _NOISE)
    # One with words more: words get lost more easily than they are made up.
    lost: float = _limit(2.0, "score", "2026-11-25", _NOISE)
    # Of two as near as this the fuller one is meant.
    fuller: float = _limit(0.7, "score", "2026-11-25", _NOISE)
    # So far behind another permitted one the answer may be in the second pass.
    second_rival: float = _limit(0.5, "score", "2026-11-25", _NOISE)

    # Stage 1: gaps to what is not permitted.
    # In the first pass,
    first: Slack = field(default=_FIRST, metadata=_known("score", "2026-11-25", _NOISE))
    # in the second, where what is no answer has more ways to be found;
    second: Slack = field(default=_SECOND, metadata=_known("score", "2026-11-25", _NOISE))
    # and never more than this amid babble.
    amid_babble_at_most: float = _limit(1.0, "score", "2026-11-25", _NOISE)
    # What negates, hedges or asks stands in the way even from so far behind in the first pass,
    negated: float = _limit(0.3, "score", "2026-11-25", _NOISE)
    # from so far in the second;
    second_negated: float = _limit(1.5, "score", "2026-11-25", _NOISE)
    # for a long sentence, which small sounds bend more easily, from so far in the second,
    second_negated_in_long: float = _limit(0.3, "score", "2026-11-25", _NOISE)
    # and not if it is no nearer than this there
    negated_nearer: float = _limit(1.0, "score", "2026-11-25", _NOISE)
    # and the gaps of both passes together make up for it.
    both_negated: float = _limit(1.5, "score", "2026-11-25", _NOISE)

    # Stage 2: so many decodings must have understood the same.
    votes: int = _limit(2, "decodings", "2026-11-26", _ORDERS)
    # Where the words hardly stand out from what is around them.
    votes_low_snr: int = _limit(3, "decodings", "2026-11-26", _ORDERS)

    # Stage 3: by how much one sentence must be likelier to the verifier than another.
    # An answer understood at once is put to it if another was as near as this.
    near: float = _limit(4.0, "score", "2026-11-26", _NOISE)
    # Another answer, to speak against the one that was understood;
    contradicted: float = _limit(4.0, "log-likelihood", "2026-11-26", _NOISE)
    # an answer, to be taken where the recogniser was in doubt,
    stands_out: float = _limit(4.0, "log-likelihood", "2026-11-26", _NOISE)
    # if one decoding understood it,
    stands_out_understood: float = _limit(3.0, "log-likelihood", "2026-11-26", _NOISE)
    # than one that is a part of it,
    stands_out_of_part: float = _limit(2.0, "log-likelihood", "2026-11-26", _NOISE)
    # where it speaks against one that was understood,
    stands_out_overruling: float = _limit(6.0, "log-likelihood", "2026-11-26", _NOISE)
    # at a low signal-to-noise ratio,
    stands_out_low_snr: float = _limit(8.0, "log-likelihood", "2026-11-26", _NOISE)
    # than what is not permitted,
    stands_out_of_other: float = _limit(2.0, "log-likelihood", "2026-11-26", _NOISE)
    # than what negates, hedges or asks it;
    stands_out_of_negated: float = _limit(4.0, "log-likelihood", "2026-11-26", _NOISE)
    # the free transcript at most, than a long answer,
    free_of_long: float = _limit(14.0, "log-likelihood", "2026-11-26", _NOISE)
    # than a short one that was understood twice,
    free_of_short_understood: float = _limit(5.0, "log-likelihood", "2026-11-26", _NOISE)
    # than any other.
    free_of_short: float = _limit(0.5, "log-likelihood", "2026-11-26", _NOISE)
    # At a low signal-to-noise ratio each word must be so likely on average.
    likely_low_snr: float = _limit(-2.0, "log-likelihood a word", "2026-11-26", _NOISE)

    # Stage 4: by how much something else must be likelier than a short answer.
    # A longer answer does not become another by one word.
    checked_words_at_most: int = _limit(7, "words", "2026-11-26", _TALK)
    # A sentence that sounds like it,
    likelier: float = _limit(3.0, "log-likelihood", "2026-11-26", _TALK)
    # one that says all of it and more,
    likelier_with_more: float = _limit(2.0, "log-likelihood", "2026-11-26", _TALK)
    # one that a denial alone sets apart,
    likelier_denied: float = _limit(-5.0, "log-likelihood", "2026-11-26", _TALK)
    # the same for the recogniser,
    nearer_denied: float = _limit(-3.0, "score", "2026-11-26", _TALK)
    # the free transcript, than an answer of few words.
    likelier_a_word: float = _limit(7.3, "log-likelihood a word", "2026-11-26", _TALK)
    # An answer was alone if nothing else was as near in the first pass,
    alone_from: float = _limit(3.0, "score", "2026-11-26", _TALK)
    # or in the second.
    alone_in_second_from: float = _limit(1.0, "score", "2026-11-26", _TALK)
    # What says more is put beside it if it was as near as this.
    beside: float = _limit(8.0, "score", "2026-11-26", _TALK)


POLICY = Policy()
