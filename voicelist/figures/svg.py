"""A drawing's SVG made fit to be read, kept and put into a page. Pure.

What the drawing library adds of itself (its name, a date, addresses, clip paths, a style for every
element of the page) goes; a title and a description come in, and every id gets a prefix of its
own, so that several pictures can stand in one page.
"""

from __future__ import annotations

import re
from xml.etree import ElementTree

_SVG = "http://www.w3.org/2000/svg"
_XLINK = "http://www.w3.org/1999/xlink"
_HREF = f"{{{_XLINK}}}href"
_FONT = re.compile(r"font-family: [^;]+")
# Narrower than the font that the drawing was measured with, so that texts stay within their room.
_FAMILIES = "'Helvetica Neue', Arial, 'Liberation Sans', 'DejaVu Sans', sans-serif"
_NO_XML = re.compile(rb"[\x00-\x08\x0b\x0c\x0e-\x1f]")
_NEVER = ("metadata", "style", "clipPath")


def tidy_svg(raw: bytes, name: str, title: str, about: str) -> bytes:
    """A picture as a file of its own. `name` is the prefix of its ids."""
    root = _tidied(raw, name, title, about)
    root.set("xmlns", _SVG)
    return b'<?xml version="1.0" encoding="utf-8"?>\n' + _written(root) + b"\n"


def inline_svg(raw: bytes, name: str, title: str, about: str) -> str:
    """A picture as a part of an HTML page: as wide as its place, nothing from elsewhere."""
    root = _tidied(raw, name, title, about)
    for size in ("width", "height"):
        root.attrib.pop(size, None)
    root.set("class", "picture")
    return _written(root).decode()


def _tidied(raw: bytes, name: str, title: str, about: str) -> ElementTree.Element:
    root = ElementTree.fromstring(_NO_XML.sub(b"", raw))
    _prune(root)
    for element in root.iter():
        element.tag = element.tag.removeprefix(f"{{{_SVG}}}")
        if _HREF in element.attrib:
            element.set("href", f"#{name}-{element.attrib.pop(_HREF).removeprefix('#')}")
        if "id" in element.attrib:
            element.set("id", f"{name}-{element.attrib['id']}")
        element.attrib.pop("clip-path", None)
        style = element.attrib.get("style")
        if style:
            style = _FONT.sub(f"font-family: {_FAMILIES}", style)
            element.set("style", style.replace("url(#", f"url(#{name}-"))
    root.set("role", "img")
    root.set("aria-labelledby", f"{name}-title {name}-desc")
    root.set("style", "stroke-linejoin: round; stroke-linecap: butt")
    for place, (tag, text) in enumerate((("title", title), ("desc", about))):
        element = ElementTree.Element(tag, {"id": f"{name}-{tag}"})
        element.text = text
        root.insert(place, element)
    return root


def _prune(parent: ElementTree.Element) -> None:
    """Takes out what is never wanted, and what is empty then."""
    for child in list(parent):
        _prune(child)
        tag = child.tag.rpartition("}")[2]
        if tag in _NEVER or (tag in ("defs", "title", "g") and not len(child)):
            parent.remove(child)


def _written(root: ElementTree.Element) -> bytes:
    ElementTree.indent(root, space=" ")
    return bytes(ElementTree.tostring(root, encoding="utf-8"))
