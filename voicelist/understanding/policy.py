"""The limits of the decision, in one place: each with value, unit, date and evidence."""

from __future__ import annotations

from dataclasses import dataclass


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


@dataclass(frozen=True, slots=True)
class Policy:
    """All limits of one decision."""

    deadline_s: float = 4.0
    verifier_spare_s: float = 1.0
    speeds: tuple[float, ...] = (1.0, 0.95, 1.05, 0.9, 1.1)
    edge_noise_at_most_s: float = 0.25
    offer_from: float = 70.0
    repair_cost: float = 1.0
    parsed_closely: float = 2.0
    long_words: int = 6
    long_amid_babble_words: int = 4
    unlikely: float = 4.0
    close: float = 0.5
    close_numbers: float = 1.0
    close_one_word: float = 3.0
    close_amid_babble: float = 1.5
    amid_babble_at_most: float = 1.0
    lost: float = 2.0
    fuller: float = 0.7
    few_words: int = 3
    first: Slack = Slack(2.5, 3.5, 4.0, 3.5, 1.0, 0.0, 2.5, 0.0, 0.3)
    second: Slack = Slack(1.7, 3.5, 4.0, 3.5, 1.0, 0.2, 2.5, 0.0, 1.0)
    second_rival: float = 0.5
    negated: float = 0.3
    second_negated: float = 1.5
    second_negated_in_long: float = 0.3
    negated_nearer: float = 1.0
    both_negated: float = 1.5
    far: float = 6.0
    votes: int = 2
    votes_low_snr: int = 3
    contradicted: float = 4.0
    stands_out: float = 4.0
    stands_out_understood: float = 3.0
    stands_out_of_part: float = 2.0
    stands_out_overruling: float = 6.0
    stands_out_low_snr: float = 8.0
    stands_out_of_other: float = 2.0
    stands_out_of_negated: float = 4.0
    free_of_long: float = 14.0
    free_of_short_understood: float = 5.0
    free_of_short: float = 0.5
    likely_low_snr: float = -2.0
    near: float = 4.0
    checked_words_at_most: int = 7
    likelier: float = 3.0
    likelier_with_more: float = 2.0
    likelier_denied: float = -5.0
    nearer_denied: float = -3.0
    likelier_a_word: float = 7.3
    alone_from: float = 3.0
    alone_in_second_from: float = 1.0
    beside: float = 8.0


POLICY = Policy()
