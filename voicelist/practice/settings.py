"""Questions about the settings of a case, phase by phase, judged as a session judges them: by the
card at the grade that is declared, and by the clinical rules."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from voicelist.clinical.profile import Finding, Situation, SpokenGrade
from voicelist.clinical.rules import RULES, findings
from voicelist.clinical.settings import missing
from voicelist.documents.embedded import Bundle
from voicelist.grammar.match import Match
from voicelist.practice.quiz import QuizVerdict
from voicelist.session.case import quantity_name
from voicelist.session.checked import as_settings, situation_of, words_of_card
from voicelist.session.profile import settings_said
from voicelist.session.rule_sentences import sentence_for
from voicelist.session.wording import shown

ROOT = "profile"
_KIND = "settings"
_NOTE = "note"

Values = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class SettingsQuestion:
    """The settings of one phase. `before` are those that were said for phases before it; what was
    said for this one is merged, breath by breath."""

    bundle: Bundle
    phase: str
    before: Mapping[str, Values] = field(default_factory=dict)

    @property
    def kind(self) -> str:
        return _KIND

    @property
    def about(self) -> str:
        name = self.bundle.sentences.text(f"phase.{self.phase}")
        return name[:1].upper() + name[1:]

    @property
    def text(self) -> str:
        return self.bundle.sentences.text("practice.settings", phase=self._phase_words())

    @property
    def roots(self) -> tuple[str, ...]:
        return (ROOT,)

    def said(self, answers: Sequence[Match]) -> dict[str, Any]:
        """All answers as one: of a quantity said twice the later counts."""
        values: dict[str, Any] = {}
        for one in answers:
            values |= settings_said(one)
        return values

    def judged(self, answers: Sequence[Match], *, last: bool) -> QuizVerdict:
        values = self.said(answers)
        situation = self._situation(values)
        found = findings(situation, self.bundle.limits.for_rules())
        amiss = [one for one in found if one.severity != _NOTE]
        lacking = self._lacking(values, situation)
        text, sentences = self.bundle.sentences.text, self.bundle.sentences
        told = [sentence_for(sentences, one) for one in found]
        answer = " ".join(one.text for one in answers[-1:])
        if lacking:
            names = ", ".join(quantity_name(sentences, one) for one in lacking)
            told.append(text("practice.settings-more", names=names))
        reasons = tuple(_reason(sentence_for(sentences, one), one) for one in found)
        if not amiss and not lacking:
            return QuizVerdict(True, (*told, text("practice.fits")), reasons, answer)
        if last:
            parts = ", ".join(self.of_card())
            told.append(text("practice.card-has", parts=parts))
        else:
            told.append(text("practice.settings-again", phase=self._phase_words()))
        return QuizVerdict(False, tuple(told), reasons, answer)

    def of_card(self) -> Iterator[str]:
        """What the card has, in words."""
        card, sentences = self._situation({}).card, self.bundle.sentences
        for name, one in card.settings.items():
            low = "" if one.minimum is None else f"{shown(one.minimum)} to "
            value = f"{low}{shown(one.value)}"
            yield " ".join(filter(None, (quantity_name(sentences, name), value, one.control)))
        for name, word in words_of_card(card).items():
            yield f"{quantity_name(sentences, name)} {word}"

    def _phase_words(self) -> str:
        return self.bundle.sentences.text(f"phase.{self.phase}")

    def _situation(self, values: Values) -> Situation:
        planned = self.bundle.plan.grade
        grade = SpokenGrade(planned.scale, planned.value)
        return situation_of(self.bundle.card, grade, self.phase, values, self.before)

    def _lacking(self, values: Values, situation: Situation) -> list[str]:
        words = [name for name in words_of_card(situation.card) if name not in values]
        return [*missing(as_settings(values), situation.card.settings), *words]


def _reason(sentence: str, finding: Finding) -> str:
    """Why something does not fit: what can be done, and how far the rule may be trusted."""
    rule = RULES[finding.rule]
    return f"{sentence} {rule.remedy} [{rule.source}]"


def phases_asked(bundle: Bundle) -> tuple[str, ...]:
    """The phases that the card has at the plan's grade, in its order; those of the plan if it says
    which."""
    grade = bundle.plan.grade
    band = next((one for one in bundle.card.grades if one.holds(grade.scale, grade.value)), None)
    every = () if band is None else tuple(str(one) for one in band.phases)
    wanted = bundle.plan.phases
    return every if wanted is None else tuple(one for one in every if one in wanted)


def case_words(bundle: Bundle) -> dict[str, str]:
    """What is read aloud of the case."""
    plan = bundle.plan
    lens = plan.planned_lens
    return {
        "eye": plan.side or "not planned",
        "grade": f"{shown(plan.grade.value)} {plan.grade.scale}",
        "lens": f"{lens.model}, {lens.power_D:+g}" if lens is not None else "not planned",
        "card": bundle.card.id.replace("-", " "),
    }
