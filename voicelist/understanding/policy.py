"""The limits of the decision, in one place: each with value, unit, date and evidence.

*Score* is a gap between hypotheses of one pass, in the recogniser's own measure. *Log-likelihood*
is the natural logarithm of how much likelier the verifier finds one sentence than another. The
dates are those on which a value was set.

A rule is no limit and stands in the code: a strict parse of all that was said; a denial, a doubt or
a question never passes; decodings agree twice, at a low signal-to-noise ratio three times.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TypeVar

T = TypeVar("T")

# Own measurements. Chosen by looking at these, so that figures on them flatter.
_ORDERS = "orders in noise (tests/benchmarks/studies/orders.py)"
_NOISE = f"{_ORDERS}, synthetic answers and near misses (understanding.py)"
_TALK = "synthetic answers and near misses (understanding.py), talk of strangers (strangers.py)"


def _limit(value: T, unit: str, since: str, evidence: str) -> T:
    """A limit, with what is known of it."""
    made: T = field(default=value, metadata={"unit": unit, "since": since, "evidence": evidence})
    return made


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
    # At which it is decoded again, one after the other, as long as there is need.
    speeds: tuple[float, ...] = _limit(
        (1.0, 0.95, 1.05, 0.9, 1.1), "times its own speed", "2026-11-26", _ORDERS
    )

    # Words and edges.
    # Longer unknown noise at an edge, or speech without a word there, counts as a word.
    edge_noise_at_most_s: float = _limit(
        0.25, "s", "2026-11-25", "design rule, measured on clicks before answers"
    )
    # From here on "did you mean" is asked.
    offer_from: float = _limit(70.0, "similarity, 0 to 100", "2026-11-25", "project choice")
    # From here on a sentence is long. Up to one word more an answer is put beside what sounds
    # like it.
    long_words: int = _limit(6, "words", "2026-11-25", _NOISE)
    # So many words are few.
    few_words: int = _limit(3, "words", "2026-11-26", _TALK)

    # Score gaps between permitted sentences: nearer than these two are ambiguous.
    # What an unlikely number costs.
    unlikely: float = _limit(4.0, "score", "2026-11-25", _NOISE)
    # Any two; of two nearer than this the one with words more is meant.
    close: float = _limit(0.5, "score", "2026-11-25", _NOISE)
    # A teen and its ten. As much is what a repaired small word costs, how far an answer amid
    # babble may be behind what is not permitted, or any answer behind its own beginning, or in
    # the second pass behind something strange.
    close_alike: float = _limit(1.0, "score", "2026-11-25", _NOISE)
    # Two amid babble; in the second pass, an answer from what negates, hedges or asks it.
    clear: float = _limit(1.5, "score", "2026-11-25", _NOISE)
    # One with words more: words get lost more easily than they are made up. Farther behind the
    # best no hypothesis is repaired.
    lost: float = _limit(2.0, "score", "2026-11-25", _NOISE)

    # Score gaps to what is not permitted: so far behind it an answer may still be.
    # Something small sets it apart: another word for an answer of one, a few in a long sentence,
    # a part of a number without which there is none. Nothing as near means that an answer was
    # alone.
    slack_small: float = _limit(3.5, "score", "2026-11-25", _NOISE)
    # Words of the answers in other places; speech at an edge without a word.
    slack_misplaced: float = _limit(1.7, "score", "2026-11-25", _NOISE)
    # Anything strange in the first pass; what negates, hedges or asks stands in the way even from
    # so far behind there, and for a long sentence in the second.
    tie: float = _limit(0.3, "score", "2026-11-25", _NOISE)

    # How much likelier a sentence must be to the verifier than another.
    # To be taken, to speak against an answer, to be no denial (for the recogniser, too).
    verifier_margin: float = _limit(4.0, "log-likelihood", "2026-11-26", _NOISE)
    # Than a part of it, than what is not permitted; what sounds like an answer, or says more,
    # than this. At a low signal-to-noise ratio each word must be no less likely on average.
    verifier_margin_of_part: float = _limit(2.0, "log-likelihood", "2026-11-26", _NOISE)
    # To be taken at a low signal-to-noise ratio, or instead of what decodings agreed on.
    verifier_margin_low_snr: float = _limit(8.0, "log-likelihood", "2026-11-26", _ORDERS)
    # The free transcript at most, than a long answer,
    free_of_long: float = _limit(14.0, "log-likelihood", "2026-11-26", _ORDERS)
    # than a short one;
    free_of_short: float = _limit(0.5, "log-likelihood", "2026-11-26", _ORDERS)
    # at least, to be something else than an answer of few words.
    likelier_a_word: float = _limit(7.3, "log-likelihood a word", "2026-11-26", _TALK)


POLICY = Policy()
