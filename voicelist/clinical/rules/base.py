"""What a rule is: a small function with a name, a severity, a sentence, a source and a remedy."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Literal

from voicelist.clinical.limits import Limits
from voicelist.clinical.profile import OTHER_UNITS, UNITS, Finding, Situation
from voicelist.clinical.sources import Source

Severity = Literal["note", "ask", "stop"]


@dataclass(frozen=True, slots=True)
class Seen:
    """What a check found; see `Finding`."""

    quantity: str
    heard: float | str
    expected: float | str
    sentence: str = ""
    other: str = ""


Check = Callable[[Situation, Limits], Iterator[Seen]]


@dataclass(frozen=True, slots=True)
class ClinicalRule:
    """`severity`: a note is told, ask is a question that the surgeon may answer, stop cannot be.
    `sentence` is the key in the catalogue of sentences, `remedy` what a person can do about it.
    What is not `switchable` holds at every site: contradictions, units, and the card itself. Where
    `card_decides`, a card whose own figures would be asked about has answered the question."""

    name: str
    severity: Severity
    sentence: str
    source: Source
    remedy: str
    check: Check
    switchable: bool = True
    card_decides: bool = False

    def findings(self, situation: Situation, limits: Limits) -> Iterator[Finding]:
        """What the rule finds; nothing where the site has switched it off. Never raises."""
        if self.switchable and self.name in limits.off:
            return
        decided = self._decided(situation, limits) if self.card_decides else frozenset()
        for seen in self.check(situation, limits):
            if seen.quantity in decided:
                continue
            in_words = isinstance(seen.heard, str)
            unit = "" if in_words else UNITS.get(seen.quantity, OTHER_UNITS.get(seen.quantity, ""))
            yield Finding(
                self.name,
                self.severity,
                seen.quantity,
                seen.heard,
                seen.expected,
                unit,
                seen.sentence,
                seen.other,
            )

    def _decided(self, situation: Situation, limits: Limits) -> frozenset[str]:
        """The quantities that the rule would ask about if the card's own figures were said."""
        of_card = replace(situation, heard=situation.card.as_said(situation.heard.phase))
        return frozenset(seen.quantity for seen in self.check(of_card, limits))


def rule(
    name: str,
    severity: Severity,
    sentence: str,
    source: Source,
    remedy: str,
    *,
    switchable: bool = True,
    card_decides: bool = False,
) -> Callable[[Check], ClinicalRule]:
    """Makes a rule of a check."""

    def made(check: Check) -> ClinicalRule:
        return ClinicalRule(
            name, severity, sentence, source, remedy, check, switchable, card_decides
        )

    return made
