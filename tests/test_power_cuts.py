"""The store under a watched process: cuts of the power, syncs that fail, kills."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.soak.disk.attacks import cut_power, fail, kill
from tests.soak.disk.oplog import Fate, Kind, Strike, build
from tests.soak.disk.recovery import acknowledgements
from tests.soak.disk.scenes import SCENES, Scene, Stage
from tests.soak.disk.trials import Trials

pytestmark = pytest.mark.skipif(
    not shutil.which("gcc") or not Path("/proc/self").exists(),
    reason="the shim is compiled by gcc and preloaded under Linux",
)

NEW = next(one for one in SCENES if one.name == "new, in a folder made for it")
ROLLBACK = next(one for one in SCENES if one.name == "in rollback mode")


@pytest.fixture(scope="module")
def scratch(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("disk")


@pytest.fixture(scope="module")
def stage(scratch: Path) -> Iterator[Stage]:
    with Trials(build(scratch), scratch) as trials:
        yield Stage(trials, scratch)


def test_the_log_tells_all_that_is_in_the_folder_and_every_acknowledgement(stage: Stage) -> None:
    played = stage.play(NEW)  # compares the log with the folder
    assert [one.seq for one in acknowledgements(played.told)] == list(range(1, 10))
    assert {Kind.MKDIR, Kind.OPEN, Kind.WRITE, Kind.SYNC, Kind.UNLINK} <= {
        one.kind for one in played.log
    }


@pytest.mark.parametrize("scene", [NEW, ROLLBACK], ids=lambda one: one.name)
def test_a_cut_of_the_power_loses_nothing_acknowledged(
    stage: Stage, scratch: Path, scene: Scene
) -> None:
    tally = cut_power(stage, scratch, scene, 80, 1)
    assert tally.tried > 40
    assert not tally.hazards, tally.examples


def test_a_failed_sync_while_a_store_is_made_is_told_or_costs_nothing(
    stage: Stage, scratch: Path
) -> None:
    """Each of them, those of the folders among them: SQLite keeps quiet about these."""
    first_told = next(n for n, one in enumerate(stage.play(NEW).log) if one.kind is Kind.OUTPUT)
    syncs = sum(one.kind is Kind.SYNC for one in stage.play(NEW).log[:first_told])
    strikes = [Strike((Kind.SYNC,), number, Fate.EIO_ONCE) for number in range(1, syncs + 1)]
    failed, cut = fail(stage, scratch, NEW, strikes, 6, 1)
    assert failed.tried == syncs > 5
    assert failed.outcomes["reported at once"] >= 5
    assert not failed.hazards, failed.examples
    assert not cut.hazards, cut.examples


def test_an_error_as_the_journal_mode_changes_is_not_swallowed(stage: Stage, scratch: Path) -> None:
    writes = [Strike((Kind.WRITE,), number, Fate.EIO_ONCE) for number in range(6, 14)]
    failed, cut = fail(stage, scratch, ROLLBACK, writes, 4, 1)
    assert failed.outcomes["reported at once"] == len(writes)
    assert not failed.hazards, failed.examples
    assert not cut.hazards, cut.examples


def test_a_write_that_finds_no_room_is_told_in_a_sentence(stage: Stage) -> None:
    played = stage.play(NEW, Strike((Kind.WRITE,), 40, Fate.SHORT))
    assert played.ends[0].code == 1
    assert played.ends[0].err.startswith("Not recorded: ")
    assert "Traceback" not in played.ends[0].err


def test_killed_in_the_middle_of_a_write_the_case_goes_on(stage: Stage) -> None:
    strikes = [Strike((Kind.WRITE,), number, Fate.KILL_AMID) for number in (3, 20, 33, 40)]
    tally = kill(stage, NEW, strikes)
    assert sum(tally.outcomes.values()) == 4
    assert all(one.startswith("killed with ") for one in tally.outcomes), tally.outcomes
    assert tally.outcomes["killed with acknowledged events"]
    assert not tally.hazards, tally.examples
