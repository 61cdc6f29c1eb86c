"""The sheet that every picture is drawn on: its look, its small print, and how it becomes a file.

Plain ink on white: lines are told apart by their dashes and their labels, never by colour. The same
drawing gives the same bytes. matplotlib is imported when something is drawn, and not before.
"""

from __future__ import annotations

import io
import logging
import os
import textwrap
import warnings
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

from voicelist import CAUTION
from voicelist.errors import MissingPart
from voicelist.figures.svg import inline_svg, tidy_svg
from voicelist.places import cache_folder

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

INK = "#17211f"
SOFT = "#55605d"
LINE = "#c6cfcb"
FAINT = "#eef2f0"
DASHES: tuple[Any, ...] = ("-", (0, (5, 2)), (0, (1, 1.6)), (0, (6, 1.6, 1, 1.6)))

WIDTH_IN = 7.2
_SIDE_IN = 0.25
_TITLE_IN = 0.62
_LINE_IN = 0.135
_BANNER_IN = 0.24
_SMALL_PT = 7.1
_SMALL_COLUMNS = 131
_PNG_DPI = 200
_LOOK: dict[Any, Any] = {
    "svg.fonttype": "none",
    "svg.hashsalt": "voicelist",
    "font.family": "DejaVu Sans",
    "font.size": 8.5,
    "text.color": INK,
    "text.parse_math": False,  # a dollar in a name is a dollar
    "axes.edgecolor": INK,
    "axes.labelcolor": INK,
    "axes.linewidth": 0.8,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.axisbelow": True,
    "xtick.color": INK,
    "ytick.color": INK,
    "xtick.labelsize": 8,
    "ytick.labelsize": 8,
    "lines.linewidth": 1.6,
    "hatch.linewidth": 0.5,
    "path.simplify": False,
}


@dataclass(frozen=True, slots=True)
class PictureTold:
    """What is written around a picture: `about` is the text in its place for those who cannot see
    it, `origin` where its figures are from."""

    name: str
    title: str
    under: str
    about: str
    origin: str
    notes: tuple[str, ...] = ()
    banner: str = ""


@dataclass(frozen=True, slots=True)
class Picture:
    """What is told and how it is drawn, in a room `height_in` inches high and WIDTH_IN wide."""

    told: PictureTold
    height_in: float
    draw: Callable[[Sheet], None]


class Sheet:
    """A white sheet with a title at its top and the small print at its bottom, and between them the
    room to draw in."""

    def __init__(self, told: PictureTold, height_in: float) -> None:
        from matplotlib.figure import Figure

        lines = [*_wrapped(told.notes), *_wrapped((told.origin,)), *_wrapped((CAUTION,))]
        banner_in = _BANNER_IN if told.banner else 0.0
        self.height_in = height_in
        self._foot_in = 0.24 + _LINE_IN * len(lines)
        self._whole_in = banner_in + _TITLE_IN + height_in + self._foot_in
        self.figure: Figure = Figure(figsize=(WIDTH_IN, self._whole_in), facecolor="white")
        if told.banner:
            self._text(WIDTH_IN / 2, self._whole_in - 0.1, told.banner, ha="center", weight=700)
        top_in = self._whole_in - banner_in - 0.12
        self._text(_SIDE_IN, top_in, told.title, size=12, weight=700)
        self._text(_SIDE_IN, top_in - 0.25, told.under, color=SOFT)
        for number, line in enumerate(lines):
            y_in = 0.1 + _LINE_IN * (len(lines) - number)
            self._text(_SIDE_IN, y_in, line, size=_SMALL_PT, color=SOFT)

    def axes(self, left: float, bottom: float, width: float, height: float) -> Axes:
        """Axes in a rectangle of the room, all in inches from its lower left corner."""
        y = (bottom + self._foot_in) / self._whole_in
        box = (left / WIDTH_IN, y, width / WIDTH_IN, height / self._whole_in)
        axes: Axes = self.figure.add_axes(box)
        return axes

    def _text(self, x_in: float, y_in: float, text: str, **look: Any) -> None:
        self.figure.text(x_in / WIDTH_IN, y_in / self._whole_in, text, va="top", **look)


def as_svg(picture: Picture) -> bytes:
    """An SVG file. Raises MissingPart where matplotlib cannot be imported."""
    told = picture.told
    return tidy_svg(_svg(picture), told.name, told.title, told.about)


def as_inline_svg(picture: Picture, name: str) -> str:
    """A part of an HTML page; no other picture there may be called `name`. Raises MissingPart."""
    return inline_svg(_svg(picture), name, picture.told.title, picture.told.about)


def as_png(picture: Picture) -> bytes:
    """A PNG file. Raises MissingPart where matplotlib cannot be imported."""
    told = picture.told
    about = {"Title": told.title, "Description": told.about, "Software": None}
    return _drawn(picture, "png", dpi=_PNG_DPI, metadata=about)


def _svg(picture: Picture) -> bytes:
    return _drawn(picture, "svg", metadata={"Date": None})


def _drawn(picture: Picture, form: str, **how: Any) -> bytes:
    # It talks about its font cache and folders, which is nothing to the person at the screen.
    logging.getLogger("matplotlib").setLevel(logging.ERROR)
    # Else it makes folders of its own in the user's home. Read when it is imported.
    os.environ.setdefault("MPLCONFIGDIR", str(cache_folder() / "matplotlib"))
    try:
        from matplotlib import rc_context
    except ImportError as error:
        raise MissingPart(
            f"Pictures need the package matplotlib, which cannot be used here ({error}): install "
            "it, or go without pictures."
        ) from error
    file = io.BytesIO()
    with rc_context(_LOOK), warnings.catch_warnings():
        # A letter that the font lacks is left to the viewer's fonts.
        warnings.filterwarnings("ignore", message="Glyph .* missing from", category=UserWarning)
        sheet = Sheet(picture.told, picture.height_in)
        picture.draw(sheet)
        sheet.figure.savefig(file, format=form, **how)
    return file.getvalue()


def _wrapped(texts: Sequence[str]) -> list[str]:
    return [line for text in texts for line in textwrap.wrap(text, _SMALL_COLUMNS)]


def row_label(axes: Axes, text: str, left_in: float) -> None:
    """The name of a panel at the sheet's left margin; the panel begins `left_in` from the edge."""
    axes.annotate(
        text,
        (0.0, 0.5),
        xycoords="axes fraction",
        xytext=((_SIDE_IN - left_in) * 72, 0),
        textcoords="offset points",
        ha="left",
        va="center",
        linespacing=1.25,
        annotation_clip=False,
    )


def beside(axes: Axes, y: float, text: str) -> None:
    """A text to the right of a panel, its first line at the height of `y`."""
    axes.annotate(
        text,
        (axes.get_xlim()[1], y),
        xytext=(7, 5),
        textcoords="offset points",
        va="top",
        ha="left",
        linespacing=1.25,
        annotation_clip=False,
    )


def bare(axes: Axes) -> None:
    """Axes without frame, ticks and numbers."""
    axes.set_axis_off()


def labelled(axes: Axes, x: float, y: float, text: str, ground: str = "white", **look: Any) -> None:
    """A text around a point, on a ground of its own, so that lines below do not run through."""
    box = {"facecolor": ground, "edgecolor": "none", "pad": 1.2}
    axes.text(x, y, text, bbox=box, va="center", **{"ha": "center", **look})


def key(axes: Axes, place: Literal["lower right", "upper right"]) -> None:
    """Which line is which, in a corner of the axes."""
    axes.legend(
        loc=place,
        fontsize=8,
        handlelength=3.2,
        borderaxespad=0.2,
        edgecolor="none",
        facecolor="white",
        framealpha=1.0,
        fancybox=False,
    )
