"""A store of its own for each test, with clocks that go on by themselves."""

from __future__ import annotations

from pathlib import Path

import pytest
from cases import keep, keep_on, resumed, stepped_store, whole_case

from voicelist.record.journal import Entry
from voicelist.record.store import Store


@pytest.fixture
def store_file(tmp_path: Path) -> Path:
    return tmp_path / "records.sqlite3"


@pytest.fixture
def store(store_file: Path) -> Store:
    return stepped_store(store_file)


@pytest.fixture
def stopped_case(store: Store) -> tuple[Entry, ...]:
    """A whole case that was stopped at its end."""
    return keep(store, "case-12", whole_case())


@pytest.fixture
def two_runs(store: Store, stopped_case: tuple[Entry, ...]) -> tuple[Entry, ...]:
    """The same, resumed and completed."""
    return keep_on(store, "case-12", resumed())


@pytest.fixture
def practice_case(store: Store) -> tuple[Entry, ...]:
    return keep(store, "practice-007", whole_case("practice"))


@pytest.fixture(scope="session")
def example_entries(tmp_path_factory: pytest.TempPathFactory) -> tuple[Entry, ...]:
    """One case of two runs for tests that only read it, many times over."""
    store = stepped_store(tmp_path_factory.mktemp("example") / "records.sqlite3")
    keep(store, "case-12", whole_case())
    return keep_on(store, "case-12", resumed())
