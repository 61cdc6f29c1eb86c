"""Every sentence that the session asks the catalogue for, and the values that it gives each one.

A catalogue that lacks one would fail in the middle of a case; `voicelist check` reads this table.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from voicelist.documents.names import ROLES
from voicelist.session import rule_sentences
from voicelist.session.rule_sentences import PHASE_KEYS, QUANTITY_KEYS, SOURCE_KEYS

_SENTENCES: Mapping[str, tuple[str, ...]] = {
    "accepted": ("quantity", "heard"),
    "and-more": ("names", "count"),
    "asked-again": ("call",),
    "cannot-hear": (),
    "cannot-wait": (),
    "deferred": (),
    "did-you-mean": ("offer",),
    "echo": ("parts",),
    "echo-part": ("quantity", "heard"),
    "end-unfinished": (),
    "ended-unfinished": (),
    "has-to-be-answered": (),
    "hear-again": (),
    "here-we-are": ("section", "name", "count"),
    "last-item": (),
    "nothing-open": (),
    "nothing-to-take-back": (),
    "number.minus": (),
    "number.plus": (),
    "number.point": (),
    "on-hold": (),
    "plan-differs": ("value",),
    "prompt-open": ("name",),
    "prompt-waiting": ("name",),
    "report-denial": ("words",),
    "reported": (),
    "reported-open": (),
    "role-please": ("role",),
    "say-the-sign": (),
    "section-open-again": ("section",),
    "still-needed": ("names",),
    "still-open": ("names",),
    "taken-back": ("name",),
    "was-that": ("value",),
}
ROLE_KEYS = tuple(f"role.{role}" for role in ROLES)

REQUIRED: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        **_SENTENCES,
        **rule_sentences.SENTENCES,
        **dict.fromkeys((*QUANTITY_KEYS, *PHASE_KEYS, *SOURCE_KEYS, *ROLE_KEYS), ()),
    }
)

# Sentences that repeat what was heard and wait: at most twelve words. The echo of a profile is as
# long as the profile.
READ_BACKS = (
    *rule_sentences.SENTENCES,
    "did-you-mean",
    "end-unfinished",
    "plan-differs",
    "report-denial",
    "say-the-sign",
    "still-needed",
    "was-that",
)
READ_BACK_WORDS_AT_MOST = 12
