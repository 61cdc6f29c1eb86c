"""A small set of documents that lint clean, and a way to spoil one and see what is said of it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from voicelist.documents.bundle import load_bundle
from voicelist.documents.embedded import Bundle
from voicelist.errors import Problem
from voicelist.linting.check import lint_case
from voicelist.linting.vocabulary import Knows
from voicelist.places import shipped
from voicelist.session.catalogue import REQUIRED, ROLE_KEYS
from voicelist.session.rule_sentences import PHASE_KEYS, QUANTITY_KEYS, SOURCE_KEYS

CHECKLIST = """\
format: 1
language: en-US
id: small
title: A checklist for tests
sections:
  - id: lines
    name: the lines
    order: fixed
    items:
      - id: irrigation-line
        answered by: [circulating-nurse]
        call: "Firm or loose: the irrigation line?"
        done: irrigation line (firm | on and firm)
        fault: irrigation line loose
        stop: true
        why: A loose line lets the eye go soft.
      - id: bottle
        answered by: [circulating-nurse]
        call: "Full or low: the bottle?"
        done: bottle full
        fault: bottle low
        depends on: [equipment]
        why: Inflow must exceed outflow.
  - id: time-out
    name: time out
    order: fixed
    items:
      - id: eye
        answered by: [surgeon]
        call: "Left or right: the marked eye?"
        value: marked eye $side
        compare: eye
        read from: the mark
        stop: true
        why: The side is read from the mark.
      - id: lens-power
        answered by: [surgeon]
        call: "Sign and power: the boxed lens?"
        value: lens power $signed
        compare: lens-power
        read from: the box
        stop: true
        why: The power is read from the box.
      - id: lens-model
        answered by: [surgeon]
        call: "Which model: the boxed lens?"
        value: lens model $lens_model
        compare: lens-model
        read from: the box
        stop: true
        why: Several types lie on one shelf.
"""
PLAN = """\
format: 1
language: en-US
case: small-1
checklist: small
eye: left
grade: {scale: clinical, value: 3}
card: small
lens: {model: monofocal alpha, power_D: +21.5}
"""
CARD = """\
format: 1
language: en-US
id: small
grades:
  - scale: clinical
    from: 1
    to: 4
    phases:
      cortex:
        power_percent: {value: 0, control: fixed, tolerance: 0}
        vacuum_mmHg: {value: 500, control: linear, tolerance: 25}
      quadrant:
        vacuum_mmHg: {value: 350, control: fixed, tolerance: 25}
"""
LEXICON = """\
format: 1
language: en-US
words:
  - written: monofocal
    hear: [mono focal]
    say: mono focal
  - written: toric
    hear: [tor ick]
"""


def _template(key: str) -> str:
    if key in (*QUANTITY_KEYS, *PHASE_KEYS, *SOURCE_KEYS, *ROLE_KEYS) or key.startswith("number."):
        return key.partition(".")[2].replace("-", " ")
    return ", then ".join(["Noted here", *(f"{{{name}}}" for name in REQUIRED[key])]) + "."


SENTENCES = "format: 1\nlanguage: en-US\nsentences:\n" + "".join(
    f'  {key}: "{_template(key)}"\n' for key in REQUIRED
)
COMMANDS = (shipped("grammars") / "rules" / "commands.abnf").read_text(encoding="utf-8")
CLINICAL = (shipped("grammars") / "rules" / "clinical.abnf").read_text(encoding="utf-8")
TEXTS = {
    "checklists/small.yaml": CHECKLIST,
    "plans/small-1.yaml": PLAN,
    "cards/small.yaml": CARD,
    "lexicon.yaml": LEXICON,
    "sentences.en.yaml": SENTENCES,
    "rules/commands.abnf": COMMANDS,
    "rules/clinical.abnf": CLINICAL,
}


def knows(word: str) -> bool:
    """A speech model that lacks a few words."""
    return word not in ("monofocal", "toric", "aspirator", "snugg", "phakometer")


@dataclass(frozen=True, slots=True)
class Said:
    """A problem; `at` is the file and the text of the line from the column on."""

    at: str
    line: str
    found: str
    expected: str


def write(folder: Path) -> Path:
    """Writes the documents below `folder`; returns it."""
    for name, text in TEXTS.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return folder


def spoil(folder: Path, name: str, old: str, new: str) -> None:
    """Replaces the first `old` in a document, which has to be there."""
    path = folder / name
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


def bundle_in(folder: Path) -> Bundle:
    return load_bundle(folder / "plans/small-1.yaml")


def told(folder: Path, problems: tuple[Problem, ...]) -> list[Said]:
    """The problems with the text that each one points at."""
    shown = []
    for one in problems:
        path = Path(one.file)
        line = path.read_text(encoding="utf-8").splitlines()[one.line - 1]
        at = path.resolve().relative_to(folder.resolve()).as_posix()
        shown.append(Said(at, line[one.column - 1 :], one.found, one.expected))
    return shown


def of_these(problems: tuple[Problem, ...]) -> tuple[Problem, ...]:
    """Without the notes that entries of these documents stand for shipped ones, as they all do."""
    return tuple(one for one in problems if not (one.note and " in place of what " in one.found))


def lint_bundle(bundle: Bundle, known: Knows | None) -> tuple[Problem, ...]:
    """What is told of a case with these documents."""
    return of_these(lint_case(bundle, known))


def lint(folder: Path) -> list[Said]:
    return told(folder, lint_bundle(bundle_in(folder), knows))


def only(folder: Path) -> Said:
    """The one problem that the documents have."""
    problems = lint(folder)
    assert len(problems) == 1, problems
    return problems[0]
