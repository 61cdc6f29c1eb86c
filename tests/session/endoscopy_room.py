"""The list of another room, with words of its own: an invented endoscopy, without an eye, whose
roles are not those of a theatre. What it asks is common practice without a source."""

from __future__ import annotations

from pathlib import Path

CHECKLIST = """\
format: 1
language: en-US
id: endoscopy
title: Endoscopy of the stomach
roles:
  endoscopist: doctor
  endoscopy-nurse: endoscopy nurse
  sedation: sedation
milestones:
  - id: scope-in
    name: scope in
    said: scope is in now
sections:
  - id: tower
    name: the tower
    order: any
    items:
      - id: suction
        answered by: [endoscopy-nurse]
        call: "Strong or weak: the suction?"
        thing: suction | suction line
        good: strong | working
        bad: weak | blocked
        stop: true
        depends on: [equipment]
        why: Fluid has to leave at once.
      - id: light
        name: the light source
        answered by: [endoscopy-nurse, endoscopist]
        call: "Bright or dim: the light source?"
        thing: light source
        good: bright
        bad: dim | dark
        why: What is not seen is not found.
      - id: leak-test
        answered by: [endoscopy-nurse]
        call: "Passed or failed: the leak test?"
        thing: leak test
        good: passed
        bad: failed
        stop: true
        why: A leaking scope is not used.
  - id: sign-in
    name: sign in
    order: fixed
    items:
      - id: case-number
        answered by: [endoscopy-nurse]
        call: "Which case number?"
        value: $case_number
        compare: case-number
        read from: the wristband
        stop: true
        why: It shows that this plan belongs to this patient.
      - id: team-check
        name: patient and procedure
        answered by: [endoscopist, endoscopy-nurse]
        each role: true
        call: "Clear or not: patient and procedure?"
        done: $speaker [has] confirmed patient and procedure
        fault: (patient | procedure) is unclear
        stop: true
        why: Two people who each looked rarely share one slip.
      - id: sedative
        name: the sedative
        answered by: [sedation, endoscopist]
        call: "Which sedative: label?"
        value: label says $our_sedative
        compare: planned
        planned: sedative
        read from: the label on the syringe
        stop: true
        why: Syringes look alike.
"""
PLAN = """\
format: 1
language: en-US
case: room-41
checklist: endoscopy
also: {sedative: agent bravo}
"""
RULES = """\
#ABNF 1.0 UTF-8;
language en-US;
public $our_sedative = agent (alpha | bravo | charlie);
public $abandon_reason = a full stomach | a medical reason | equipment trouble;
"""
LEXICON = """\
format: 1
language: en-US
words:
  - written: endoscopy
    hear: [end us copy, end ask a pea]
    say: en dos copy
"""
SENTENCES = """\
format: 1
language: en-US
sentences:
  last-item: "That was the last item. The record is kept."
"""
TEXTS = {
    "checklists/endoscopy.yaml": CHECKLIST,
    "plans/room-41.yaml": PLAN,
    "rules/ours.abnf": RULES,
    "lexicon.yaml": LEXICON,
    "sentences.en.yaml": SENTENCES,
}


def write(folder: Path) -> Path:
    """Writes the documents below `folder`; returns the plan."""
    for name, text in TEXTS.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return folder / "plans/room-41.yaml"
