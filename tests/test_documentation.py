"""What the documentation says is so: commands, examples, tables, and the tests that it names."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
import yaml
from typer.main import get_command

from voicelist.cli import app
from voicelist.documents.checklist import Item
from voicelist.grammar.abnf import parse_expansion
from voicelist.grammar.grammar import Grammar
from voicelist.grammar.numbers import value_of
from voicelist.grammar.ruleset import RuleSet
from voicelist.places import shipped

PROJECT = Path(__file__).resolve().parents[1]
README = PROJECT / "README.md"
DEVELOPERS = PROJECT / "DEVELOPERS.md"
HAZARDS = PROJECT / "docs" / "hazards.md"
DEMO = PROJECT / "docs" / "demo.md"
HOW_TO = PROJECT / "docs" / "how-to"
PAGES = (README, DEVELOPERS, *sorted((PROJECT / "docs").rglob("*.md")))

FENCED_SHELL = re.compile(
    r"^```(?:sh|bash|console)[ \t]*\n(.*?)^```[ \t]*$", re.MULTILINE | re.DOTALL
)
LINK = re.compile(r"\]\(([^)#:]+)(?:#[^)]*)?\)")
INLINE = re.compile(r"`([^`\n]+)`")
CALLED = re.compile(r"\bvoicelist ([a-z][a-z-]*)(?: ([a-z][a-z-]*))?")
NAMED_TEST = re.compile(r"`(tests/[\w/.-]+\.py)::(\w+)`")
FEWEST_HAZARDS = 25


def text_of(page: Path) -> str:
    return page.read_text(encoding="utf-8")


def section(page: Path, heading: str) -> str:
    """The text below a second-level heading."""
    found = re.search(rf"^## {re.escape(heading)}\n(.*?)(?=^## |\Z)", text_of(page), re.M | re.S)
    assert found is not None, f"{page.name} has no section {heading}"
    return found[1]


def table_rows(text: str) -> Iterator[list[str]]:
    """The cells of every table row, headings among them, rules left out."""
    for line in text.splitlines():
        if line.startswith("|") and not re.fullmatch(r"[|\s:-]+", line):
            yield [cell.strip() for cell in line.strip().strip("|").split("|")]


def commands_called(page: Path) -> list[tuple[str, str]]:
    """Command, and the word after it, of every `voicelist ...` in code, inline or fenced."""
    code = [*INLINE.findall(text_of(page)), *FENCED_SHELL.findall(text_of(page))]
    return [pair for piece in code for pair in CALLED.findall(piece)]


def command_names() -> dict[str, frozenset[str]]:
    """The commands, each with the names of its own commands."""
    root = get_command(app)
    return {
        name: frozenset(getattr(one, "commands", {}))
        for name, one in getattr(root, "commands", {}).items()
    }


def test_the_readme_first_plays_a_case_and_then_the_tests() -> None:
    blocks = FENCED_SHELL.findall(text_of(README))
    assert len(blocks) >= 2
    assert "voicelist model" in blocks[0]
    assert "voicelist demo" in blocks[0]
    assert "pytest" in blocks[1]


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_links_lead_to_files_that_are_there(page: Path) -> None:
    lost = [link for link in LINK.findall(text_of(page)) if not (page.parent / link).exists()]
    assert lost == []


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_every_command_that_a_page_names_exists(page: Path) -> None:
    known = command_names()
    for name, below in commands_called(page):
        assert name in known, f"voicelist {name}"
        if known[name] and below:
            assert below in known[name], f"voicelist {name} {below}"


def test_every_command_is_in_the_readme() -> None:
    called = {name for name, _ in commands_called(README)}
    assert set(command_names()) <= called


def test_the_dialogue_in_the_readme_is_the_demos() -> None:
    """Each stretch of it, between the dots, is in the transcript word for word, in this order."""
    (dialogue,) = re.findall(r"^```text\n(.*?)^```$", text_of(README), re.M | re.S)
    (transcript,) = re.findall(r"^```text\n(.*?)^```$", text_of(DEMO), re.M | re.S)
    stretches = dialogue.split("  ...\n")
    places = [transcript.find(one) for one in stretches]
    assert len(stretches) == 2
    assert -1 not in places
    assert places == sorted(places)


def test_the_readme_carries_the_caution() -> None:
    told = " ".join(text_of(README).split())
    assert "An aid to memory and record keeping, not a medical device" in told
    assert "Local policy, the device maker's instructions and licensed professionals decide" in told


@dataclass(frozen=True, slots=True)
class Reading:
    said: str
    tags: tuple[str, ...]
    value: float


def readings() -> list[Reading]:
    """The table of spoken numbers."""
    found = []
    for cells in table_rows(section(HOW_TO / "add-a-rule.md", "Spoken numbers")):
        if len(cells) == 3 and re.fullmatch(r"[\d.]+", cells[2]):
            tags = tuple(re.findall(r"add [\d.]+|\S+", cells[1]))
            found.append(Reading(cells[0], tags, float(cells[2])))
    return found


def test_the_table_of_spoken_numbers_is_read() -> None:
    assert len(readings()) >= 8


@pytest.mark.parametrize("reading", readings(), ids=lambda reading: reading.said)
def test_spoken_numbers_are_read_as_documented(reading: Reading) -> None:
    files = sorted((shipped("grammars") / "rules").glob("*.abnf"))
    rules = RuleSet.from_texts((file.stem, text_of(file)) for file in files)
    grammar = Grammar({"number": parse_expansion("$decimal", "the table")}, rules)
    matches = grammar.parses(tuple(reading.said.split()))
    assert {match.values()["decimal"] for match in matches} == {reading.value}
    assert value_of(reading.tags) == reading.value


def test_the_example_of_an_item_is_a_valid_item_whose_call_is_no_answer() -> None:
    indented = re.findall(
        r"^    .*$", (HOW_TO / "add-an-item.md").read_text(encoding="utf-8"), re.MULTILINE
    )
    (raw,) = yaml.safe_load("\n".join(indented))
    item = Item.model_validate(raw)
    assert item.done is not None
    assert item.fault is not None
    phrases = {kind: parse_expansion(str(raw[kind]), "the example") for kind in ("done", "fault")}
    grammar = Grammar(phrases, RuleSet())
    assert grammar.parses(("test", "chamber", "full"))
    assert not grammar.parses(tuple(re.findall(r"\w+", item.call.lower())))


def hazards() -> list[list[str]]:
    """The rows of the table of hazards, without its heading."""
    return [cells for cells in table_rows(text_of(HAZARDS)) if cells[0].isdigit()]


def names_in(path: Path) -> set[str]:
    return {
        node.name
        for node in ast.walk(ast.parse(text_of(path)))
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
    }


def test_the_hazards_are_numbered_and_every_cell_is_filled() -> None:
    rows = hazards()
    assert len(rows) >= FEWEST_HAZARDS
    assert [int(cells[0]) for cells in rows] == list(range(1, len(rows) + 1))
    assert {len(cells) for cells in rows} == {7}
    assert all(cell for cells in rows for cell in cells)


@pytest.mark.parametrize("cells", hazards(), ids=lambda cells: cells[0])
def test_every_hazard_names_tests_that_exist(cells: list[str]) -> None:
    named = NAMED_TEST.findall(cells[5])
    assert named, f"hazard {cells[0]} names no test"
    for file, name in named:
        assert name.startswith("test_")
        assert (PROJECT / file).is_file(), file
        assert name in names_in(PROJECT / file), f"{file}::{name}"


def test_every_benchmark_is_on_the_page_that_says_how_to_measure() -> None:
    studies = {one.stem for one in (PROJECT / "tests" / "benchmarks" / "studies").glob("[!_]*.py")}
    rows = table_rows((HOW_TO / "measure.md").read_text(encoding="utf-8"))
    assert {cells[0].strip("`") for cells in rows} - {"NAME"} == studies
