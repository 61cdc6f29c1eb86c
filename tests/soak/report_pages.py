"""Look at the report in a browser: on paper, and on a screen as narrow as a telephone.

    python tests/soak/report_pages.py [--reduced]

Needs Chromium (Debian package `chromium`). Printed: no text below 7 pt, no heading as the last line
of a page, the practice banner on every page. At 390 px: nothing is wider than the page, and every
value of an item has its label beside it. Exit code 1 where one of it does not hold.
"""

from __future__ import annotations

import argparse
import json
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence
from html import unescape
from math import hypot
from pathlib import Path

from pypdf import PdfReader

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "record"))

from cases import DOCUMENTS, keep, opened, stepped_store, whole_case
from many_facts import rich_case

from voicelist.figures.inline import report_figures
from voicelist.record.exports import export
from voicelist.record.journal import Entry
from voicelist.record.verify import read_journal_file
from voicelist.record.words import PRACTICE_BANNER
from voicelist.session.records import Answered, Called

HERE = Path(__file__).resolve().parent
ROOT = HERE.parents[1]
SMALLEST_PT = 7.0
NARROW_PX = 390
BROWSER_S = 120
_ASKED = """<!DOCTYPE html><body style="margin:0"><iframe id="page" src="PAGE"
style="width:390px;height:3000px;border:0"></iframe><script>
addEventListener("load", () => {
  const page = document.getElementById("page").contentDocument, told = {};
  told.width = page.documentElement.scrollWidth;
  told.values = [...page.querySelectorAll(".items td[data-label]")].filter(
    one => one.offsetHeight > 0).map(one => {
      const label = page.defaultView.getComputedStyle(one, "::before");
      return [one.dataset.label, label.content, label.display, one.getBoundingClientRect().height];
    });
  document.body.innerHTML = "<pre>" + JSON.stringify(told) + "</pre>";
});
</script></body>"""


def cases(folder: Path, *, reduced: bool) -> Iterator[tuple[str, Sequence[Entry]]]:
    """Cases by name; long ones with their headings at ever other places of the page."""
    store = stepped_store(folder / "records.sqlite3")
    yield "rich", rich_case(store)
    practice = stepped_store(folder / "practice.sqlite3")
    yield "practice", keep(practice, "practice-007", whole_case("practice"))
    for count in (30,) if reduced else range(20, 44):
        yield f"long-{count}", keep(store, f"long-{count}", _long(count))
    if not reduced:
        for file in sorted((ROOT / "tests" / "record" / "journals").glob("*.jsonl")):
            yield file.stem, read_journal_file(file)


def _long(count: int) -> Iterator[object]:
    """A case of `count` items in sections of three."""
    items = [
        {"id": f"part-{number}", "call": "Full or low: the part?", "answered by": ["surgeon"]}
        for number in range(count)
    ]
    sections = [
        {"id": f"s-{place}", "name": f"section {place}", "items": items[place : place + 3]}
        for place in range(0, count, 3)
    ]
    yield opened(
        "live", {**DOCUMENTS, "checklist": {**DOCUMENTS["checklist"], "sections": sections}}
    )
    for item in items:
        yield Called(item["id"], item["call"])
        yield Answered(item["id"], "said-done", "the part is full and was looked at by somebody")


def browse(page: Path, *options: str) -> str:
    """What Chromium says of a page."""
    found = shutil.which("chromium") or shutil.which("chromium-browser")
    if found is None:
        raise SystemExit("There is no Chromium here: install the Debian package chromium.")
    command = (found, "--headless", "--no-sandbox", "--disable-gpu", *options, page.as_uri())
    done = subprocess.run(command, capture_output=True, text=True, timeout=BROWSER_S, check=True)
    return done.stdout


def printed_problems(page: Path, folder: Path) -> Iterator[str]:
    """What is amiss with the page on paper."""
    target = folder / f"{page.stem}.pdf"
    browse(page, "--no-pdf-header-footer", f"--print-to-pdf={target}")
    text = page.read_text()
    headings = {
        "".join(unescape(one).split()) for one in re.findall(r"<h[23]>([^<]*)</h[23]>", text)
    }
    pages = PdfReader(target).pages
    for number, sheet in enumerate(pages, start=1):
        sizes: list[tuple[float, str]] = []

        def look(
            said: str,
            outer: list[float],
            inner: list[float],
            _: object,
            size: float,
            sizes: list[tuple[float, str]] = sizes,
        ) -> None:
            if said.strip():
                sizes.append(
                    (round(size * hypot(*inner[2:4]) * hypot(*outer[2:4]), 2), said.strip())
                )

        words = sheet.extract_text(visitor_text=look)
        for size, said in sizes:
            if size < SMALLEST_PT:
                yield f"page {number}: {said!r} has {size} pt"
        lines = ["".join(one.split()) for one in words.splitlines() if one.strip()]
        body = [
            one for one in lines if not one.startswith("Case") and not re.match(r"\d+/\d+", one)
        ]
        if body and body[-1] in headings:
            yield f"page {number} ends with the heading {body[-1]}"
        if PRACTICE_BANNER in text and words.count(PRACTICE_BANNER) < 2:
            yield f"page {number} lacks its banner"


def narrow_problems(page: Path, folder: Path) -> Iterator[str]:
    """What is amiss with the page at 390 px."""
    asked = folder / f"{page.stem}-narrow.html"
    asked.write_text(_ASKED.replace("PAGE", page.name))
    told = browse(
        asked, "--allow-file-access-from-files", "--virtual-time-budget=3000", "--dump-dom"
    )
    match = re.search(r"<pre>(.*?)</pre>", told, re.DOTALL)
    if match is None:
        yield "the page was not measured"
        return
    found = json.loads(unescape(match[1]))
    if found["width"] > NARROW_PX:
        yield f"it is {found['width']} px wide"
    if not found["values"]:
        yield "no value is to be seen"
    for name, content, display, height in found["values"]:
        if name not in content or display == "none" or height > 200:
            yield f"{name}: {content}, {display}, {height} px high"


def main() -> int:
    """Prints what is amiss; the exit code is 1 if anything is."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--reduced", action="store_true", help="three cases")
    reduced = parser.parse_args().reduced
    amiss = 0
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for case, entries in cases(folder, reduced=reduced):
            page = folder / f"{case}.html"
            page.write_bytes(export(tuple(entries), "html", report_figures))
            problems = [*printed_problems(page, folder), *narrow_problems(page, folder)]
            amiss += len(problems)
            print(f"{case}: {'; '.join(problems) or 'as it has to be'}")
    return 1 if amiss else 0


if __name__ == "__main__":
    sys.exit(main())
