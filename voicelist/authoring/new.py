"""A new card: every part of it, with what each part means, and no figure chosen for anybody."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from voicelist.authoring.templates import id_of, rendered, write_document
from voicelist.clinical.settings import PHASES_WITHOUT_POWER
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
    return rendered(
        "card.yaml.j2",
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
    write_document(target, Card, new_card(id_of(target, "card"), scale))
