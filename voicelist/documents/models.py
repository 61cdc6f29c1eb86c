"""All document models in one place, and which one belongs to which kind of document."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from voicelist.documents.base import Headed
from voicelist.documents.card import Card, GradeBand, IncisionCard, Modulation, Setting, Settings
from voicelist.documents.checklist import Checklist, Item, Section
from voicelist.documents.lexicon import Lexicon, LexiconWord
from voicelist.documents.limits import SiteLimits
from voicelist.documents.names import Kind
from voicelist.documents.plan import Grade, IncisionPlan, Lens, Plan
from voicelist.documents.sentences import Sentences

Document = Checklist | Card | Plan | Lexicon | Sentences | SiteLimits

MODELS: Mapping[Kind, type[Headed]] = MappingProxyType(
    {
        "checklist": Checklist,
        "card": Card,
        "plan": Plan,
        "lexicon": Lexicon,
        "sentences": Sentences,
        "limits": SiteLimits,
    }
)

__all__ = [
    "MODELS",
    "Card",
    "Checklist",
    "Document",
    "Grade",
    "GradeBand",
    "IncisionCard",
    "IncisionPlan",
    "Item",
    "Lens",
    "Lexicon",
    "LexiconWord",
    "Modulation",
    "Plan",
    "Section",
    "Sentences",
    "Setting",
    "Settings",
    "SiteLimits",
]
