"""Small valid documents, and ways to spoil one and look at what is said about it."""

from __future__ import annotations

from pathlib import Path
from typing import TypeVar

from voicelist.documents.base import Headed
from voicelist.documents.loading import parse_document
from voicelist.errors import DocumentError, Problem

HeadedT = TypeVar("HeadedT", bound=Headed)

CHECKLIST = """\
format: 1
language: en-US
id: phaco
title: A checklist for tests
sections:
  - id: lines
    name: the lines
    when: first case of the day
    order: fixed
    items:
      - id: irrigation-line
        answered by: [circulating-nurse]
        call: "Firm or loose: the irrigation line?"
        done: irrigation line (firm | on and firm)
        fault: 'irrigation line (loose | leaking)'
        stop: true
        why: A loose line lets the eye go soft.
      - id: lens-power
        name: the lens
        answered by: [circulating-nurse, surgeon]
        call: Please read the lens power
        value: "lens power $lens"
        compare: lens-power
        read from: the box
        not applicable: true
        why: The power must be the planned one.
  - id: settings
    name: the settings
    items:
      - id: quadrant-profile
        answered by: [surgeon]
        call: Please say the quadrant settings
        value: quadrant $profile
        compare: profile
        phase: quadrant
        why: The settings follow from the nucleus.
"""

CARD = """\
format: 1
language: en-US
id: demo-surgeon
grades:
  - scale: clinical
    from: 1
    to: 2
    phases:
      sculpt:
        power_percent: {value: 50, control: linear, tolerance: 5, minimum: 10}
        vacuum_mmHg: {value: 60, control: fixed, tolerance: 25}
  - scale: clinical
    from: 3
    to: 3
    phases:
      quadrant:
        power_percent: {value: 40, control: linear, tolerance: 5}
        vacuum_mmHg: {value: 350, control: fixed, tolerance: 25}
        flow_cc_per_min: {value: 32.5, control: fixed, tolerance: 3}
        modulation: {kind: pulse, pulses_per_s: 30, duty_percent: 40}
  - {scale: hardness, from: 1, to: 5, phases: {cortex: {modulation: {kind: continuous}}}}
incision: {separation_deg: 90, tolerance_deg: 15}
"""

PLAN = """\
format: 1
language: en-US
case: practice-007
eye: left
grade: {scale: clinical, value: 3}
card: demo-surgeon
lens: {model: monofocal alpha, power_D: +21.5, axis_deg: 90}
incision: {main_deg: 0, side_port_deg: 270}
"""

LEXICON = """\
format: 1
language: en-US
words:
  - written: phaco
    hear: [fake oh, fay co]
    say: fayko
  - written: phaco tip
    say: fayko tipp
  - written: IOL
    hear: ["i o l"]
"""

SENTENCES = """\
format: 1
language: en-US
sentences:
  read-back: I heard {heard}. Right?
  not understood: Please say that again.
  braces: "{{literally}} {value}"
"""

LIMITS = """\
format: 1
language: en-US
off: [rise-time, turnover]
limits:
  line_resistance_mmHg_min_per_cc: 0.4
  usual_separation_deg: {from: 1, to: 12}
usual:
  sculpt:
    vacuum_mmHg: {from: 10, to: 80}
    pulses_per_s: {from: 0, to: 40}
"""

RULES = "#ABNF 1.0;\nlanguage en-US;\npublic $lens = twenty [point five];\n"


def place_in(text: str, needle: str, nth: int = 1) -> tuple[int, int]:
    """Line and column, from 1, where `needle` stands for the nth time."""
    position = -1
    for _ in range(nth):
        position = text.index(needle, position + 1)
    before = text[:position]
    return before.count("\n") + 1, position - before.rfind("\n")


def spoiled(text: str, old: str, new: str) -> str:
    """The text with the first `old` replaced, which has to be there."""
    assert old in text
    return text.replace(old, new, 1)


def problems(model: type[Headed], text: str) -> tuple[Problem, ...]:
    """What is said about the text; none if it is valid."""
    parsed = document_or_problems(model, text)
    return parsed if isinstance(parsed, tuple) else ()


def document_or_problems(model: type[HeadedT], text: str) -> HeadedT | tuple[Problem, ...]:
    """The document in the text, or what is wrong with it: at least one problem in its file."""
    try:
        return parse_document(model, text, "file.yaml").document
    except DocumentError as error:
        found = error.problems
    assert found
    assert all(problem.file == "file.yaml" for problem in found)
    return found


def only_problem(model: type[Headed], text: str) -> tuple[tuple[int, int], str, str]:
    """Place, found and expected of the one problem that the text has."""
    found = problems(model, text)
    assert len(found) == 1, found
    return (found[0].line, found[0].column), found[0].found, found[0].expected


def write_grammars(folder: Path) -> Path:
    """A folder with all of the documents above; returns its plan."""
    contents = {
        "checklists/phaco.yaml": CHECKLIST,
        "cards/demo-surgeon.yaml": CARD,
        "plans/practice-007.yaml": PLAN,
        "rules/numbers.abnf": RULES,
        "lexicon.yaml": LEXICON,
        "sentences.en.yaml": SENTENCES,
    }
    for name, text in contents.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return folder / "plans/practice-007.yaml"
