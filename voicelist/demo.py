"""`voicelist demo`: the practice case from the shipped sound, then its record and report."""

from __future__ import annotations

import time

from rich.console import Console

from voicelist import CAUTION
from voicelist.authoring.files import write_over
from voicelist.figures.inline import report_figures
from voicelist.listening.practice import load_script
from voicelist.places import data_folder, shipped
from voicelist.record.exports import export
from voicelist.record.store import Reader
from voicelist.record.view import case_view
from voicelist.running import How, run_plan


def run_demo(how: How, console: Console) -> int:
    """Plays the case, prints dialogue and summary; exit code 0 if it was completed."""
    unwrapped = not console.is_terminal
    console.print("PRACTICE: an invented case, synthetic voices. " + CAUTION, soft_wrap=unwrapped)
    console.print()
    plan = shipped("grammars") / "plans" / f"{load_script().plan}.yaml"
    began_s = time.monotonic()
    outcome = run_plan(plan, how, console)
    took_s = time.monotonic() - began_s - outcome.ready_s
    reader = Reader(None, practice=True)
    entries = reader.entries(outcome.case)
    report = data_folder() / f"{outcome.case}.html"
    write_over(report, export(entries, "html", report_figures), private=True)
    view = case_view(entries)
    due = [item for item in view.items if item.due]
    lasted_s = outcome.speech_s + outcome.room_s
    console.print()
    rows = (
        f"Case {outcome.case}: {outcome.state.closed}",
        f"Items answered: {sum(bool(item.words) for item in due)} of {len(due)}; "
        f"mismatches: {len(view.mismatches)}; asked again: {view.totals.asked_again}; "
        f"talk ignored: {view.totals.ignored}",
        f"The assistant spoke {outcome.speech_s:.0f} s "
        f"({outcome.speech_s / max(len(due), 1):.1f} s an item) "
        f"and listened {outcome.room_s:.0f} s",
        f"Listening after {outcome.ready_s:.1f} s; {lasted_s:.0f} s of case in {took_s:.1f} s "
        f"({lasted_s / took_s:.0f} times real time)",
        f"Record: {outcome.where}",
        f"Report: {report}",
        f"Head {outcome.head}",
        f"Tree head {outcome.tree_head}",
    )
    for row in rows:
        console.print(row, soft_wrap=unwrapped)
    return 0 if outcome.state.closed == "completed" else 1
