"""The sentences of the clinical rules: what each is given, and one finding put into words."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

from voicelist.clinical.lens import SOURCES
from voicelist.clinical.profile import OTHER_UNITS, UNITS, Finding
from voicelist.clinical.rules import RULES
from voicelist.documents.names import PHASES
from voicelist.documents.sentences import Sentences
from voicelist.session.case import quantity_name, sentence
from voicelist.session.wording import shown

_HEARD = ("quantity", "heard", "expected")
SENTENCES: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "at-most": _HEARD,
        "cannot-be": _HEARD,
        "card-differs": _HEARD,
        "card-minimum": _HEARD,
        "card-silent": ("heard", "expected"),
        "card-separation": ("heard", "expected"),
        "chamber-stability": _HEARD,
        "continuous-power": ("heard", "expected"),
        "figures-differ": _HEARD,
        "fixed-with-minimum": _HEARD,
        "flow-at-most": ("heard", "expected"),
        "flow-on-venturi": ("heard",),
        "grade-near-edge": ("heard", "expected"),
        "grade-step": ("heard", "expected"),
        "knee-angle": ("heard", "expected"),
        "lens-elsewhere": _HEARD,
        "lens-range": _HEARD,
        "lens-sources": (*_HEARD, "other"),
        "lens-step": _HEARD,
        "minimum-too-high": _HEARD,
        "nasal-incision": ("heard", "expected"),
        "without-pause": _HEARD,
        "not-continuous": ("quantity", "heard"),
        "on-time-too-long": _HEARD,
        "order-above": (*_HEARD, "other"),
        "order-at-least": (*_HEARD, "other"),
        "order-at-most": (*_HEARD, "other"),
        "order-below": (*_HEARD, "other"),
        "pedal-end": ("heard", "expected"),
        "pedal-walk": ("heard", "expected"),
        "planned-place": _HEARD,
        "power-without-flow": ("heard", "expected"),
        "seat-side": ("heard", "expected"),
        "soft-profile": ("heard", "expected"),
        "two-infusions": ("heard", "expected"),
        "unusual": _HEARD,
        "unusual-separation": ("heard", "expected"),
        "vacuum-up-bottle-down": ("heard", "expected"),
        "which-unit": ("quantity", "heard"),
    }
)
PHASE_KEYS = tuple(f"phase.{phase}" for phase in PHASES)
SOURCE_KEYS = tuple(f"source.{source}" for source in SOURCES if source != "plan")
QUANTITY_KEYS = tuple(
    dict.fromkeys(f"quantity.{name.partition('_')[0]}" for name in (*UNITS, *OTHER_UNITS))
)
# The sentences of a record that was begun before a rule had its own.
_EARLIER = {"stop": "cannot-be", "ask": "card-differs", "note": "card-differs"}


def sentence_for(sentences: Sentences, finding: Finding) -> str:
    """The read-back of one finding."""
    key = finding.sentence or RULES[finding.rule].sentence
    if key not in sentences.sentences:
        key = _EARLIER[finding.severity]
    return sentence(
        sentences,
        key,
        quantity=_quantity(sentences, finding.quantity),
        heard=_value(finding, finding.heard),
        expected=_value(finding, finding.expected),
        other=_other(sentences, finding.other),
    )


def as_mapping(sentences: Sentences, finding: Finding) -> dict[str, Any]:
    """A finding as the journal keeps it: with what a person can do, and how far the rule may be
    trusted."""
    return {
        "rule": finding.rule,
        "severity": finding.severity,
        "quantity": finding.quantity,
        "heard": finding.heard,
        "expected": finding.expected,
        "unit": finding.unit,
        "sentence": sentence_for(sentences, finding),
        "remedy": RULES[finding.rule].remedy,
        "source": str(RULES[finding.rule].source),
    }


def _quantity(sentences: Sentences, quantity: str) -> str:
    if f"quantity.{quantity.partition('_')[0]}" in sentences.sentences:
        return quantity_name(sentences, quantity)
    return quantity.replace("_", " ")


def _value(finding: Finding, value: float | str) -> str:
    """Dioptres with their sign."""
    return shown(value, signed=finding.unit == "D")


def _other(sentences: Sentences, other: str) -> str:
    """The phase or source that a sentence speaks of besides, as spoken; a figure as it is."""
    known = (key for key in (f"phase.{other}", f"source.{other}") if key in sentences.sentences)
    key = next(known, None)
    return other if key is None else sentences.text(key)
