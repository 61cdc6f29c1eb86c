"""Attacks with the shim: cuts of the power, operations that fail, kills."""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from itertools import cycle, islice
from pathlib import Path

from tests.soak.disk.cuts import Disk, cuts
from tests.soak.disk.oplog import Fate, Kind, Operation, Strike
from tests.soak.disk.recovery import Acknowledged, Hazard, examine
from tests.soak.disk.scenes import CASE, Played, Scene, Stage, fresh, is_told, spoken
from tests.soak.disk.tally import Tally
from tests.soak.disk.works import REFUSED
from tests.soak.kill_anywhere import expected_question
from voicelist.errors import VoicelistError
from voicelist.record.store import Reader
from voicelist.session.records import from_body
from voicelist.session.state import replay

# Going on takes longer than verifying: done with every so many states.
_GONE_ON_WITH = 3
_DATA = (Kind.WRITE, Kind.SYNC, Kind.TRUNCATE)
_NAMES = (Kind.OPEN, Kind.UNLINK, Kind.MKDIR)
FAILURES = (
    (_DATA, Fate.EIO_ONCE),
    (_DATA, Fate.NO_ROOM),
    ((Kind.WRITE,), Fate.SHORT),
    (_NAMES, Fate.EIO_ONCE),
)
KILLS = tuple(
    (_DATA + _NAMES, fate) for fate in (Fate.KILL_BEFORE, Fate.KILL_AMID, Fate.KILL_AFTER)
)


def cut_power(stage: Stage, scratch: Path, scene: Scene, count: int, seed: int) -> Tally:
    """States that a cut could leave in a scene in which nothing failed."""
    played = stage.play(scene)
    tally = Tally()
    for ended in played.ends:
        if ended.code:
            tally.hazard(Hazard("the scene itself failed", ended.err), scene.name)
    _cut(tally, played, scratch, count, seed, scene.name)
    return tally


def _cut(tally: Tally, played: Played, scratch: Path, count: int, seed: int, where: str) -> None:
    """Opens so many states."""
    known: dict[bytes, list[Acknowledged]] = {}
    for cut in cuts(played.log, played.files, count, seed):
        folder = fresh(scratch / "cut", cut.files)
        if cut.told not in known:
            known[cut.told] = played.acknowledged(cut.told)
        expected = known[cut.told]
        go_on = tally.tried % _GONE_ON_WITH == 0
        found = examine(folder / played.scene.store, CASE, expected, go_on=go_on)
        tally.outcomes["verified and gone on with" if go_on else "verified"] += 1
        tally.tried += 1
        tally.events += len(expected)
        tally.hazard(found, f"{where}, seed {seed}, cut behind operation {cut.behind}")


def strikes(
    stage: Stage, scene: Scene, ways: Sequence[tuple[tuple[Kind, ...], Fate]], count: int, seed: int
) -> Iterator[Strike]:
    """So many strikes, each way in turn, at operations of the scene's first process: half of them
    in its first third, where the store is opened."""
    chance = random.Random(seed)
    log = stage.play(scene).log
    first = list(_first_process(log))
    for turn, (kinds, fate) in enumerate(islice(cycle(ways), min(count, len(ways)))):
        there = sum(one.kind in kinds for one in first)
        wanted = len(range(turn, count, len(ways)))
        early = chance.sample(range(1, there // 3 + 1), min(wanted // 2, there // 3))
        rest = sorted(set(range(1, there + 1)) - set(early))
        late = chance.sample(rest, min(wanted - len(early), len(rest)))
        for number in sorted((*early, *late)):
            yield Strike(kinds, number, fate)


def _first_process(log: Sequence[Operation]) -> Iterator[Operation]:
    for number, one in enumerate(log):
        if number and one.kind is Kind.START:
            return
        yield one


def fail(
    stage: Stage, scratch: Path, scene: Scene, blows: Sequence[Strike], states: int, seed: int
) -> tuple[Tally, Tally]:
    """Operations fail one by one; then the power is cut, in so many states each. The failures and
    the states."""
    blown, cut = Tally(), Tally()
    for strike in blows:
        played = stage.play(scene, strike)
        where = f"{scene.name}, {strike.fate.name} at {strike.number} of {_names(strike)}"
        expected = played.acknowledged(played.told)
        blown.tried += 1
        blown.events += len(expected)
        outcome, found = _taken(played)
        blown.outcomes[outcome] += 1
        blown.hazard(found, where)
        _cut(cut, played, scratch, states, seed + strike.number, where)
        blown.hazard(examine(played.file, CASE, expected), where)
    return blown, cut


def _names(strike: Strike) -> str:
    return "/".join(kind.name.lower() for kind in strike.kinds)


def _taken(played: Played) -> tuple[str, Hazard | None]:
    """How the process took it: was it told, and told as it should be?"""
    ended = played.ends[0]
    struck = next((n for n, one in enumerate(played.log) if one.fate is not Fate.FINE), None)
    if struck is None:
        return "not reached", None
    first = list(_first_process(played.log))
    later = [one for one in first[struck:] if is_told(one) and _acknowledges(one)]
    if "ack " in ended.out.partition(REFUSED)[2]:
        return "went on", Hazard("acknowledged after a refusal", ended.out[-200:])
    if "Traceback" in ended.err:
        return "traceback", Hazard("traceback", ended.err[-200:])
    if ended.code:
        if ended.code != 1 or not ended.err.strip():
            return "badly reported", Hazard("badly reported", f"exit {ended.code}, {ended.err!r}")
        return ("reported at once" if not later else "reported later"), None
    if later and _matters(played, struck):
        return "swallowed", Hazard("swallowed", f"{len(later)} acknowledged after it, exit 0")
    return "not reported, nothing depended on it", None


def _acknowledges(one: Operation) -> bool:
    return one.data.startswith(b"ack ") or "· recorded" in one.data.decode("utf-8", "ignore")


def _matters(played: Played, struck: int) -> bool:
    """Whether the operation was to make events sure: a write to a log or journal, or a sync of one
    that had something to be synced."""
    disk = Disk(played.files)
    for one in played.log[:struck]:
        disk.apply(one)
    one = played.log[struck]
    if one.kind is Kind.SYNC:
        return disk.is_log(one.descriptor) and disk.unsynced(one.descriptor)
    return one.kind is Kind.WRITE and disk.is_log(one.descriptor)


def kill(stage: Stage, scene: Scene, blows: Sequence[Strike]) -> Tally:
    """The process dies at an operation; what it left has to go on."""
    tally = Tally()
    for strike in blows:
        played = stage.play(scene, strike)
        expected = played.acknowledged(played.told)
        tally.tried += 1
        tally.events += len(expected)
        died = played.ends[0].code == -9
        tally.outcomes[_killed(bool(expected)) if died else "not reached"] += 1
        where = f"{scene.name}, {strike.fate.name} at {strike.number}"
        if scene.is_program and died:
            tally.hazard(_asks_otherwise(stage, played), where)
        tally.hazard(examine(played.file, CASE, expected), where)
    return tally


def _killed(something_to_lose: bool) -> str:
    what = "acknowledged events" if something_to_lose else "nothing acknowledged yet"
    return f"killed with {what}"


def _asks_otherwise(stage: Stage, played: Played) -> Hazard | None:
    """Whether the whole program, started again, asks something else than what was open."""
    url = f"sqlite:///{played.file}"
    try:
        if CASE not in Reader(url).codes():
            return None
        if replay([from_body(e.kind, e.body) for e in Reader(url).entries(CASE)]).closed:
            return None
        question = expected_question(url, CASE)
        ended = stage.go_on(played, spoken(resumed=True, lines=()))
    except VoicelistError as error:
        return Hazard("resume is refused", str(error))
    if ended.code or question not in ended.out:
        return Hazard("asks otherwise", f"not '{question}' but {ended.out[-200:]}{ended.err}")
    return None
