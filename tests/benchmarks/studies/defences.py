"""What keeps near misses from passing, switched off one by one.

`python -m tests.benchmarks.studies.defences` hears the near misses and answers of the test sound as
`understanding.py` does, each time with one defence less; then only once, without what is asked
further where there is doubt, and again each time with one defence less, at last with none. If
hardly any near miss passes then, the set is too easy and says nothing. What a defence costs is seen
in the answers that are asked again without it.
"""

from __future__ import annotations

import argparse
import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

from tests.benchmarks.harness.clip_ear import ClipEar, clips_of
from tests.benchmarks.harness.fixtures import Clip, meaning_of
from tests.benchmarks.harness.kept import KeptDecoder
from tests.benchmarks.harness.measured import (
    circumstances,
    counted,
    print_table,
    shown,
    write_report,
)
from tests.benchmarks.harness.parts import add_part_options, chosen, is_whole
from tests.benchmarks.harness.places import REPORTS
from tests.benchmarks.harness.product import Product, understood
from tests.benchmarks.studies.understanding import (
    ANSWER_OUTCOMES,
    ANSWERS,
    MISS_OUTCOMES,
    meaning_taken,
    outcome_of,
)
from voicelist.asr.utterance import DecodedUtterance
from voicelist.grammar.grammar import UNKNOWN
from voicelist.grammar.match import Match
from voicelist.understanding.context import Context
from voicelist.understanding.phrase_lists import HearingGrammar
from voicelist.understanding.policy import POLICY, Policy
from voicelist.understanding.questions import (
    DecodeAgain,
    Decoder,
    ForcedChoice,
    FreeTranscript,
    Question,
    Reply,
    VerifierScores,
)
from voicelist.understanding.room_words import Room

REPORT = REPORTS / "defences.json"
_TOLD_AT_MOST = 12

# Limits of the policy, replaced.
Limits = tuple[tuple[str, Any], ...]
_RIVALS: Limits = tuple((name, -math.inf) for name in ("close", "close_alike", "clear", "lost"))
_MARGINS: Limits = (("slack_small", math.inf), ("slack_misplaced", math.inf), ("tie", math.inf))
_LIKELY: Limits = (("unlikely", 0.0),)
_EDGES: Limits = (("edge_noise_at_most_s", math.inf),)


@dataclass(frozen=True, slots=True)
class Without:
    """How hearing and understanding are when something is switched off.

    Decoding `again`, the `verifier` and a forced choice of what sounds `alike` are asked where
    there is need; without any of them all is decoded once. `limits` replaces those of the policy.
    `spotted`: an answer anywhere inside what was heard is enough, nothing has to parse as a whole.
    """

    name: str
    again: bool = False
    verifier: bool = False
    alike: bool = False
    limits: Limits = ()
    fillers: bool = True
    unknown: bool = True
    negated: bool = True
    second_pass: bool = True
    spotted: bool = False

    def room(self, room: Room) -> Room:
        """The room's words that the recogniser listens for."""
        if not self.fillers:
            room = replace(room, fillers=())
        return room if self.negated else replace(room, before=(), inside=(), behind=())

    def shape(self, grammar: HearingGrammar) -> HearingGrammar:
        """The phrases that the recogniser listens for."""
        if self.unknown:
            return grammar
        lists = (grammar.phrases, grammar.second_phrases)
        first, second = (tuple(one for one in phrases if one != UNKNOWN) for phrases in lists)
        return replace(grammar, phrases=first, second_phrases=second)

    def decoder(self, decoder: KeptDecoder) -> Decoder | None:
        """What else can be asked."""
        asked = (
            *((DecodeAgain,) if self.again else ()),
            *((VerifierScores, FreeTranscript) if self.verifier else ()),
            *((ForcedChoice,) if self.alike else ()),
        )
        return _Asked(decoder, asked) if asked else None

    def policy(self) -> Policy:
        """The limits."""
        return replace(POLICY, **dict(self.limits))

    def context(self, context: Context) -> Context:
        """What may be said, with what sounds like it."""
        return context if self.alike else replace(context, alikes=None)


@dataclass(frozen=True, slots=True)
class _Asked:
    """Answers some kinds of questions only."""

    decoder: KeptDecoder
    kinds: tuple[type, ...]

    def now_s(self) -> float:
        return self.decoder.now_s()

    def ask(self, question: Question, by_s: float) -> Reply | None:
        return self.decoder.ask(question, by_s) if isinstance(question, self.kinds) else None


WAYS = (
    Without("nothing", again=True, verifier=True, alike=True),
    Without("what sounds alike", again=True, verifier=True),
    Without("the verifier", again=True, alike=True),
    Without("decoding again", verifier=True, alike=True),
    Without("any of these: heard once"),
    Without("these, the second pass", second_pass=False),
    Without("these, denials, doubts and questions in the second pass", negated=False),
    Without("these, filler words", fillers=False),
    Without("these, the unknown word", unknown=False),
    Without("these, margins between answers", limits=_RIVALS),
    Without("these, margins to what is not permitted", limits=_MARGINS),
    Without("these, likely numbers", limits=_LIKELY),
    Without("these, limits to unknown sound at the edges", limits=_EDGES),
    Without("these, the parse of the whole", second_pass=False, spotted=True),
    Without("these, second pass and margins", limits=_RIVALS + _MARGINS, second_pass=False),
    Without("these, second pass and filler words", fillers=False, second_pass=False),
    Without(
        "all but the parse of the whole",
        limits=_RIVALS + _MARGINS + _LIKELY + _EDGES,
        fillers=False,
        unknown=False,
        second_pass=False,
    ),
)


def main() -> None:
    """The command."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n\n")[0])
    parser.add_argument("--anew", type=int, default=0, metavar="TURN", help="1 to 13: other voices")
    add_part_options(parser)
    asked = parser.parse_args()
    product = Product()
    clips = chosen(clips_of(asked.anew), asked)
    report: dict[str, Any] = {**circumstances(product.place.fingerprint), "without": {}}
    rows = []
    for way in WAYS:
        part = _measured(product, clips, way)
        report["without"][way.name] = part
        shares = [
            shown(one) for group in ("near_misses", "answers") for one in part[group].values()
        ]
        rows.append((way.name, *shares))
    head = ("without", *MISS_OUTCOMES, *ANSWER_OUTCOMES)
    misses = sum(clip.folder != ANSWERS for clip in clips)
    print_table(f"{misses} near misses, {len(clips) - misses} answers", head, rows)
    for name, part in report["without"].items():
        for one in part["passed"]:
            print(f"  without {name}: {one}")
    if is_whole(asked) and not asked.anew:
        write_report(REPORT, report)


def _measured(product: Product, clips: list[Clip], way: Without) -> dict[str, Any]:
    misses: list[str] = []
    answers: list[str] = []
    passed = []
    for clip, meaning in _meanings(product, clips, way):
        outcome = outcome_of(clip, meaning)
        (answers if clip.folder == ANSWERS else misses).append(outcome)
        if outcome == MISS_OUTCOMES[0]:
            passed.append(f"{clip.text} ({clip.file})")
    return {
        "near_misses": counted(misses, MISS_OUTCOMES),
        "answers": counted(answers, ANSWER_OUTCOMES),
        "passed": passed[:_TOLD_AT_MOST],
    }


def _meanings(product: Product, clips: list[Clip], way: Without) -> Iterator[tuple[Clip, str]]:
    """What each clip is taken for, "" for nothing."""
    ear = ClipEar(product, way.room, way.shape)
    for clip in clips:
        utterance, context, decoder = ear.hear(clip)
        if way.spotted:
            match = _spotted(utterance, context)
            yield clip, meaning_of(match) if match is not None else ""
        else:
            permitted, asked = way.context(context), way.decoder(decoder)
            heard = understood(
                utterance, permitted, asked, way.policy(), second_pass=way.second_pass
            )
            yield clip, meaning_taken(heard)


def _spotted(utterance: DecodedUtterance, context: Context) -> Match | None:
    """The first answer inside the likeliest words."""
    if not utterance.passes.first:
        return None
    words = utterance.passes.first[0].words
    for start in range(len(words)):
        for end in range(len(words), start, -1):
            found = context.permitted(words[start:end])
            if found:
                return found[0]
    return None


if __name__ == "__main__":
    main()
