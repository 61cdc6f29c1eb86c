"""The example with containers says what the plain commands say, and its files do what they claim.

There are no containers here: its command line and its file of rights are given to the PostgreSQL of
the system.
"""

from __future__ import annotations

import os
import re
import shutil
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import psycopg
import pytest
import yaml
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec

from tests.department.postgres import programs, running

PROJECT = Path(__file__).resolve().parents[2]
DEPLOY = PROJECT / "deploy"
GUIDE = (PROJECT / "docs" / "install-server.md").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def service() -> dict[str, Any]:
    services = yaml.safe_load((DEPLOY / "compose.yaml").read_text(encoding="utf-8"))["services"]
    assert list(services) == ["records"]
    found: dict[str, Any] = services["records"]
    return found


def test_version_database_owner_and_port_are_those_of_the_plain_commands(
    service: dict[str, Any],
) -> None:
    image, _, version = service["image"].partition(":")
    tried = re.search(r"PostgreSQL \((\d+) or later; tried with (\d+)\)", GUIDE)
    assert tried is not None
    assert (image, version) == ("postgres", tried[2])
    assert int(tried[1]) <= int(version)
    asked = service["environment"]
    assert f"createuser --pwprompt {asked['POSTGRES_USER']}\n" in GUIDE
    made = f"createdb --owner {asked['POSTGRES_USER']} {asked['POSTGRES_DB']}\n"
    assert made in GUIDE
    addresses = set(re.findall(r"postgresql://(\w+)@([\w.]+)/(\w+)", GUIDE))
    assert {database for *_, database in addresses} == {asked["POSTGRES_DB"]}
    assert {login for login, *_ in addresses} >= {asked["POSTGRES_USER"], "tables"}
    # The addresses name no port: libpq takes its own, and so does the line of the password file.
    (port,) = service["ports"]
    inside = port.rpartition(":")[2]
    assert port.startswith("127.0.0.1:"), "nobody else reaches it before an address is chosen"
    assert re.findall(r"records\.example:(\d+):voicelist", GUIDE) == [inside]
    assert asked["POSTGRES_INITDB_ARGS"] == "--data-checksums"
    assert "initdb_options = '--data-checksums'" in GUIDE


def test_what_it_needs_is_declared_and_no_password_stands_in_it(service: dict[str, Any]) -> None:
    whole = yaml.safe_load((DEPLOY / "compose.yaml").read_text(encoding="utf-8"))
    named = {one if isinstance(one, str) else one["source"] for one in service["secrets"]}
    assert named == set(whole["secrets"])
    used = set(re.findall(r"/run/secrets/([\w.]+)", str(service)))
    assert used == named
    assert "POSTGRES_PASSWORD" not in service["environment"]
    data, rights = service["volumes"]
    assert data.partition(":")[0] in whole["volumes"]
    here, there, mode = rights.split(":")
    assert (DEPLOY / here).is_file()
    assert f"hba_file={there}" in service["command"]
    assert mode == "ro"


def _certificate(folder: Path) -> None:
    """A key and a certificate of its own making, for this computer."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, "localhost")])
    now = datetime.now(UTC)
    made = (
        x509.CertificateBuilder(name, name, key.public_key(), x509.random_serial_number())
        .not_valid_before(now - timedelta(days=1))
        .not_valid_after(now + timedelta(days=1))
        .add_extension(x509.SubjectAlternativeName([x509.DNSName("localhost")]), critical=False)
        .sign(key, hashes.SHA256())
    )
    (folder / "server.crt").write_bytes(made.public_bytes(serialization.Encoding.PEM))
    plain = key.private_bytes(
        serialization.Encoding.PEM,
        serialization.PrivateFormat.PKCS8,
        serialization.NoEncryption(),
    )
    (folder / "server.key").write_bytes(plain)
    for one in ("server.crt", "server.key"):
        (folder / one).chmod(0o600)
        if os.geteuid() == 0:
            shutil.chown(folder / one, "postgres", "postgres")


@pytest.mark.skipif(programs() is None, reason="no PostgreSQL server is installed here")
def test_its_server_takes_a_password_over_tls_and_nothing_else(service: dict[str, Any]) -> None:
    with running() as server:
        with server.connect() as owner:
            owner.execute("CREATE DATABASE voicelist")
            owner.execute("ALTER ROLE theatre_1 PASSWORD 'of the test'")
        server.stop()
        _certificate(server.folder)
        rights = server.folder / "pg_hba.conf"
        rights.write_bytes((DEPLOY / "pg_hba.conf").read_bytes())
        rights.chmod(0o644)
        options = " ".join(service["command"].split())
        options = options.replace("/run/secrets", str(server.folder))
        server.start(options.replace("/etc/postgresql", str(server.folder)))
        url = server.url("theatre_1", "voicelist")
        checked = f"sslmode=verify-full&sslrootcert={server.folder}/server.crt"
        safe = f"{url.replace('127.0.0.1', 'localhost')}?{checked}"
        with psycopg.connect(safe, password="of the test") as theatre:
            found = theatre.execute("SELECT ssl FROM pg_stat_ssl WHERE pid = pg_backend_pid()")
            assert found.fetchone() == (True,)
        for address, password in (
            (f"{url}?sslmode=disable", "of the test"),
            (safe, "another"),
            (safe.replace("/voicelist", "/postgres"), "of the test"),
        ):
            with pytest.raises(psycopg.OperationalError):
                psycopg.connect(address, password=password)
