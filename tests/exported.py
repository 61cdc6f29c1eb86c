"""What an exported file says, read by somebody else's program where it is no plain text."""

from __future__ import annotations

import io

from pypdf import PdfReader


def text_of(form: str, data: bytes) -> str:
    """The text of a file in one of the formats of an export."""
    if form == "pdf":
        return " ".join(page.extract_text() for page in PdfReader(io.BytesIO(data)).pages)
    return data.decode("utf-8-sig")
