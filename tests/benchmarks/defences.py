"""What keeps near misses from passing, switched off one by one.

`python tests/benchmarks/defences.py` hears the near misses and answers of the test sound as
`understanding.py` does, each time with one defence less; then only once, without what is asked
further where there is doubt, and again each time with one defence less, at last with none. If
hardly any near miss passes then, the set is too easy and says nothing. What a defence costs is seen
in the answers that are asked again without it.
"""

from __future__ import annotations

import argparse
import math
from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import dataclass, fields, replace
from pathlib import Path
from types import ModuleType
from typing import Any
from unittest.mock import patch

from clip_ear import ClipEar, clips_of
from fixtures import Clip, meaning_of
from measured import circumstances, counted, print_table, shown, write_report
from parts import add_part_options, chosen, is_whole
from product import AsBefore, Product, understood
from understanding import (
    ANSWER_OUTCOMES,
    ANSWERS,
    MISS_OUTCOMES,
    meaning_taken,
    outcome_of,
)

from voicelist.asr.utterance import Utterance
from voicelist.grammar.grammar import UNKNOWN
from voicelist.grammar.match import Match
from voicelist.listening import sound
from voicelist.listening.sound import Further
from voicelist.understanding import interpretation, rejection
from voicelist.understanding.interpretation import Context
from voicelist.understanding.phrase_lists import HearingGrammar
from voicelist.understanding.room_words import Room

REPORT = Path(__file__).with_suffix(".json")
_TOLD_AT_MOST = 12
_ANY = rejection.Slack(*[math.inf] * len(fields(rejection.Slack)))

# Constants replaced: (module, name, value).
Limit = tuple[ModuleType, str, object]
_RIVALS: tuple[Limit, ...] = tuple(
    (rejection, name, -math.inf) for name in ("CLOSE", "CLOSE_NUMBERS", "CLOSE_AMID_TALK", "LOST")
)
_MARGINS: tuple[Limit, ...] = ((rejection, "FIRST", _ANY), (rejection, "TURNED", -math.inf))
_LIKELY: tuple[Limit, ...] = ((rejection, "UNLIKELY", 0.0),)
_EDGES: tuple[Limit, ...] = (
    (interpretation, "EDGE_NOISE_AT_MOST_S", math.inf),
    (sound, "EDGE_NOISE_AT_MOST_S", math.inf),
)


@dataclass(frozen=True, slots=True)
class Without:
    """How hearing and understanding are when something is switched off.

    `again`, the `witness` and what sounds `alike` are asked where there is need; without any of
    them all is heard once. `limits` replaces constants of the product. `spotted`: an answer
    anywhere inside what was heard is enough, nothing has to parse as a whole.
    """

    name: str
    again: bool = False
    witness: bool = False
    alike: bool = False
    limits: tuple[Limit, ...] = ()
    fillers: bool = True
    unknown: bool = True
    turned: bool = True
    second_look: bool = True
    spotted: bool = False

    def room(self, room: Room) -> Room:
        """The room's words that the recogniser listens for."""
        if not self.fillers:
            room = replace(room, fillers=())
        return room if self.turned else replace(room, before=(), inside=(), behind=())

    def shape(self, grammar: HearingGrammar) -> HearingGrammar:
        """The phrases that the recogniser listens for."""
        if self.unknown:
            return grammar
        lists = (grammar.phrases, grammar.second_phrases)
        first, second = (tuple(one for one in phrases if one != UNKNOWN) for phrases in lists)
        return replace(grammar, phrases=first, second_phrases=second)

    def further(self, further: Further) -> Further | None:
        """What else can be asked."""
        if not (self.again or self.witness or self.alike):
            return None
        return AsBefore(
            further.again if self.again else _not_to_be_had,
            further.evidence if self.witness else _not_to_be_had,
            further.among if self.alike else _not_to_be_had,
        )

    def context(self, context: Context) -> Context:
        """What may be said, with what sounds like it."""
        return context if self.alike else replace(context, alikes=None)


def _not_to_be_had(*_: object) -> None:
    return None


WAYS = (
    Without("nothing", again=True, witness=True, alike=True),
    Without("what sounds alike", again=True, witness=True),
    Without("the witness", again=True, alike=True),
    Without("hearing again", witness=True, alike=True),
    Without("any of these: heard once"),
    Without("these, the second look", second_look=False),
    Without("these, denials, doubts and questions in the second look", turned=False),
    Without("these, filler words", fillers=False),
    Without("these, the unknown word", unknown=False),
    Without("these, margins between answers", limits=_RIVALS),
    Without("these, margins to what is not permitted", limits=_MARGINS),
    Without("these, likely numbers", limits=_LIKELY),
    Without("these, limits to unknown sound at the edges", limits=_EDGES),
    Without("these, the parse of the whole", second_look=False, spotted=True),
    Without("these, second look and margins", limits=_RIVALS + _MARGINS, second_look=False),
    Without("these, second look and filler words", fillers=False, second_look=False),
    Without(
        "all but the parse of the whole",
        limits=_RIVALS + _MARGINS + _LIKELY + _EDGES,
        fillers=False,
        unknown=False,
        second_look=False,
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
    for module, name, _ in way.limits:
        if not hasattr(module, name):
            raise SystemExit(f"{module.__name__} has no {name} any more: change the limits here.")
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
    with ExitStack() as replaced:
        for module, name, value in way.limits:
            replaced.enter_context(patch.object(module, name, value))
        for clip in clips:
            utterance, context, further = ear.hear(clip)
            if way.spotted:
                match = _spotted(utterance, context)
                yield clip, meaning_of(match) if match is not None else ""
            else:
                permitted, more = way.context(context), way.further(further)
                heard = understood(utterance, permitted, more, second_look=way.second_look)
                yield clip, meaning_taken(heard)


def _spotted(utterance: Utterance, context: Context) -> Match | None:
    """The first answer inside the likeliest words."""
    if not utterance.alternatives:
        return None
    words = tuple(utterance.alternatives[0].text.split())
    for start in range(len(words)):
        for end in range(len(words), start, -1):
            found = context.permitted(words[start:end])
            if found:
                return found[0]
    return None


if __name__ == "__main__":
    main()
