"""A sheet as one self-contained page for screen and wall: no scripts, nothing from elsewhere."""

from __future__ import annotations

from functools import cache

from jinja2 import Environment
from markupsafe import Markup

from voicelist import CAUTION
from voicelist.practice.sheet import BANNER, WallSheet
from voicelist.record.pages import page_templates


def as_page(sheet: WallSheet) -> bytes:
    """The page, UTF-8."""
    template = _environment().get_template("sheet.html.j2")
    page = template.render(sheet=sheet, banner=BANNER, caution=CAUTION, markup=Markup)
    return page.encode()


@cache
def _environment() -> Environment:
    return page_templates("voicelist.practice")
