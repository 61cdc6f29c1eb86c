"""What an SVG shows, read back from its elements: lines, the numbers beside the axes, texts."""

from __future__ import annotations

import re
from dataclasses import dataclass
from xml.etree import ElementTree

SVG = "{http://www.w3.org/2000/svg}"
Point = tuple[float, float]
_NUMBER = re.compile(r"-?\d+(?:\.\d+)?(?:e-?\d+)?")


@dataclass(frozen=True, slots=True)
class Drawn:
    """One picture as an SVG file."""

    root: ElementTree.Element

    @classmethod
    def of(cls, svg: bytes) -> Drawn:
        return cls(ElementTree.fromstring(svg))

    @property
    def texts(self) -> list[str]:
        return ["".join(one.itertext()) for one in self.root.iter(f"{SVG}text")]

    @property
    def whole_text(self) -> str:
        return " ".join(" ".join(self.texts).split())

    def told(self, tag: str) -> str:
        (element,) = [one for one in self.root if one.tag == f"{SVG}{tag}"]
        return element.text or ""

    def ids(self) -> list[str]:
        return [one.attrib["id"] for one in self.root.iter() if "id" in one.attrib]

    def points(self, line: str) -> list[Point]:
        """The corners of a line in the picture's own units; y goes down."""
        (group,) = [one for one in self.root.iter() if one.get("id", "").endswith(f"-line-{line}")]
        path = next(group.iter(f"{SVG}path"))
        numbers = [float(one) for one in _NUMBER.findall(path.attrib["d"])]
        return list(zip(numbers[::2], numbers[1::2], strict=True))

    def style(self, line: str) -> str:
        (group,) = [one for one in self.root.iter() if one.get("id", "").endswith(f"-line-{line}")]
        return next(group.iter(f"{SVG}path")).attrib["style"]

    def data(self, line: str) -> list[Point]:
        """The corners of a line in the units of its axes, by the numbers written beside them."""
        axes = self._axes_of(line)
        x, y = self._scale(axes, "x"), self._scale(axes, "y")
        return [(x[0] + x[1] * px, y[0] + y[1] * py) for px, py in self.points(line)]

    def heights(self, line: str) -> list[float]:
        """Only the y of `data`, for axes without numbers along x."""
        offset, factor = self._scale(self._axes_of(line), "y")
        return [offset + factor * py for _, py in self.points(line)]

    def data_x(self, line: str) -> list[float]:
        """Only the x of `data`, for axes without numbers along y."""
        offset, factor = self._scale(self._axes_of(line), "x")
        return [offset + factor * px for px, _ in self.points(line)]

    def _axes_of(self, line: str) -> ElementTree.Element:
        return next(
            axes
            for axes in self.root.iter(f"{SVG}g")
            if re.search(r"-axes_\d+$", axes.get("id", ""))
            and any(one.get("id", "").endswith(f"-line-{line}") for one in axes.iter())
        )

    @staticmethod
    def _scale(axes: ElementTree.Element, along: str) -> tuple[float, float]:
        """Offset and factor from places in the picture to numbers, by the first and last tick."""
        pairs = []
        axis = next(
            one for one in axes if "matplotlib.axis_" in one.get("id", "") and _axis(one) == along
        )
        for tick in axis:
            use, text = next(tick.iter(f"{SVG}use"), None), next(tick.iter(f"{SVG}text"), None)
            if use is not None and text is not None:
                value = float("".join(text.itertext()).replace("\N{MINUS SIGN}", "-"))
                pairs.append((float(use.attrib[along]), value))
        (first, low), (last, high) = pairs[0], pairs[-1]
        factor = (high - low) / (last - first)
        return low - factor * first, factor


def _axis(axis: ElementTree.Element) -> str:
    names = [one.get("id", "") for one in axis]
    return next((at for at in ("x", "y") if any(f"-{at}tick_" in name for name in names)), "")
