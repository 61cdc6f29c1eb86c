"""The table of sentences that the session needs is read off the code, not remembered."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import chain
from pathlib import Path

import pytest

import voicelist.session
from voicelist.clinical.settings import UNITS, Finding
from voicelist.documents.loading import load_sentences
from voicelist.documents.names import ROLES
from voicelist.documents.sentences import Sentences
from voicelist.places import shipped
from voicelist.session.case import quantity_name
from voicelist.session.catalogue import READ_BACKS, REQUIRED
from voicelist.session.rule_sentences import sentence_for

SESSION = Path(voicelist.session.__file__).parent
# The session, and what tells it of sound.
TELLING = (SESSION, SESSION.parent / "listening", SESSION.parent)
ASKING = {"text", "say", "sentence"}
# Calls whose key is handed on, with the functions that hand it on: their callers are read instead.
HANDED_ON = {
    ("case.py", "text", "key"),
    ("case.py", "sentence", "key"),
    ("turn.py", "say", "key"),
    ("values.py", "_request", "key"),
    ("loop.py", "look_at_clocks", "_OF_THE_CLOCK[change.what]"),
    ("record_stopped.py", "_text", "key"),
    ("machine.py", "_notice", "event.key"),
    ("wording.py", "by_digit", "sign"),
    ("rule_sentences.py", "sentence_for", "key"),
    ("rule_sentences.py", "_other", "key"),
    ("asking_again.py", "by_example", "key"),
    ("asking_again.py", "question", "lacking"),
}


@dataclass(frozen=True)
class Asked:
    """One place in the code where the catalogue is asked for a sentence."""

    file: str
    function: str
    key: ast.expr
    values: frozenset[str]
    passes_on: bool


def asked() -> Iterator[Asked]:
    for path in sorted(SESSION.glob("*.py")):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        for function in ast.walk(tree):
            if isinstance(function, ast.FunctionDef):
                yield from _asked_in(path.name, function)


def _asked_in(file: str, function: ast.FunctionDef) -> Iterator[Asked]:
    inner = {
        id(node)
        for child in ast.walk(function)
        if isinstance(child, ast.FunctionDef) and child is not function
        for node in ast.walk(child)
    }
    for call in ast.walk(function):
        if not isinstance(call, ast.Call) or id(call) in inner:
            continue
        name = getattr(call.func, "attr", getattr(call.func, "id", ""))
        arguments = call.args[1:] if name == "sentence" else call.args
        if name not in ASKING or not arguments:
            continue
        values = frozenset(one.arg for one in call.keywords if one.arg is not None)
        passes_on = any(one.arg is None for one in call.keywords)
        yield Asked(file, function.name, arguments[0], values, passes_on)


def keys_of(key: ast.expr) -> list[str] | None:
    """The keys that an argument can be; a formatted one ends in an asterisk; None: not to be seen
    here."""
    if isinstance(key, ast.Constant):
        return [str(key.value)]
    if isinstance(key, ast.IfExp):
        parts = [keys_of(key.body), keys_of(key.orelse)]
        return [one for part in parts if part is not None for one in part]
    if isinstance(key, ast.JoinedStr) and isinstance(key.values[0], ast.Constant):
        return [str(key.values[0].value) + "*"]
    return None


def literals() -> set[str]:
    """Every text constant of the session, and of what tells it of sound, but for the table."""
    return {
        node.value
        for path in chain.from_iterable(one.glob("*.py") for one in TELLING)
        if path.name != "catalogue.py"
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Constant) and isinstance(node.value, str)
    }


def test_every_key_that_the_code_asks_for_is_in_the_table_with_what_it_is_given() -> None:
    seen = 0
    for one in asked():
        for key in keys_of(one.key) or ():
            seen += 1
            if key.endswith("*"):
                assert any(known.startswith(key[:-1]) for known in REQUIRED), key
            else:
                assert set(REQUIRED[key]) == one.values, (one.file, one.function, key)
    assert seen > 30


def test_keys_that_cannot_be_seen_are_only_those_that_are_handed_on() -> None:
    hidden = {
        (one.file, one.function, ast.unparse(one.key))
        for one in asked()
        if keys_of(one.key) is None
    }
    assert hidden == HANDED_ON


def test_every_key_of_the_table_is_used_by_the_code() -> None:
    written = literals()
    families = ("role.", "quantity.", "phase.", "source.", "field.")
    for key in REQUIRED:
        assert key in written or key.startswith(families), key


def shipped_sentences() -> Sentences:
    return load_sentences(shipped("grammars") / "sentences.en.yaml").document


def test_every_role_and_quantity_has_a_name() -> None:
    assert {f"role.{role}" for role in ROLES} <= set(REQUIRED)
    names = dict.fromkeys(REQUIRED, "name")
    complete = shipped_sentences().model_copy(update={"sentences": names})
    for quantity in UNITS:
        assert quantity_name(complete, quantity) == "name"


def test_read_backs_are_sentences_of_the_table() -> None:
    assert set(READ_BACKS) <= set(REQUIRED)


@pytest.mark.parametrize("severity", ["note", "ask", "stop"])
@pytest.mark.parametrize("rule", ["card-value", "card-control", "usual-range", "above-100-percent"])
def test_the_table_has_the_sentence_of_every_finding(rule: str, severity: str) -> None:
    """Which one it is depends on the finding, so it cannot be read off the call."""
    texts = {
        key: " ".join((key, *(f"{{{name}}}" for name in names))) for key, names in REQUIRED.items()
    }
    complete = shipped_sentences().model_copy(update={"sentences": texts})
    finding = Finding(rule, severity, "vacuum_mmHg", 500, 350, "mmHg")
    said = sentence_for(complete, finding)
    assert "500" in said
    assert said.partition(" ")[0].lower() in REQUIRED
