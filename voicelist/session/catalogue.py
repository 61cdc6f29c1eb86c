"""Every sentence that the session asks the catalogue for, and the values that it gives each one.

A catalogue that lacks one would fail in the middle of a case; `voicelist check` reads this table.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from voicelist.documents.names import PLAN_FIELDS, ROLES
from voicelist.session import rule_sentences
from voicelist.session.rule_sentences import PHASE_KEYS, QUANTITY_KEYS, SOURCE_KEYS

_SENTENCES: Mapping[str, tuple[str, ...]] = {
    "accepted": ("quantity", "heard"),
    "and-more": ("names", "count"),
    "again-axis": (),
    "again-case": (),
    "again-eye": (),
    "again-lens": (),
    "asked-again": ("call",),
    "back-quiet": ("section",),
    "back-to": ("section",),
    "begin-early": ("names", "section"),
    "cannot-hear": (),
    "cannot-wait": (),
    "card-lacks": (),
    "case-elsewhere": ("value", "plan"),
    "change-noted": (),
    "clock-back": ("span",),
    "clock-forward": ("span",),
    "clock-slept": ("span",),
    "clock-stood-still": ("span",),
    "comes-first": ("name",),
    "comes-later": ("name",),
    "deferred": (),
    "details": ("parts",),
    "did-you-mean": ("offer",),
    "echo": ("parts",),
    "either-or": ("first", "second"),
    "example-axis": ("thing",),
    "example-case-number": ("thing",),
    "example-choice": ("thing", "choice"),
    "example-eye": ("thing",),
    "example-grade": (),
    "example-lens-power": ("thing",),
    "example-profile": (),
    "example-role": ("call",),
    "example-value": ("thing",),
    "example-whole": ("call",),
    "reason-not-applicable": ("value",),
    "say-the-reason": (),
    "echo-part": ("quantity", "heard"),
    "end-unfinished": (),
    "ended-unfinished": (),
    "grade-changed": ("grade", "names"),
    "hand-over-deferred": ("names",),
    "hand-over-open": ("names",),
    "hand-over-rest": ("count",),
    "has-to-be-answered": (),
    "hear-again": (),
    "hears-me": (),
    "help-anytime": ("words",),
    "help-now": ("words",),
    "help-shown": (),
    "here-we-are": ("section", "name", "count"),
    "last-item": (),
    "milestone-again": ("name",),
    "microphone-not-heard": (),
    "missing-eye": (),
    "missing-grade": (),
    "missing-power": (),
    "missing-scale": (),
    "missing-settings": (),
    "missing-sign": (),
    "milestone-ago": ("name", "count"),
    "milestone-at": ("name", "time"),
    "milestone-lacking": ("names",),
    "no-further": (),
    "nothing-open": (),
    "nothing-open-before": ("section",),
    "nothing-to-take-back": (),
    "number.minus": (),
    "number.plus": (),
    "number.point": (),
    "on-hold": (),
    "one-at-a-time": ("call",),
    "plan-cannot": (),
    "plan-change": ("field", "value", "document"),
    "plan-changed": (),
    "plan-changed-open": ("names",),
    "plan-differs": ("value",),
    "plan-stays": (),
    "plan-which": (),
    "prompt-open": ("name",),
    "prompt-waiting": ("name",),
    "quiet-now": ("section",),
    "quiet-why": ("section",),
    "record-again": (),
    "record-resume": ("case",),
    "record-stopped": (),
    "record-stopped-at": ("name",),
    "report-denial": ("words",),
    "report-thing": ("name",),
    "reported": (),
    "reported-open": (),
    "role-away": ("role",),
    "role-is-away": ("role",),
    "role-heard-again": ("role",),
    "role-needed": ("role", "name"),
    "role-not-heard": ("role",),
    "role-please": ("role",),
    "say-the-sign": (),
    "second-eye": (),
    "second-role": (),
    "section-begins": ("section",),
    "section-open-again": ("section",),
    "still-needed": ("names",),
    "still-open": ("names",),
    "taken-back": ("name",),
    "under-way": ("count",),
    "under-way-since": ("name", "count"),
    "was-that": ("value",),
}
ROLE_KEYS = tuple(f"role.{role}" for role in ROLES)
FIELD_KEYS = tuple(f"field.{field}" for field in PLAN_FIELDS)

REQUIRED: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        **_SENTENCES,
        **rule_sentences.SENTENCES,
        **dict.fromkeys((*QUANTITY_KEYS, *PHASE_KEYS, *SOURCE_KEYS, *ROLE_KEYS, *FIELD_KEYS), ()),
    }
)

# Sentences that repeat what was heard and wait: at most twelve words. The echo of a profile is as
# long as the profile.
READ_BACKS = (
    *rule_sentences.SENTENCES,
    "begin-early",
    "details",
    "did-you-mean",
    "end-unfinished",
    "milestone-ago",
    "milestone-at",
    "plan-change",
    "plan-differs",
    "reason-not-applicable",
    "report-denial",
    "role-away",
    "say-the-sign",
    "still-needed",
    "was-that",
)
READ_BACK_WORDS_AT_MOST = 12
# What a quiet case keeps to the display.
QUIET_KEYS = frozenset((*READ_BACKS, "accepted", "echo"))
