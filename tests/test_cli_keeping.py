"""Heads, proofs, signatures and erasure at the command line."""

from __future__ import annotations

import json
import sqlite3
import stat
from pathlib import Path

import pytest

from tests.command import Command, voicelist
from tests.record.cases import keep, keep_on, resumed, stepped_store, whole_case

__all__ = ["voicelist"]

AMEND = ("--reason", "read again", "--role", "team-lead")


@pytest.fixture
def url(tmp_path: Path) -> str:
    """A store with one completed case."""
    store = stepped_store(tmp_path / "records.sqlite3")
    keep(store, "case-12", whole_case())
    keep_on(store, "case-12", resumed())
    return f"sqlite:///{tmp_path / 'records.sqlite3'}"


def _export(voicelist: Command, url: str, target: Path, form: str = "journal") -> dict[str, str]:
    """The heads that an export tells."""
    answer = voicelist(
        "record", "export", "case-12", "--format", form, "-o", target, "--store", url
    )
    assert answer.code == 0
    _, head, tree_head = answer.out.splitlines()
    return {"head": head.removeprefix("Head "), "tree_head": tree_head.removeprefix("Tree head ")}


@pytest.mark.parametrize("form", ["csv", "json", "html", "text"])
def test_every_export_shows_the_tree_head(
    voicelist: Command, url: str, tmp_path: Path, form: str
) -> None:
    target = tmp_path / "case"
    told = _export(voicelist, url, target, form)
    text = target.read_text(encoding="utf-8-sig")
    assert told["tree_head"] in text.replace(" ", "").replace("\n", "")
    assert told["tree_head"] in voicelist("record", "verify", "case-12", "--store", url).out


def test_a_file_without_its_head_ends_with_exit_code_1(
    voicelist: Command, url: str, tmp_path: Path
) -> None:
    file = tmp_path / "case.jsonl"
    told = _export(voicelist, url, file)
    alone = voicelist("record", "verify", file)
    assert alone.code == 1
    assert "END NOT VERIFIED (give --head)" in alone.out
    for head in told.values():
        assert voicelist("record", "verify", file, "--head", head).code == 0
    lines = file.read_bytes().splitlines(keepends=True)
    file.write_bytes(b"".join(lines[:-1]))
    for head in told.values():
        cut = voicelist("record", "verify", file, "--head", head)
        assert cut.code == 1
        assert "the end was cut off" in cut.out


def test_an_older_head_verifies_up_to_where_it_stood_after_a_late_entry(
    voicelist: Command, url: str, tmp_path: Path
) -> None:
    told = _export(voicelist, url, tmp_path / "before")
    assert voicelist("record", "amend", "case-12", "Box read.", *AMEND, "--store", url).code == 0
    _export(voicelist, url, tmp_path / "after")
    for head in told.values():
        for what in (("case-12", "--store", url), (tmp_path / "after",)):
            answer = voicelist("record", "verify", *what, "--head", head)
            assert answer.code == 0
            assert "1 late entry came since" in answer.out


def test_one_item_is_proved_without_the_rest(voicelist: Command, url: str, tmp_path: Path) -> None:
    told, proof = _export(voicelist, url, tmp_path / "case"), tmp_path / "bottle.json"
    prove = ("record", "prove", "case-12", "bottle", "-o", proof, "--store", url)
    assert told["tree_head"] in voicelist(*prove).out
    assert stat.S_IMODE(proof.stat().st_mode) == 0o600
    assert "priming" not in proof.read_text()
    assert voicelist("record", "verify", proof, "--head", told["tree_head"]).code == 0
    assert voicelist("record", "verify", proof).code == 1
    assert voicelist("record", "verify", proof, "--head", told["head"]).code == 1
    changed = json.loads(proof.read_text())
    changed["events"][0]["entry"]["body"]["item"] = "priming"
    proof.write_text(json.dumps(changed, indent=1))
    forged = voicelist("record", "verify", proof, "--head", told["tree_head"])
    assert forged.code == 1
    assert f"Event {changed['events'][0]['entry']['seq']}: it is about another" in forged.out
    assert voicelist(*prove[:3], "none", *prove[4:]).code == 2


def test_a_tree_head_is_signed_with_a_key_that_the_site_keeps(
    voicelist: Command, url: str, tmp_path: Path
) -> None:
    key, note, file = tmp_path / "site.key", tmp_path / "case.signed", tmp_path / "case.jsonl"
    made = voicelist("record", "key", "eye-clinic", "-o", key)
    assert stat.S_IMODE(key.stat().st_mode) == 0o600
    assert voicelist("record", "key", "eye-clinic", "-o", key).code == 2, "a key is never lost"
    public = made.out.splitlines()[-1].removeprefix("Public key ")
    sign = ("record", "sign", "case-12", "--key", key, "-o", note, "--store", url)
    assert voicelist(*sign).code == 0
    _export(voicelist, url, file)
    signed = ("--signed", note, "--by", public)
    for what in (("case-12", "--store", url), (file,)):
        answer = voicelist("record", "verify", *what, *signed)
        assert answer.code == 0
        assert "eye-clinic signed " in answer.out
    file.write_bytes(b"".join(file.read_bytes().splitlines(keepends=True)[:-1]))
    assert voicelist("record", "verify", file, *signed).code == 1
    note.write_text(note.read_text().replace("case-12", "case-13"))
    assert "does not hold" in voicelist("record", "verify", "case-12", *signed, "--store", url).err
    assert voicelist("record", "verify", "case-12", "--by", public, "--store", url).code == 2


ERASE = ("record", "erase")
WHO = ("--role", "team-lead", "--reason", "asked for")


def test_a_case_is_erased_once_somebody_says_so(
    voicelist: Command, url: str, tmp_path: Path
) -> None:
    at = ("--store", url)
    head = voicelist("record", "list", "--json", *at).out.split('"head": "')[1][:64]
    for refused in (
        (*ERASE, *WHO, *at),
        (*ERASE, "case-12", "--older-than", "9", *WHO, *at),
        (*ERASE, "case-12", "--role", "nobody", "--reason", "x", *at),
        (*ERASE, "case-12", "--role", "team-lead", "--yes", *at),
    ):
        assert voicelist(*refused).code == 2
    assert voicelist(*ERASE, "case-12", *WHO, *at, typed="n\n").code == 2
    assert voicelist("record", "verify", "case-12", *at).code == 0
    assert voicelist(*ERASE, "case-13", *WHO, "--yes", *at).code == 1
    assert voicelist(*ERASE, "case-12", *WHO, *at, typed="y\n").code == 0
    shown = voicelist("record", "show", "case-12", *at)
    assert shown.code == 1
    assert "by team lead" in shown.err
    listed = voicelist("record", "list", *at).out
    assert "erased" in listed
    assert "asked for" in listed
    assert "case-12" not in voicelist("record", "list", "--json", *at).out
    stored = (tmp_path / "records.sqlite3").read_bytes()
    assert head.encode() in stored
    assert b"irrigation line firm" not in stored
    assert voicelist(*ERASE, "--clean", *at).code == 0


def test_old_cases_that_ended_are_erased_together(
    voicelist: Command, url: str, tmp_path: Path
) -> None:
    """Those of the test are of the year 2031; a day's clock is nearer than their day."""
    at = ("--store", url)
    store = stepped_store(tmp_path / "records.sqlite3")
    keep(store, "left-open", whole_case()[:3])
    old = (*ERASE, "--older-than", "30", *WHO, "--yes", *at)
    answer = voicelist(*old)
    assert "nothing is erased" in answer.out
    assert set(store.codes()) == {"case-12", "left-open"}
    with sqlite3.connect(tmp_path / "records.sqlite3") as connection:
        connection.execute("UPDATE journal SET at = '2001-01-01T00:00:00.000Z' WHERE seq = 1")
    connection.close()
    answer = voicelist(*old)
    assert answer.code == 0
    assert "left-open is as old and has not ended" in answer.out
    assert store.codes() == ("left-open",)
