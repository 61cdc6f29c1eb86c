"""A case as an HL7 FHIR R4 Bundle (version 4.0.1): Questionnaire and QuestionnaireResponse of each
section, Procedure, AuditEvents, Device, and a Provenance that carries the head of the journal.

The subject is a case code and nothing else. Only code systems of FHIR itself are used, and words
for the rest: no licensed code system. The Procedure's status is `unknown`, whatever was said.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from html import escape
from typing import Any
from uuid import UUID, uuid5

from voicelist.record.about import about
from voicelist.record.attention import first_to_be_read
from voicelist.record.fhir_answers import questionnaire, response, told
from voicelist.record.journal import Entry
from voicelist.record.log import Names, event_words
from voicelist.record.view import CaseView, case_view
from voicelist.record.words import CAUTION, role_words
from voicelist.session.records import from_body

Json = dict[str, Any]
# Made once at random, for the codes of cases and the ids of their resources.
_CODES = UUID("8d0c3b7e-5f14-4a39-9f62-0b6b3a1f7d55")
# Under it a hash is known as one of SHA-256 (NIST, Computer Security Objects Register, id-sha256).
_SHA_256 = "urn:oid:2.16.840.1.101.3.4.2.1"
_CODE_SYSTEMS = "http://terminology.hl7.org/CodeSystem"
# What an auditor asks for: starts and ends, changes of the plan, what was accepted, late entries.
_AUDITED = {
    "opened": ("originate", "C"),
    "resumed": ("access", "U"),
    "plan-changed": ("amend", "U"),
    "accepted": ("attest", "U"),
    "undone": ("amend", "U"),
    "amended": ("amend", "U"),
    "closed": ("hold", "U"),
}


def as_fhir(entries: Sequence[Entry], amiss: Sequence[str] = ()) -> bytes:
    """The Bundle as JSON, the same bytes for the same record."""
    view = case_view(entries, amiss)
    bundle = _Bundle(view, entries)
    text = json.dumps(bundle.made(), ensure_ascii=False, indent=1, allow_nan=False)
    return f"{text}\n".encode()


class _Bundle:
    """The resources of one case, each known to the others by its URN."""

    def __init__(self, view: CaseView, entries: Sequence[Entry]) -> None:
        self._view, self._entries = view, entries

    def made(self) -> Json:
        view = self._view
        resources = list(self._resources())
        provenance = self._provenance([self._urn(one["id"]) for one in resources])
        return {
            "resourceType": "Bundle",
            "id": self._id("bundle"),
            **self._meta(),
            "identifier": {"system": "urn:ietf:rfc:3986", "value": self._urn(self._id("bundle"))},
            "type": "collection",
            "timestamp": view.last_at,
            "entry": [
                {"fullUrl": self._urn(one["id"]), "resource": one}
                for one in (*resources, provenance)
            ],
        }

    def _id(self, part: str) -> str:
        """Stays the same when a case is exported again with more events."""
        return str(uuid5(_CODES, f"{self._entries[0].hash}/{part}"))

    def _urn(self, resource_id: str) -> str:
        return f"urn:uuid:{resource_id}"

    def _to(self, part: str) -> Json:
        return {"reference": self._urn(self._id(part))}

    def _meta(self) -> Json:
        """Practice carries FHIR's own label for data of tests."""
        if not self._view.practice:
            return {}
        label = {"system": f"{_CODE_SYSTEMS}/v3-ActReason", "code": "HTEST"}
        return {"meta": {"security": [{**label, "display": "test health data"}]}}

    def _head(self, kind: str, part: str, narrative: str) -> Json:
        banner = f"{self._view.banner}: " if self._view.banner else ""
        words = escape(told(f"{banner}{narrative}"), quote=False)
        return {
            "resourceType": kind,
            "id": self._id(part),
            **self._meta(),
            "text": {
                "status": "generated",
                "div": f'<div xmlns="http://www.w3.org/1999/xhtml">{words}</div>',
            },
        }

    def _subject(self) -> Json:
        code = {"system": self._urn(str(_CODES)), "value": told(self._view.case)}
        return {"type": "Patient", "identifier": code, "display": f"case {self._view.case}".strip()}

    def _resources(self) -> Iterator[Json]:
        yield self._device()
        yield self._procedure()
        for number, section in enumerate(self._view.sections):
            asked, answered = f"questionnaire/{number}", f"response/{number}"
            url = self._urn(self._id(f"canonical/{number}"))
            yield {
                **self._head("Questionnaire", asked, f"{section.name}: what is asked"),
                **questionnaire(self._view, section, url),
            }
            yield {
                **self._head("QuestionnaireResponse", answered, f"{section.name}: what was said"),
                **response(self._view, section, url),
                "partOf": [self._to("procedure")],
                "subject": self._subject(),
                "author": self._to("device"),
            }
        yield from self._audit()

    def _device(self) -> Json:
        versions = dict.fromkeys(run.software for run in self._view.runs)
        return {
            **self._head("Device", "device", "voicelist, software for spoken checklists"),
            "deviceName": [{"name": "voicelist", "type": "user-friendly-name"}],
            "type": {"text": "software for spoken checklists; not a medical device"},
            "version": [{"value": told(one)} for one in versions],
            "note": [{"text": CAUTION}],
        }

    def _procedure(self) -> Json:
        view = self._view
        eye = view.plan.get("eye")
        said = [view.banner] if view.banner else []
        said += [CAUTION, *view.problems]
        said += [f"{name}: {text}" for name, text in about(view)]
        said += [f"change of plan: {one.words}" for one in view.plan_changes]
        said += [f"first to be read: {one.name}: {one.words}" for one in first_to_be_read(view)]
        said += [one.words for one in view.course.milestones]
        said += [one.words for one in view.course.requests]
        said += [f"entered late: {one.words}" for one in view.late_entries]
        return {
            **self._head("Procedure", "procedure", view.checklist_title or view.checklist_id),
            "status": "unknown",
            "code": {"text": told(view.checklist_title or view.checklist_id)},
            "subject": self._subject(),
            **({"bodySite": [{"text": f"{told(str(eye))} eye, by the plan"}]} if eye else {}),
            "note": [{"text": told(one)} for one in said],
        }

    def _audit(self) -> Iterator[Json]:
        names = Names.of(self._view)
        for entry in self._entries:
            if entry.kind not in _AUDITED:
                continue
            what, action = _AUDITED[entry.kind]
            words = told(event_words(from_body(entry.kind, entry.body), names))
            kind = entry.kind.replace("-", " ")
            yield {
                **self._head("AuditEvent", f"audit/{entry.seq}", f"{kind}: {words}"),
                "type": {"system": f"{_CODE_SYSTEMS}/iso-21089-lifecycle", "code": what},
                "action": action,
                "recorded": entry.at,
                "outcome": "0",
                "outcomeDesc": f"{kind}: {words}",
                "agent": [self._agent(entry)],
                "source": {"observer": self._to("device")},
                "entity": [{"what": self._to("procedure"), "name": f"event {entry.seq}"}],
            }

    def _agent(self, entry: Entry) -> Json:
        """Who it was: a role, never a person; else the software."""
        role = str(entry.body.get("role") or "")
        if not role:
            return {"who": self._to("device"), "requestor": False}
        known = str(entry.body.get("role_known_by") or "")
        return {"role": [{"text": told(role_words(role, known))}], "requestor": True}

    def _provenance(self, targets: Sequence[str]) -> Json:
        view = self._view
        assembler = {"system": f"{_CODE_SYSTEMS}/provenance-participant-type", "code": "assembler"}
        heads = {
            "head of the journal of the case": view.head,
            "tree head (RFC 6962) over the journal of the case": view.tree_head,
        }
        return {
            **self._head(
                "Provenance", "provenance", f"made from the journal with head {view.head}"
            ),
            "target": [{"reference": one} for one in targets],
            "recorded": view.last_at,
            "agent": [{"type": {"coding": [assembler]}, "who": self._to("device")}],
            "entity": [
                {
                    "role": "source",
                    "what": {
                        "identifier": {"system": _SHA_256, "value": head},
                        "display": name,
                    },
                }
                for name, head in heads.items()
                if head
            ],
        }
