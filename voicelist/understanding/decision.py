"""The decision whether an utterance is an answer: the one entry, its stages on one page.

| stage | asks | may make of it |
|---|---|---|
| 1 interpret | nothing: strict parse, score gaps, second pass | anything |
| 2 vote | decode again, at other speeds | of a doubt an answer, of an answer in babble a doubt |
| 3 verify | the verifier's scores, free transcript | of a doubt an answer, of an answer a doubt |
| 4 check | forced choice, the verifier's scores, free transcript | of an answer a doubt |
| 5 plain speech | free transcript; of what is near it, as stage 4 | of no answer one, read back |

Hard rules stand in the stages and are no limits: a strict parse of the whole utterance; a denial, a
doubt or a question never passes. One deadline holds all questions. `docs/decision.md` says more.
"""

from __future__ import annotations

from collections.abc import Iterator

from voicelist.understanding.context import Context
from voicelist.understanding.hypothesis import Passes
from voicelist.understanding.interpretation import (
    Doubt,
    NotUnderstood,
    Understanding,
    Understood,
    interpreted,
)
from voicelist.understanding.out_of_grammar import unless_out_of_grammar, was_alone
from voicelist.understanding.policy import Policy
from voicelist.understanding.questions import Decoder, Inquiry
from voicelist.understanding.verification import verified
from voicelist.understanding.voting import is_doubtful, voted


def decide(utterance: Passes, context: Context, decoder: Decoder, policy: Policy) -> Understanding:
    """What an utterance amounts to, within the policy's deadline by the decoder's clock."""
    inquiry = Inquiry(decoder, policy.deadline_s)
    decoded = [interpreted(utterance, context, policy)]
    found = decoded[0].found
    if is_doubtful(decoded[0]):
        found = voted(decoded, _further(inquiry, policy), context, policy)
    found = verified(found, decoded, inquiry, context, policy)
    alone = not utterance.in_noise and was_alone(found, utterance, context, policy)
    found = unless_out_of_grammar(found, utterance, context, inquiry, policy, alone=alone)
    found = _unless_too_late(found, inquiry)
    if context.plain_speech is not None:
        found = context.plain_speech(found, utterance, inquiry)
    return found


def _further(inquiry: Inquiry, policy: Policy) -> Iterator[Passes | None]:
    """Decodings at other speeds, while enough time is left for the verifier."""
    for speed in policy.speeds:
        yield inquiry.decode_again(speed, spare_s=policy.verifier_spare_s)


def _unless_too_late(found: Understanding, inquiry: Inquiry) -> Understanding:
    """An answer stands only if there was time for every question about it."""
    if isinstance(found, Understood) and inquiry.cut_short:
        why = "there was no time to make sure"
        offers = (" ".join(found.words),)
        return NotUnderstood(found.words, why, offers, Doubt.NOT_CONFIRMED)
    return found
