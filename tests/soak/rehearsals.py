"""A rehearsal finds bad phrases by sound, and proposes better ones that voices are understood with.

    python tests/soak/rehearsals.py             # three voices, each as the whole team
    python tests/soak/rehearsals.py --reduced   # one voice

The list has a phrase that its call does not invite: it has to be found, and what is proposed has to
be understood with two of three voices at least. It has one whose opposite sounds like it: it may be
asked for again, and is never taken for its opposite. Needs the speech model, the system voices
(espeak-ng) and an idle machine: some 20 s a voice.
"""

from __future__ import annotations

import argparse
import io
import os
import sys
import tempfile
import time
from pathlib import Path

from rich.console import Console

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from voicelist.practice.better import Better
from voicelist.practice.told import OTHERWISE, Phrase
from voicelist.practising.rehearsal import EVERYONE, RehearsalWanted, rehearse

VOICES = ("system:gmw/en-us", "hibari", "system:gmw/en-gb-x-rp")
# Common practice, no source: invented for this run; the second item is the bad one.
CHECKLIST = """\
format: 1
language: en-US
id: tried
title: A list with a bad phrase
sections:
  - id: lines
    name: the lines
    order: fixed
    items:
      - id: bottle
        name: the bottle
        answered by: [circulating-nurse]
        call: "Full or low: the infusion bottle?"
        done: infusion bottle full
        fault: infusion bottle low
        why: Inflow must exceed outflow at all times.
      - id: irrigation-line
        answered by: [circulating-nurse]
        call: "Firm or loose: the irrigation line?"
        done: conduit patent and coupled
        fault: irrigation line (loose | leaking)
        stop: true
        why: A loose line lets the eye go soft.
      - id: cassette
        name: the cassette
        answered by: [scrub-nurse]
        call: "Tight or tied: the cassette?"
        done: cassette tight
        fault: cassette tied
        stop: true
        why: A cassette that is not in place draws air.
      - id: sleeve
        name: the sleeve
        answered by: [scrub-nurse]
        call: "Straight or twisted: the sleeve?"
        done: sleeve straight
        fault: sleeve twisted
        why: A twisted sleeve starves the incision of cooling.
"""
BAD = "irrigation-line"
UNDERSTOOD_AT_LEAST = 2


def main() -> None:
    wanted = argparse.ArgumentParser(description=__doc__)
    wanted.add_argument("--reduced", action="store_true", help="one voice")
    voices = VOICES[:1] if wanted.parse_args().reduced else VOICES
    failures = 0
    with tempfile.TemporaryDirectory() as folder:
        os.environ["XDG_DATA_HOME"] = folder
        list_file = Path(folder) / "site" / "checklists" / "tried.yaml"
        list_file.parent.mkdir(parents=True)
        list_file.write_text(CHECKLIST, encoding="utf-8")
        for voice in voices:
            failures += _held_by(voice, list_file)
    sys.exit(1 if failures else 0)


def _phrases(one: Better | None) -> tuple[Phrase, ...]:
    return one.phrases if one is not None else ()


def _held_by(voice: str, list_file: Path) -> int:
    """One rehearsal; what did not hold in it, counted."""
    began_s = time.monotonic()
    silent = Console(file=io.StringIO())
    held = rehearse(
        RehearsalWanted(
            list_file, (EVERYONE,), voice="none", partner_voices=(voice,), plain=True, fast=True
        ),
        silent,
    )
    took_s = time.monotonic() - began_s
    found = {one.item: one for one in held.better}
    print(f"{voice}: {held.told.closed}, {took_s:.0f} s")
    for item in held.case.items:
        one = found.get(item)
        said = [f"{each.said} ({each.understood} of {each.times})" for each in _phrases(one)]
        words = [
            f"{each.spoken} by {', '.join(key for key, _ in each.words)} "
            f"({sum(trial.understood for trial in each.tried)} of {len(each.tried)} voices)"
            for each in (one.additions if one else ())
        ]
        print(f"  {item}: not understood: {'; '.join(said) or '-'}")
        print(f"    better: {'; '.join(words) or '-'}")
    best = (
        max(
            (sum(trial.understood for trial in one.tried) for one in found[BAD].additions),
            default=0,
        )
        if BAD in found
        else 0
    )
    wrong = [one for one in held.told.exchanges if one.outcome == OTHERWISE]
    for one in wrong:
        print(f"  taken for another answer: {one.said}, heard as {one.heard}")
    return (best < UNDERSTOOD_AT_LEAST) + len(wrong)


if __name__ == "__main__":
    main()
