"""Post FHIR bundles to a server of others and read them back.

    python tests/soak/fhir_server.py [--reduced]

Needs a JDK of version 17 or later and Maven, which fetches the server once: HAPI FHIR's, with its
store in memory and on this computer alone (tests/soak/validators/server/). Each case is posted as
one Bundle, and each of its resources is put under its own id; what the server then gives has to say
the same, piece by piece. What is no R4 has to be refused. Exit code 1 where that does not hold.
"""

from __future__ import annotations

import argparse
import contextlib
import json
import shutil
import subprocess
import sys
import tempfile
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.soak.validated_exports import MAVEN_S, cases, spoilt_fhir
from voicelist.record.exports import export

HERE = Path(__file__).resolve().parent
_FHIR_JSON = "application/fhir+json"
_REFUSED = (400, 422)


@contextlib.contextmanager
def server(folder: Path) -> Iterator[str]:
    """A FHIR server; its address."""
    jars, where = folder / "jars", folder / "server"
    fetch = ("mvn", "-q", "-B", "dependency:copy-dependencies", f"-DoutputDirectory={jars}")
    shutil.copytree(HERE / "validators" / "server", where)
    subprocess.run(fetch, cwd=where, check=True, timeout=MAVEN_S)
    process = subprocess.Popen(
        ("java", "-cp", f"{jars}/*", str(where / "ServeFhir.java")),
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
    )
    assert process.stdin is not None
    assert process.stdout is not None
    try:
        port = next(line.split()[1] for line in process.stdout if line.startswith("port "))
        yield f"http://127.0.0.1:{port}/fhir"
    finally:
        process.stdin.close()
        process.wait(30)


def asked(method: str, address: str, resource: Any = None) -> tuple[int, Any, str]:
    """Status, resource and place of what the server answers."""
    data = None if resource is None else json.dumps(resource).encode()
    request = urllib.request.Request(address, data, method=method)
    request.add_header("Accept", _FHIR_JSON)
    request.add_header("Content-Type", _FHIR_JSON)
    request.add_header("Prefer", "return=representation")
    try:
        with urllib.request.urlopen(request, timeout=60) as answer:
            return answer.status, json.load(answer), answer.headers.get("Location") or ""
    except urllib.error.HTTPError as refused:
        return refused.code, None, ""


def differences(sent: Any, given: Any, place: str = "") -> Iterator[str]:
    """Where the two do not say the same. What a server adds of its own is left out: version and
    time of its copy."""
    if isinstance(sent, dict) and isinstance(given, dict):
        for name in sent.keys() | given.keys():
            if name in ("versionId", "lastUpdated") and place.endswith(".meta"):
                continue
            if name == "meta" and name not in sent:
                given = {**given, name: {}}
            yield from differences(sent.get(name, {}), given.get(name, {}), f"{place}.{name}")
    elif isinstance(sent, list) and isinstance(given, list) and len(sent) == len(given):
        for number, (one, other) in enumerate(zip(sent, given, strict=True)):
            yield from differences(one, other, f"{place}[{number}]")
    elif sent != given and not _same_narrative(place, sent, given):
        yield f"{place}: sent {json.dumps(sent)[:200]}, given {json.dumps(given)[:200]}"


def _same_narrative(place: str, sent: Any, given: Any) -> bool:
    """XHTML, which may be written in more than one way."""
    if not place.endswith(".text.div"):
        return False
    from xml.etree.ElementTree import canonicalize

    return canonicalize(sent, strip_text=True) == canonicalize(given, strip_text=True)


def _as_kept(bundle: Any) -> Any:
    """A Bundle without its own id, which the server gives, and without those of its resources,
    which it takes from their addresses (`urn:uuid:` and the id) and does not write again."""
    entries = []
    for one in bundle["entry"]:
        resource = dict(one["resource"])
        own = resource.pop("id", None)
        assert own is None or one["fullUrl"] == f"urn:uuid:{own}"
        entries.append({**one, "resource": resource})
    return {**{name: one for name, one in bundle.items() if name != "id"}, "entry": entries}


def tried(address: str, name: str, data: bytes) -> list[str]:
    """What is amiss about one bundle, posted and read back, and about each of its resources."""
    bundle = json.loads(data)
    status, _, place = asked("POST", f"{address}/Bundle", bundle)
    if status != 201:
        return [f"{name}: the bundle is answered with {status}"]
    _, given, _ = asked("GET", place.partition("/_history")[0])
    amiss = list(differences(_as_kept(bundle), _as_kept(given), name))
    for one in (entry["resource"] for entry in bundle["entry"]):
        own = f"{one['resourceType']}/{one['id']}"
        status, _, _ = asked("PUT", f"{address}/{own}", one)
        _, given, _ = asked("GET", f"{address}/{own}")
        if status not in (200, 201):
            amiss.append(f"{name}: {own} is answered with {status}")
        amiss += differences(one, given, f"{name} {own}")
    return amiss


def main() -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n\n")[0])
    parser.add_argument("--reduced", action="store_true", help="four cases")
    wanted = parser.parse_args()
    amiss: list[str] = []
    with tempfile.TemporaryDirectory() as folder, server(Path(folder)) as address:
        count = resources = 0
        for name, entries in cases(Path(folder), reduced=wanted.reduced):
            data = export(entries, "fhir")
            amiss += tried(address, name, data)
            count, resources = count + 1, resources + len(json.loads(data)["entry"])
            if name == "rich":
                spoilt = {**json.loads(data), "checked": True}
                refused = asked("POST", f"{address}/Bundle", spoilt)[0]
                procedure = json.loads(next(spoilt_fhir(data)))["entry"][1]["resource"]
                also = asked("PUT", f"{address}/Procedure/{procedure['id']}", procedure)[0]
                if not {refused, also} <= set(_REFUSED):
                    amiss.append(f"what is no R4 is answered with {refused} and {also}")
    print(*amiss, sep="\n")
    print(f"{count} bundles of {resources} resources posted and read back; {len(amiss)} amiss.")
    return 1 if amiss else 0


if __name__ == "__main__":
    sys.exit(main())
