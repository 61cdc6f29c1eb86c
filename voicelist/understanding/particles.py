"""Small words of a language that the code looks at one by one, such as what denies or asks for
something. They are data: public rules of the same names, beside the frames."""

from __future__ import annotations

from dataclasses import dataclass, fields

from voicelist.grammar.ruleset import RuleSet


@dataclass(frozen=True, slots=True)
class Particles:
    """Each field is the rule of that name."""

    denying: frozenset[str]
    denying_a_verb: frozenset[str]
    beside_a_denial: frozenset[str]
    denying_at_first: frozenset[str]
    lasting: frozenset[str]
    asking_for: frozenset[str]
    likening: frozenset[str]
    making_a_question: frozenset[str]
    there_is_some: frozenset[str]
    telling_of_some: frozenset[str]
    behind_an_opening: frozenset[str]

    @classmethod
    def from_rules(cls, rules: RuleSet) -> Particles:
        """Rules that are absent are empty."""
        return cls(*(frozenset(rules.words(one.name)) for one in fields(cls)))

    def are_complete(self) -> bool:
        """Whether all are there: without them a denial might be overheard."""
        return all(getattr(self, one.name) for one in fields(self))
