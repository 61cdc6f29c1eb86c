"""The page in a real browser: a whole case by the running program, and every state at every width.

Contrast, names and structure are looked at by axe-core against WCAG 2.2 A and AA. Where there is
no chromium the tests skip and say so.
"""

from __future__ import annotations

import io
import os
import re
import signal
import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import IO, Any

import pytest
from PIL import Image

from tests.command import PLAN
from tests.room.shown import ShownCase, Watched, browser, shown_case, until, watched
from tests.running_program import PROGRAM, environment
from tests.session.talk import SIGN_OUT, TIME_OUT, TO_TIME_OUT
from voicelist.activity import DECIDING, LISTENING, SPEAKING
from voicelist.session.events import Equipment

__all__ = ["browser"]

# Phone, wall and a large wall; heights as such screens have them.
WIDTHS = {390: 844, 1920: 1080, 3840: 2160}
LOST = Equipment("microphone", "no sound comes from it", "cannot-hear")
BACK = Equipment("microphone", "the microphone is back", "hear-again")
# One of two microphones: the other one goes on.
ONE_LOST = Equipment("microphone", "no sound comes from it", "role-not-heard", 1, "surgeon")
ONE_BACK = Equipment("microphone", "it is heard again", "role-heard-again", 1, "surgeon", True)
SETTINGS = "power forty vacuum five hundred flow twenty eight pulses thirty"
# At 1080 lines; 20 minutes of arc at 4 m are 23 mm, 87 px where 1080 px are 0.29 m high or more.
# Project choice after the size that is usual for reading across a room (common practice, no
# source).
CAPITAL_PX = 87
RULES = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}


@pytest.fixture
def axe() -> Any:
    found = pytest.importorskip("axe_playwright_python.sync_playwright")
    return found.Axe()


def amiss(axe: Any, page: Watched) -> list[str]:
    """What axe finds, in words."""
    told = axe.run(page.page, options=RULES).response["violations"]
    return [f"{one['id']}: {node['html']}" for one in told for node in one["nodes"]]


def overflowing(page: Watched) -> bool:
    """Whether the page has to be moved sideways to be read (WCAG 2.2, 1.4.10)."""
    script = "document.documentElement.scrollWidth > document.documentElement.clientWidth"
    return bool(page.page.evaluate(script))


def capital_px(page: Watched) -> int:
    """The height of the first capital of the call as it is drawn, in pixels."""
    box = page.page.evaluate(
        """() => {const range = document.createRange(), text = document.querySelector('#call')
        .firstChild; range.setStart(text, 0); range.setEnd(text, 1);
        const {x, y, width, height} = range.getBoundingClientRect();
        return {x, y, width, height}}"""
    )
    drawn = Image.open(io.BytesIO(page.page.screenshot(clip=box))).convert("L")
    paper = drawn.getpixel((0, 0))
    ink = drawn.point(lambda shade: 255 if abs(shade - paper) > 100 else 0).getbbox()
    assert ink is not None
    return int(ink[3] - ink[1])


def keep_shot(page: Watched, name: str) -> None:
    """For whoever wants to look: VOICELIST_SHOTS names a folder."""
    if folder := os.environ.get("VOICELIST_SHOTS"):
        page.page.screenshot(path=str(Path(folder) / f"{name}.png"))


@pytest.fixture(scope="module")
def pages(browser: Any) -> Iterator[tuple[ShownCase, dict[str, Watched]]]:
    """One case, looked at in every width, light and dark."""
    with shown_case() as case:
        opened: dict[str, Watched] = {}
        closing = []
        for width, height in WIDTHS.items():
            scheme = "dark" if width == 3840 else "light"
            one = watched(browser, case.url, width, height, color_scheme=scheme)
            opened[str(width)] = one.__enter__()
            closing.append(one)
        yield case, opened
        for one in closing:
            one.__exit__(None, None, None)


def test_every_state_is_told_in_every_width(
    pages: tuple[ShownCase, dict[str, Watched]], axe: Any
) -> None:
    case, every = pages

    def see(name: str, band: str, text: str) -> None:
        for width, page in every.items():
            page.sees(text)
            page.band(band)
            assert not overflowing(page), f"{name} at {width}"
            keep_shot(page, f"{name}-{width}")

    see("call", "listening", "Firm or loose: the irrigation line?")
    assert capital_px(every["1920"]) >= CAPITAL_PX
    assert capital_px(every["3840"]) >= 2 * CAPITAL_PX
    see("answers", "listening", "irrigation line firm")
    case.says("irrigation line loose", "aspiration line firm", "come back to this later")
    see("open", "listening", "reported, stays open")
    case.activity.now(SPEAKING)
    see("speaking", "speaking", "Speaking")
    case.activity.now(DECIDING)
    see("deciding", "deciding", "Deciding")
    case.activity.now(LISTENING)
    case.equipment(LOST)
    see("not-listening", "not-listening", "Please type, or use paper")
    case.equipment(BACK)
    case.equipment(ONE_LOST)
    see("one-not-heard", "listening", "Not heard: Surgeon.")
    assert [amiss(axe, page) for page in every.values()] == [[], [], []]
    case.equipment(ONE_BACK)
    for page in every.values():
        until(lambda page=page: "Not heard" not in page.text("body"))
    case.says("hold on please")
    see("paused", "paused", "Paused")
    case.says("carry on please", "priming complete", "irrigation line firm", "bottle full")
    case.says(*TO_TIME_OUT[4:14], SETTINGS)
    see("mismatch", "listening", "Flow is 28; the card says 32.")
    assert [amiss(axe, page) for page in every.values()] == [[], [], []]
    case.says("vacuum three fifty", "flow thirty two", "surgeon confirms the profile")
    case.says(*TIME_OUT, "incision is made")
    see("quiet", "quiet", "Until somebody asks for sign out")
    assert every["390"].text("#milestones").startswith("incision")
    case.stand_still()
    see("stood-still", "lost", "may be so no longer")
    case.go_on()
    see("quiet-again", "quiet", "Until somebody asks for sign out")
    as_printed(every["1920"])
    case.says(*SIGN_OUT)
    see("ended", "ended", "All items were asked. The record is kept.")
    for page in every.values():
        assert page.complaints == []
        assert {url.removeprefix(case.url) for url in page.asked_for} <= {
            "",
            "page.css",
            "page.js",
            "feed",
            "data:,",
        }


def as_printed(page: Watched) -> None:
    """Dark on white, and it says that it is no record."""
    page.page.emulate_media(media="print")
    paper = page.page.evaluate("getComputedStyle(document.body).backgroundColor")
    assert paper == "rgb(255, 255, 255)"
    assert page.page.is_visible(".printed")
    keep_shot(page, "print-1920")
    page.page.emulate_media(media="screen")
    assert not page.page.is_visible(".printed")


# Values that are no longer shown, because another value is asked for next.
UNSAID = {
    "clinical grade three": "the nuclear grade",
    "marked eye left": "the marked eye",
    "lens power plus twenty one point five": "lens power",
}
ADDRESS = re.compile(rb"http://127\.0\.0\.1:\d+/")


def address_told(out: IO[bytes]) -> str:
    for line in out:
        if found := ADDRESS.search(line):
            return found[0].decode()
    raise AssertionError("no address was told")


def test_a_whole_practice_case_is_followed_and_a_dead_program_is_told(
    browser: Any, tmp_path: Path, axe: Any
) -> None:
    """The running program, line by line; the page shows each answer after it is on disk. Then the
    program is killed, and the page says that the feed is lost within three seconds."""
    options = ("--typed", "--voice", "none", "--display", "--display-port", "0")
    with subprocess.Popen(
        [*PROGRAM, "run", str(PLAN), *options],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        env=environment(tmp_path, {"PYTHONUNBUFFERED": "1"}),
    ) as running:
        assert running.stdin is not None
        assert running.stdout is not None
        with watched(browser, address_told(running.stdout), 1920, 1080) as page:
            page.sees("irrigation line?")
            for line in (*TO_TIME_OUT, *TIME_OUT, *SIGN_OUT[:-1]):
                running.stdin.write(f"{line}\n".encode())
                running.stdin.flush()
                page.sees(UNSAID.get(line, line), "#heard li:first-child")
            page.sees("Some or none: equipment problems?")
            marks = page.page.locator("#sections .mark-recorded").count()
            assert marks == 20
            running.send_signal(signal.SIGKILL)
            assert page.band("lost") <= 3.0
            assert page.sees("may be so no longer") <= 1.0
            page.sees("equipment problems?")
            keep_shot(page, "lost-1920")
            assert amiss(axe, page) == []
            assert [one for one in page.complaints if "ERR_" not in one] == []
