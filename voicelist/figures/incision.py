"""The picture of an eye with its main incision and side port."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from voicelist.clinical.incision import axis_deg, hour_of_position
from voicelist.documents.wording import number
from voicelist.figures.canvas import (
    FAINT,
    INK,
    LINE,
    SOFT,
    WIDTH_IN,
    Picture,
    PictureTold,
    Sheet,
    bare,
    labelled,
)
from voicelist.figures.geometry import EyePicture

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_SIDE_IN = 4.4
_REACH = 1.62
_NEAR_DEG = 35.0
_ASIDE = 0.35
_ISO = "Degrees as in ISO 8429: facing the patient, counter-clockwise from the observer's right."
_NOTES = {
    "seat": f"Seen from the surgeon's seat at the main incision, and turned for that. {_ISO}",
    "front": f"Seen facing the patient. {_ISO}",
}
_PUPIL = 0.42
_MAIN_HALF_DEG = 10.0
_PORT_HALF_DEG = 4.0


def incision_picture(
    eye: EyePicture, seen_from: str, under: str, origin: str, banner: str
) -> Picture:
    """`under` says which plan; `seen_from` is "seat" or "front"."""
    told = PictureTold(
        name="incision",
        title=f"{eye.eye.capitalize()} eye: incisions",
        under=under,
        about=_about(eye),
        origin=origin,
        notes=(_NOTES[seen_from],),
        banner=banner,
    )

    def draw(sheet: Sheet) -> None:
        axes = sheet.axes((WIDTH_IN - _SIDE_IN) / 2, 0.0, _SIDE_IN, _SIDE_IN)
        bare(axes)
        axes.set_aspect("equal")
        axes.set_xlim(-_REACH, _REACH)
        axes.set_ylim(-_REACH, _REACH)
        _globe(axes, eye)
        _degrees(axes, eye)
        _incisions(axes, eye)
        _apart(axes, eye)

    return Picture(told, _SIDE_IN, draw)


def _globe(axes: Axes, eye: EyePicture) -> None:
    from matplotlib.patches import Circle

    axes.add_patch(Circle((0, 0), 1.0, facecolor=FAINT, edgecolor=INK, linewidth=1.4))
    axes.add_patch(Circle((0, 0), _PUPIL, facecolor="white", edgecolor=SOFT, linewidth=0.9))
    for name, position in eye.sides():
        labelled(axes, *eye.at(position, 0.68), name, FAINT, color=SOFT, style="italic")


def _degrees(axes: Axes, eye: EyePicture) -> None:
    """A tick every ten degrees, a number every thirty."""
    for degrees in range(0, 360, 10):
        longer = degrees % 30 == 0
        inner, outer = eye.at(degrees, 1.03), eye.at(degrees, 1.10 if longer else 1.06)
        axes.plot(*zip(inner, outer, strict=True), color=INK, linewidth=0.8)
        if longer:
            axes.text(*eye.at(degrees, 1.2), f"{degrees}°", ha="center", va="center", size=7.5)


def _incisions(axes: Axes, eye: EyePicture) -> None:
    """A long bar for the main incision, a short one for the side port; lines to the middle."""
    near = eye.separation_deg < _NEAR_DEG
    seat = f"main incision {_deg(eye.main_deg)}°\n(the surgeon's seat)"
    hand = f"\n({eye.hand} hand)" if eye.hand else ""
    port = f"side port {_deg(eye.side_port_deg)}°{hand}"
    for name, position, half, text, radius in (
        ("main", eye.main_deg, _MAIN_HALF_DEG, seat, 1.36),
        ("side-port", eye.side_port_deg, _PORT_HALF_DEG, port, 1.7 if near else 1.36),
    ):
        steps = [position - half + half * step / 8 for step in range(17)]
        xs, ys = zip(*(eye.at(one, 0.965) for one in steps), strict=True)
        axes.plot(xs, ys, color=INK, linewidth=6.0, solid_capstyle="butt", gid=f"line-{name}")
        axes.plot(*zip((0, 0), eye.at(position, 0.95), strict=True), color=LINE, linewidth=0.9)
        x, y = eye.at(position, radius)
        axes.text(x, y, text, weight=700, linespacing=1.2, **_outwards(x, y))


def _outwards(x: float, y: float) -> dict[str, Any]:
    """How a text at a point outside has to be aligned to run away from the middle."""
    sideways = "left" if x > 0 else "right"
    upwards = "bottom" if y > 0 else "top"
    return {
        "ha": sideways if abs(x) > _ASIDE else "center",
        "va": upwards if abs(y) > _ASIDE else "center",
    }


def _apart(axes: Axes, eye: EyePicture) -> None:
    """The angle between the two, inside the pupil."""
    xs, ys = zip(*((0.27 * x, 0.27 * y) for x, y in eye.arc), strict=True)
    axes.plot(xs, ys, color=INK, linewidth=1.1, gid="line-apart")
    x, y = eye.arc[len(eye.arc) // 2]
    text = f"{_deg(eye.separation_deg)}°\napart"
    axes.text(-0.16 * x, -0.16 * y, text, ha="center", va="center", size=7.5, linespacing=1.1)


def _about(eye: EyePicture) -> str:
    hand = f", under the surgeon's {eye.hand} hand" if eye.hand else ""
    return (
        f"The {eye.eye} eye with the main incision at {_place(eye.main_deg)}, nearest {eye.side}, "
        f"where the surgeon sits, and the side port at {_place(eye.side_port_deg)}{hand}; they are "
        f"{_deg(eye.separation_deg)} degrees apart."
    )


def _place(position: float) -> str:
    hour = f"{hour_of_position(position):.3g} o'clock facing the patient"
    return f"{_deg(position)} degrees (axis {_deg(axis_deg(position))}, {hour})"


def _deg(angle: float) -> str:
    """Degrees to one decimal, as plans have them at the most."""
    return number(round(angle, 1))
