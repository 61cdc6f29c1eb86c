"""Orders right against the signal-to-noise ratio, as a picture, beside published curves.

`python -m tests.benchmarks.studies.orders_picture` writes `docs/orders.svg` from the latest full
run of `orders.py`. The published figures are of other engines on all 619 orders, of which about
half are measured here.
"""

from __future__ import annotations

import argparse
import json
from typing import Any

from tests.benchmarks.harness.places import CHECKOUT
from tests.benchmarks.studies.orders import (
    AGAIN,
    NOISES,
    ONCE,
    ONE_LOOK,
    PRODUCT,
    REPORT,
    RIGHT,
    WRONG,
    SNRS_dB,
)
from voicelist.figures.canvas import (
    DASHES,
    INK,
    LINE,
    SOFT,
    WIDTH_IN,
    Picture,
    PictureTold,
    Sheet,
    as_svg,
)

PICTURE = CHECKOUT / "docs" / "orders.svg"
# Read in the table published with the recordings (speech-to-intent benchmark, GitHub): the best of
# its five engines, and the range of its four cloud services; all 619 orders.
BEST_PUBLISHED = {24: 0.99, 18: 0.99, 12: 0.98, 9: 0.97, 6: 0.96}
CLOUD_PUBLISHED = {
    24: (0.83, 0.96),
    18: (0.81, 0.95),
    12: (0.78, 0.90),
    9: (0.78, 0.89),
    6: (0.70, 0.86),
}
_KEY: dict[str, Any] = {
    "frameon": False,
    "fontsize": 7.5,
    "handlelength": 2.6,
    "columnspacing": 1.4,
}
_LEFT_IN, _GAP_IN, _BELOW_IN = 0.7, 0.55, 0.5
_WIDE_IN = (WIDTH_IN - _LEFT_IN - 0.3 - _GAP_IN) / 2
_WRONG_IN, _BETWEEN_IN, _RIGHT_IN, _KEY_IN = 0.9, 0.25, 2.5, 0.45
# The smallest share of orders right that is drawn, by noise; and the largest taken wrong.
_RIGHT_FROM = {"kitchen": 0.25, "babble8": 0.0}
_WRONG_TO = 0.42
_NOTES = (
    "Right: all slots of an order as labelled. What is neither right nor taken wrong is asked "
    "again. Bars: Wilson 95% intervals of the product. Recordings of real people, about half of "
    "the 619 that the published figures are of.",
)


def main() -> None:
    """The command."""
    argparse.ArgumentParser(description=(__doc__ or "").partition("\n\n")[0]).parse_args()
    if not REPORT.is_file():
        raise SystemExit("There is no report of orders.py: run that first, all of it.")
    report = json.loads(REPORT.read_text(encoding="utf-8"))
    PICTURE.write_bytes(as_svg(picture(report)))
    print(f"Written: {PICTURE.name}")


def picture(report: dict[str, Any]) -> Picture:
    """The picture of a report of `orders.py`."""
    told = PictureTold(
        name="orders",
        title="Orders understood, by loudness of the noise",
        under="Share of orders right (above) and taken wrong (below)",
        about=_about(report),
        origin=f"tests/benchmarks/studies/orders.py, {report['date']}; {_machine(report)}.",
        notes=_NOTES,
    )
    right_in = _BELOW_IN + _WRONG_IN + _BETWEEN_IN

    def draw(sheet: Sheet) -> None:
        for number, noise in enumerate(NOISES):
            left = _LEFT_IN + number * (_WIDE_IN + _GAP_IN)
            lower = sheet.axes(left, _BELOW_IN, _WIDE_IN, _WRONG_IN)
            upper = sheet.axes(left, right_in, _WIDE_IN, _RIGHT_IN)
            upper.set_ylim(_RIGHT_FROM[noise], 1.01)
            lower.set_ylim(0.0, _WRONG_TO)
            lower.set_xlabel(f"signal to noise, dB ({noise})")
            for axes, outcome in ((upper, RIGHT), (lower, WRONG)):
                _frame(axes)
                _curves(axes, report, noise, outcome)
            if number == 0:
                _published(upper)
                upper.set_ylabel(RIGHT)
                lower.set_ylabel(WRONG)
                upper.legend(loc="lower left", bbox_to_anchor=(-0.02, 1.0), ncol=4, **_KEY)

    return Picture(told, right_in + _RIGHT_IN + _KEY_IN, draw)


def _machine(report: dict[str, Any]) -> str:
    count = report["conditions"]["clean"]["ways"][PRODUCT][RIGHT]["of"]
    return f"{count} orders; speech model {report['speech_model'][:12]}"


def _frame(axes: Any) -> None:
    axes.set_xlim(25, 5)
    axes.set_xticks(SNRS_dB)
    axes.grid(axis="y", color=LINE, linewidth=0.6)


def _curves(axes: Any, report: dict[str, Any], noise: str, outcome: str) -> None:
    ways = [way for way in report["conditions"]["clean"]["ways"] if way not in (ONCE, ONE_LOOK)]
    for place, way in enumerate(ways):
        parts = [
            report["conditions"][f"{noise} {snr_dB} dB"]["ways"][way][outcome] for snr_dB in SNRS_dB
        ]
        shares = [part["share"] for part in parts]
        axes.plot(
            SNRS_dB,
            shares,
            linestyle=DASHES[place % len(DASHES)],
            color=INK,
            label=way.partition(",")[0],
            gid=f"line-{noise}-{outcome.replace(' ', '-')}-{place}",
        )
        if way == PRODUCT:
            limits = [part["wilson_95"] for part in parts]
            axes.vlines(SNRS_dB, *zip(*limits, strict=True), color=INK, linewidth=0.6)


def _published(axes: Any) -> None:
    snrs = list(BEST_PUBLISHED)
    low, high = zip(*CLOUD_PUBLISHED.values(), strict=True)
    axes.fill_between(snrs, low, high, facecolor=LINE, edgecolor="none", zorder=0, gid="cloud")
    axes.annotate(
        "grey: four cloud services, published", (24.5, 0.77), color=SOFT, va="top", size=7.5
    )
    best = list(BEST_PUBLISHED.values())
    look = {"linestyle": "none", "marker": "D", "markersize": 4, "color": SOFT}
    axes.plot(snrs, best, label="best of five engines, published", gid="line-best", **look)


def _about(report: dict[str, Any]) -> str:
    told = []
    for noise in NOISES:
        for snr_dB in SNRS_dB:
            part = report["conditions"][f"{noise} {snr_dB} dB"]["ways"][PRODUCT]
            right, again, wrong = (part[one]["share"] for one in (RIGHT, AGAIN, WRONG))
            told.append(
                f"{noise} {snr_dB} dB: right {right:.3f}, asked again {again:.3f}, taken wrong "
                f"{wrong:.3f}"
            )
    return f"Orders that the product understands, by signal-to-noise ratio. {'; '.join(told)}."


if __name__ == "__main__":
    main()
