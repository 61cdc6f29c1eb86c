"""A new card: every part of it, with what each part means, and no figure chosen for anybody."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Mapping
from pathlib import Path

from jinja2 import Environment, PackageLoader, StrictUndefined

from voicelist import CAUTION
from voicelist.authoring.files import write_new
from voicelist.clinical.settings import PHASES_WITHOUT_POWER
from voicelist.documents.loading import parse_document
from voicelist.documents.models import Card
from voicelist.documents.names import PHASES
from voicelist.errors import UsageError

DEFAULT_ID = "my-card"
# Where a new card cuts its bands: a project choice. No published map joins the scales.
BANDS: Mapping[str, tuple[tuple[float, float], ...]] = {
    "clinical": ((0, 1), (2, 2), (3, 3), (4, 4)),
    "hardness": ((1, 2), (3, 3), (4, 4), (5, 5)),
    "locs3-no": ((0.1, 2.4), (2.5, 3.4), (3.5, 4.9), (5.0, 6.9)),
    "locs3-nc": ((0.1, 2.4), (2.5, 3.4), (3.5, 4.9), (5.0, 6.9)),
}


def new_card(card_id: str = DEFAULT_ID, scale: str = "clinical", language: str = "en-US") -> str:
    """The text of a card document, with comments. Raises UsageError for an unknown scale."""
    if scale not in BANDS:
        raise UsageError(f"There is no scale {scale}: choose one of {', '.join(BANDS)}.")
    bands = BANDS[scale]
    environment = Environment(
        loader=PackageLoader("voicelist.authoring", package_path="."),
        autoescape=False,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    return environment.get_template("card.yaml.j2").render(
        caution=textwrap.wrap(CAUTION, 96),
        card_id=card_id,
        language=language,
        scale=scale,
        bands=bands,
        phases=PHASES,
        with_power=[phase for phase in PHASES if phase not in PHASES_WITHOUT_POWER],
        first_without_power=PHASES_WITHOUT_POWER[0],
        first_low=bands[0][0],
    )


def write_card(target: Path, scale: str) -> None:
    """A new card in a new file, its id the file's name. Raises UsageError where that cannot be."""
    card_id = target.stem
    if target.suffix not in (".yaml", ".yml"):
        raise UsageError(f"{target} has to end in .yaml: a card is a YAML document.")
    if not re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", card_id):
        raise UsageError(
            f"{card_id} cannot be a card's id: name the file with lower-case letters, digits and "
            "dashes, such as my-card.yaml."
        )
    text = new_card(card_id, scale)
    parse_document(Card, text, str(target))
    write_new(target, text)
