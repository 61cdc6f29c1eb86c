"""Judge PDF files and FHIR bundles by the validators of others: veraPDF, and HL7's reference one.

    python tests/soak/validated_exports.py [--reduced]

Needs a JDK of version 17 or later and Maven, which fetches the validators once. Cases with all that
a record can tell, odd words, damage and practice, and lists on paper, are written as PDF (PDF/A-2b,
ISO 19005-2) and FHIR R4 (4.0.1), and validated without a network. Each validator also gets files
that were spoilt on purpose, which it has to refuse. Exit code 1 where a judgement is another one.
"""

from __future__ import annotations

import argparse
import io
import json
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

from pypdf import PdfReader, PdfWriter
from pypdf.generic import DictionaryObject, NameObject, TextStringObject

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "record"))

from cases import keep, opened, stepped_store, whole_case
from many_facts import rich_case

from voicelist.paper.sheet import case_sheet, plan_sheet
from voicelist.record.exports import export
from voicelist.record.journal import Entry
from voicelist.record.verify import read_journal_file
from voicelist.session.records import Answered

HERE = Path(__file__).resolve().parent
ROOT = HERE.parents[1]
MAVEN_S, JAVA_S = 600, 900
ODD = '#panic("x") $x$ *b* <a> \u4e2d \U0001f600 \u202e \u0627 e\u0301 \u200b \ue000 \ufb01 "\\'


def cases(folder: Path, *, reduced: bool) -> Iterator[tuple[str, tuple[Entry, ...]]]:
    """Cases by name."""
    store = stepped_store(folder / "records.sqlite3")
    rich = rich_case(store)
    yield "rich", rich
    yield (
        "odd",
        keep(store, "odd \u4e2d", (opened(), Answered("bottle", "said-fault", ODD, "surgeon"))),
    )
    yield "damaged", (*rich[:-1], replace(rich[-1], at="2031-03-04T09:00:00.000Z"))
    practice = stepped_store(folder / "practice.sqlite3")
    yield "practice", keep(practice, "practice-007", whole_case("practice"))
    if not reduced:
        for file in sorted((ROOT / "tests" / "record" / "journals").glob("*.jsonl")):
            yield file.stem, read_journal_file(file)


def written(folder: Path, *, reduced: bool) -> tuple[list[Path], list[Path]]:
    """The PDF files and the bundles that have to hold."""
    pdf, fhir = [], []
    for name, entries in cases(folder, reduced=reduced):
        pdf.append(folder / f"{name}.pdf")
        pdf[-1].write_bytes(export(entries, "pdf"))
        fhir.append(folder / f"{name}.json")
        fhir[-1].write_bytes(export(entries, "fhir"))
        pdf.append(folder / f"{name}-sheet.pdf")
        pdf[-1].write_bytes(case_sheet(entries))
    plans = sorted((ROOT / "grammars" / "plans").glob("*.yaml"))
    for plan in plans[:1] if reduced else plans:
        pdf.append(folder / f"{plan.stem}-list.pdf")
        pdf[-1].write_bytes(plan_sheet(plan))
    return pdf, fhir


def spoilt_pdf(data: bytes) -> Iterator[bytes]:
    """The same without its XMP metadata, which PDF/A asks for (ISO 19005-2, 6.6.2), and with a
    script, which it forbids (6.5.2)."""
    for spoil in ("metadata", "script"):
        writer = PdfWriter(clone_from=PdfReader(io.BytesIO(data)))
        if spoil == "script":
            script = {NameObject("/S"): NameObject("/JavaScript")}
            script[NameObject("/JS")] = TextStringObject("app.beep();")
            writer.root_object[NameObject("/OpenAction")] = DictionaryObject(script)
        else:
            del writer.root_object["/Metadata"]
        made = io.BytesIO()
        writer.write(made)
        yield made.getvalue()


def spoilt_fhir(data: bytes) -> Iterator[bytes]:
    """The same with one resource that is none of R4, or whose answer its questionnaire forbids."""
    for spoil in (_no_such_status, _another_type, _no_such_answer, _nobody):
        bundle = json.loads(data)
        spoil([one["resource"] for one in bundle["entry"]])
        yield json.dumps(bundle).encode()


def _first(resources: list[dict[str, Any]], kind: str) -> dict[str, Any]:
    return next(one for one in resources if one["resourceType"] == kind)


def _no_such_status(resources: list[dict[str, Any]]) -> None:
    _first(resources, "Procedure")["status"] = "done"


def _another_type(resources: list[dict[str, Any]]) -> None:
    _first(resources, "QuestionnaireResponse")["item"][0]["item"][0]["answer"] = [
        {"valueInteger": 1}
    ]


def _no_such_answer(resources: list[dict[str, Any]]) -> None:
    part = _first(resources, "QuestionnaireResponse")["item"][0]["item"][0]
    part["answer"] = [{"valueString": "all done"}]


def _nobody(resources: list[dict[str, Any]]) -> None:
    del _first(resources, "Provenance")["agent"]


def judged(kind: str, program: str, files: list[Path], folder: Path) -> dict[str, bool]:
    """What the validator says of each file."""
    jars = folder / f"{kind}-jars"
    fetch = ("mvn", "-q", "-B", "dependency:copy-dependencies", f"-DoutputDirectory={jars}")
    where = folder / f"{kind}-pom"
    shutil.copytree(HERE / "validators" / kind, where)
    subprocess.run(fetch, cwd=where, check=True, timeout=MAVEN_S)
    run = ("java", "-cp", f"{jars}/*", str(where / f"{program}.java"), *map(str, files))
    done = subprocess.run(run, capture_output=True, text=True, timeout=JAVA_S, check=False)
    verdicts: dict[str, bool] = {}
    said: list[str] = []
    for line in done.stdout.splitlines():
        verdict, _, rest = line.partition(": ")
        if verdict in ("holds", "does not hold"):
            verdicts[Path(rest.partition(" (")[0]).name] = verdict == "holds"
            if not rest.startswith(str(folder / "spoilt")) and verdict != "holds":
                print("\n".join(said))
            said = []
        else:
            said.append(line)
    if len(verdicts) != len(files):
        print(done.stderr)
    return verdicts


def main() -> int:
    """Prints each judgement; the exit code is 1 if one is not as it has to be."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--reduced", action="store_true", help="four cases and one plan")
    reduced = parser.parse_args().reduced
    amiss = 0
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        pdf, fhir = written(folder, reduced=reduced)
        for kind, program, good, spoil in (
            ("pdf", "ValidatePdf", pdf, spoilt_pdf),
            ("fhir", "ValidateFhir", fhir, spoilt_fhir),
        ):
            spoilt = []
            for number, data in enumerate(spoil(good[0].read_bytes()), start=1):
                spoilt.append(folder / f"spoilt-{number}.{kind}")
                spoilt[-1].write_bytes(data)
            verdicts = judged(kind, program, [*good, *spoilt], folder)
            for file in (*good, *spoilt):
                found, wanted = verdicts.get(file.name), file in good
                words = {True: "holds", False: "does not hold", None: "was not judged"}[found]
                amiss += found is not wanted
                print(f"{file.name}: {words}{'' if found is wanted else '  <- unexpected'}")
    print(f"{len(pdf)} PDF files, {len(fhir)} bundles; {amiss} judged otherwise than wanted.")
    return 1 if amiss else 0


if __name__ == "__main__":
    sys.exit(main())
