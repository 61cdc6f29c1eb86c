"""Make `docs/demo.md` again, the transcript of `voicelist demo`: `python tools/demo_page.py`.

The practice case is played and really decoded; the page holds what came out, without what differs
from run to run (seconds, paths, the record's head).
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from pathlib import Path

PAGE = Path(__file__).resolve().parents[1] / "docs" / "demo.md"
_WITHIN_S = 600
# The first row of the summary that differs from run to run.
_DIFFERS_FROM = "The assistant spoke"
_BEFORE = """\
# The demo, as it was heard

What `voicelist demo` shows. The case and the people are invented, the voices synthetic; each line
of theirs is what was heard of their sound, and nothing else decides. So it shows how a case goes,
not how well voicelist hears in a theatre.

In this order: a stop item answered in own words, read back and agreed to, an item reported and
cleared, talk ignored, an item left for later and taken up, an
answer not understood and asked again, nurses who hand over, an answer taken back, two items
answered in one breath, a stranger's question ignored, settings that differ from the card (one
corrected, one accepted by the surgeon with a reason), the other eye named and the case held until
that was corrected, a lens power without its sign, a change of plan by two roles that opens the lens
power again, the quiet after time out (an answer to sign out is passed over, milestones are told,
one of them late), sign out asked for before the end of surgery was told, a stop item that does
not apply without a reason.

`nurse` and `surgeon` are two microphones: whoever speaks at the nurse's is shown as the nurse, the
relief nurse too. This page is made by `python tools/demo_page.py`, and a test compares it with the
demo.

```text
"""
_AFTER = "```\n"


def play(data: Path) -> str:
    """What the demo prints, played silently with its records in `data`."""
    done = subprocess.run(
        [sys.executable, "-m", "voicelist", "demo", "--voice", "none"],
        env={
            **os.environ,
            "XDG_DATA_HOME": str(data),
            "COLUMNS": "200",
            "PYTHONIOENCODING": "utf-8",
        },
        encoding="utf-8",
        capture_output=True,
        timeout=_WITHIN_S,
        check=False,
    )
    if done.returncode:
        raise SystemExit(f"The demo ended with {done.returncode}.\n{done.stdout}{done.stderr}")
    return done.stdout


def page(printed: str) -> str:
    """The page that holds what was printed, as far as it is the same each time."""
    lasting, found, _ = printed.partition(_DIFFERS_FROM)
    if not found:
        raise SystemExit(f"The demo's summary has no row that begins with '{_DIFFERS_FROM}'.")
    return _BEFORE + lasting + _AFTER


def main() -> int:
    """Writes the page."""
    with tempfile.TemporaryDirectory() as data:
        PAGE.write_text(page(play(Path(data))), encoding="utf-8")
    print(f"Written: {PAGE}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
