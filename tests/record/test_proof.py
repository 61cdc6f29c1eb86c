"""An item's events are proved to stand in a record by a few hashes, and a tree head is signed."""

from __future__ import annotations

import json

import pytest
from test_tree import naive_root

from voicelist.errors import RecordError, UsageError
from voicelist.record.exports import journal_lines
from voicelist.record.journal import Entry
from voicelist.record.proof import check_proof, is_proof, proof_of
from voicelist.record.signing import (
    new_key,
    opened_head,
    read_key,
    signed_head,
    verified_text,
)
from voicelist.record.verify import tree_head

Entries = tuple[Entry, ...]
# The example of the package sumdb/note of Go, which the format comes from.
PUBLISHED_KEY = "PeterNeumann+c74f20a3+ARpc2QcUPDhMQegwxbzhKqiBfsVkmqq/LDE4izWy10TW"
PUBLISHED_SECRET = "PRIVATE+KEY+PeterNeumann+c74f20a3+AYEKFALVFGyNhPJEMzD1QIDr+Y7hfZx09iUvxdXHKDFz"
PUBLISHED_TEXT = (
    "If you think cryptography is the answer to your problem,\n"
    "then you don't know what your problem is.\n"
)
PUBLISHED_NOTE = (
    f"{PUBLISHED_TEXT}\n— PeterNeumann x08go/ZJkuBS9UG/SffcvIAQxVBtiFupLLr8pAcElZInNIuGUgYN1FFYC2pZ"
    "SNXgKvqfqdngotpRZb6KE6RyyBwJnAM=\n"
)


def test_a_proof_verifies_against_the_root_over_the_journal(example_entries: Entries) -> None:
    lines = journal_lines(example_entries).removesuffix(b"\n").split(b"\n")
    proof = proof_of(example_entries, "bottle")
    told = json.loads(proof)
    assert told["tree_head"] == naive_root(lines).hex()
    assert [one["entry"]["seq"] for one in told["events"]] == [
        number for number, line in enumerate(lines, 1) if b'"item":"bottle"' in line
    ]
    assert b"priming" not in proof, "what is not about the item is not shown"
    assert is_proof(proof)
    assert not is_proof(journal_lines(example_entries))
    verdict = check_proof(proof, told["tree_head"])
    assert (verdict.ok, verdict.end_verified) == (True, True)
    assert not check_proof(proof, None).end_verified
    assert "TREE HEAD NOT VERIFIED" in check_proof(proof, None).words
    assert not check_proof(proof, example_entries[-1].hash).ok


def test_nothing_in_a_proof_can_be_changed(example_entries: Entries) -> None:
    """A byte anywhere: it can no longer be read, or it no longer leads to the tree head."""
    proof = proof_of(example_entries, "bottle")
    head = tree_head(example_entries)
    meant = json.loads(proof)
    unnoticed = []
    for at in range(0, len(proof), 3):
        for other in (proof[at] ^ 1, proof[at] ^ 4):
            changed = proof[:at] + bytes([other]) + proof[at + 1 :]
            try:
                if check_proof(changed, head).ok and json.loads(changed) != meant:
                    unnoticed.append((at, other))
            except RecordError:
                continue
    assert unnoticed == []


def test_an_event_of_a_proof_is_not_shown_twice_or_as_of_another_item(
    example_entries: Entries,
) -> None:
    told = json.loads(proof_of(example_entries, "bottle"))
    twice = told | {"events": [told["events"][0], *told["events"]]}
    other = told | {"item": "priming"}
    for forged in (twice, other):
        verdict = check_proof(json.dumps(forged).encode(), told["tree_head"])
        assert f"Event {told['events'][0]['entry']['seq']}: it " in verdict.problems[0]


def test_an_item_without_events_has_no_proof(example_entries: Entries) -> None:
    with pytest.raises(UsageError, match="No event of case-12 is about the item none"):
        proof_of(example_entries, "none")


def test_notes_are_signed_and_opened_as_the_published_example() -> None:
    key = read_key(PUBLISHED_SECRET)
    assert key.public_text == PUBLISHED_KEY
    assert key.text == PUBLISHED_SECRET
    assert key.sign(PUBLISHED_TEXT) == PUBLISHED_NOTE
    assert verified_text(PUBLISHED_NOTE, PUBLISHED_KEY) == (PUBLISHED_TEXT, "PeterNeumann")


def test_a_signed_tree_head_says_which_case_and_how_many_events(example_entries: Entries) -> None:
    key = new_key("eye-clinic")
    root = tree_head(example_entries)
    note = signed_head(key, "case 12", len(example_entries), root)
    said = opened_head(note, key.public_text)
    assert (said.case, said.size, said.tree_head) == ("case 12", len(example_entries), root)
    unnoticed = []
    for at in range(len(note)):
        changed = note[:at] + chr(ord(note[at]) ^ 1) + note[at + 1 :]
        try:
            unnoticed.append((at, opened_head(changed, key.public_text)))
        except RecordError:
            continue
    assert unnoticed == []
    with pytest.raises(RecordError, match="no signature"):
        opened_head(note, new_key("eye-clinic").public_text)


@pytest.mark.parametrize("name", ["", "two words", "a+b", "two\nlines"])
def test_the_name_of_a_key_is_one_word(name: str) -> None:
    with pytest.raises(UsageError, match="without spaces"):
        new_key(name)


@pytest.mark.parametrize("key", ["", "a+b", PUBLISHED_KEY[:-4], PUBLISHED_KEY.replace("c7", "c8")])
def test_what_is_no_key_is_a_sentence(key: str) -> None:
    with pytest.raises(UsageError, match="This"):
        opened_head(PUBLISHED_NOTE, key)
    with pytest.raises(UsageError, match="This"):
        read_key(f"PRIVATE+KEY+{key}")
