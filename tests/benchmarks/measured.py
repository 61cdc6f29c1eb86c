"""What the benchmarks share: proportions with intervals, the machine, tables for people."""

from __future__ import annotations

import datetime
import importlib.metadata
import json
import math
import os
import platform
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

_Z_95 = 1.959964
_VERSIONS = ("voicelist", "vosk", "numpy", "soundfile", "soxr")


def wilson_95(hits: int, of: int) -> tuple[float, float]:
    """The 95% score interval of a proportion (Wilson, J Am Stat Assoc 1927;22:209-212); (0, 1) of
    nothing."""
    if of == 0:
        return 0.0, 1.0
    share, z2 = hits / of, _Z_95**2
    middle = share + z2 / (2 * of)
    spread = _Z_95 * math.sqrt(share * (1 - share) / of + z2 / (4 * of * of))
    scale = 1 + z2 / of
    return max(0.0, (middle - spread) / scale), min(1.0, (middle + spread) / scale)


def proportion(hits: int, of: int) -> dict[str, Any]:
    """A proportion for a JSON report."""
    low, high = wilson_95(hits, of)
    share = round(hits / of, 4) if of else None
    return {"count": hits, "of": of, "share": share, "wilson_95": [round(low, 4), round(high, 4)]}


def shown(part: dict[str, Any]) -> str:
    """A proportion for a table: `0.973 (0.95-0.99)`."""
    if part["share"] is None:
        return "-"
    low, high = part["wilson_95"]
    return f"{part['share']:.3f} ({low:.3f}-{high:.3f})"


def circumstances(fingerprint: str) -> dict[str, Any]:
    """When, on what and with what a benchmark ran."""
    return {
        "date": datetime.date.today().isoformat(),
        "machine": {"cpu": _cpu_model(), "cores": os.cpu_count(), "system": platform.system()},
        "versions": {
            "python": platform.python_version(),
            **{name: importlib.metadata.version(name) for name in _VERSIONS},
        },
        "speech_model": fingerprint,
    }


def write_report(path: Path, report: dict[str, Any]) -> None:
    path.write_text(json.dumps(report, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
    print(f"Written: {path.name}")


def print_table(title: str, head: Sequence[str], rows: Iterable[Sequence[object]]) -> None:
    """A table in plain columns."""
    lines = [tuple(str(cell) for cell in row) for row in (head, *rows)]
    widths = [max(len(line[column]) for line in lines) for column in range(len(head))]
    print(f"\n{title}", flush=True)
    for line in lines:
        print(
            "  ".join(cell.ljust(width) for cell, width in zip(line, widths, strict=True)).rstrip()
        )


def _cpu_model() -> str:
    try:
        lines = Path("/proc/cpuinfo").read_text(encoding="utf-8").splitlines()
        return next(
            line.split(":", 1)[1].strip() for line in lines if line.startswith("model name")
        )
    except (OSError, StopIteration):
        return platform.processor() or "unknown"
