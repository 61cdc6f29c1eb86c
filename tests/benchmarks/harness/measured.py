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
_LINE = 120
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
    """A report as JSON; what fits into a line stands in one."""
    path.write_text(_written(report, "") + "\n", encoding="utf-8")
    print(f"Written: {path.name}")


def _written(value: Any, margin: str) -> str:
    flat = json.dumps(value, ensure_ascii=False)
    if len(margin) + len(flat) <= _LINE or not isinstance(value, dict | list) or not value:
        return flat
    inner = margin + " "
    if isinstance(value, dict):
        lines = [
            f"{json.dumps(k, ensure_ascii=False)}: {_written(v, inner)}" for k, v in value.items()
        ]
    else:
        lines = [_written(one, inner) for one in value]
    opening, closing = "{}" if isinstance(value, dict) else "[]"
    return f"{opening}\n{inner}" + f",\n{inner}".join(lines) + f"\n{margin}{closing}"


def counted(met: Sequence[str], outcomes: Iterable[str]) -> dict[str, Any]:
    """The proportion of each outcome."""
    return {outcome: proportion(list(met).count(outcome), len(met)) for outcome in outcomes}


def worst_first(groups: dict[str, dict[str, Any]], *outcomes: str) -> dict[str, dict[str, Any]]:
    """Groups of proportions by how often the first of these outcomes was met, then the second."""

    def badness(group: str) -> tuple[float, ...]:
        return tuple(-(groups[group][one]["share"] or 0.0) for one in outcomes)

    return {group: groups[group] for group in sorted(groups, key=badness)}


def print_proportions(title: str, groups: dict[str, dict[str, Any]]) -> None:
    """A table of groups by outcome."""
    outcomes = list(next(iter(groups.values()), {}))
    rows = [
        (name, next(iter(parts.values()))["of"], *(shown(parts[one]) for one in outcomes))
        for name, parts in groups.items()
    ]
    print_table(title, ("", "of", *outcomes), rows)


def rate_upper_95(events: int) -> float:
    """The exact upper bound, one-sided 95%, of the expectation of which so many events were met
    (Garwood, Biometrika 1936;28:437-442), found by halving. Of no event it is 3.00."""
    low, high = 0.0, 10.0 + 5.0 * events
    for _ in range(60):
        middle = (low + high) / 2
        below = sum(math.exp(-middle) * middle**k / math.factorial(k) for k in range(events + 1))
        low, high = (middle, high) if below > 0.05 else (low, middle)
    return high


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
