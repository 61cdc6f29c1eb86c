"""A long measurement in parts, and on samples."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from typing import TypeVar

T = TypeVar("T")


def add_part_options(parser: argparse.ArgumentParser) -> None:
    """`--every N`, `--part I --of N`."""
    parser.add_argument(
        "--every", type=int, default=1, metavar="N", help="a sample: only each Nth; no report"
    )
    parser.add_argument(
        "--part",
        type=int,
        default=1,
        metavar="I",
        help="the Ith part of --of N; what it hears is kept, and a run without parts, after all of "
        "them, writes the report quickly",
    )
    parser.add_argument("--of", type=int, default=1, metavar="N", help="so many parts")


def chosen(every: Sequence[T], asked: argparse.Namespace) -> list[T]:
    """What this run is to measure."""
    if not 1 <= asked.part <= asked.of:
        raise SystemExit(f"--part is 1 to {asked.of}, not {asked.part}.")
    return list(every[:: asked.every][asked.part - 1 :: asked.of])


def is_whole(asked: argparse.Namespace) -> bool:
    """Whether this run measures everything, so that its report counts."""
    return bool(asked.every == 1 and asked.of == 1)
