"""The PDF file of a record and of what the record may hold, opened by pypdf."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from cases import keep, opened, stepped_store
from many_facts import rich_case
from pypdf import PdfReader

from tests.exported import text_of
from voicelist.record.exports import export
from voicelist.record.journal import Entry
from voicelist.record.store import Store
from voicelist.record.words import PRACTICE_BANNER, hash_words
from voicelist.session.records import Answered

Entries = tuple[Entry, ...]
SMALLEST_PT = 7.0


@pytest.fixture(scope="module")
def rich(tmp_path_factory: pytest.TempPathFactory) -> Entries:
    return rich_case(stepped_store(tmp_path_factory.mktemp("pdf") / "records.sqlite3"))


@pytest.fixture(scope="module")
def reader(rich: Entries) -> PdfReader:
    return PdfReader(io.BytesIO(export(rich, "pdf")))


def test_it_says_what_it_is(reader: PdfReader, rich: Entries) -> None:
    """By its own XMP metadata (ISO 19005-2, 6.6.4); a validator judges it in tests/soak."""
    assert reader.metadata is not None
    assert reader.metadata.title == "case-77, Cataract surgery by phacoemulsification"
    xmp = reader.xmp_metadata
    assert xmp is not None
    assert (xmp.pdfaid_part, xmp.pdfaid_conformance) == ("2", "B")
    text = " ".join(page.extract_text() for page in reader.pages)
    assert hash_words(rich[-1].hash) in text


def test_its_fonts_are_inside_and_its_pages_are_a4(reader: PdfReader) -> None:
    """ISO 216: 210 by 297 mm."""
    for page in reader.pages:
        width, height = (float(one) / 72 * 25.4 for one in page.mediabox[2:])
        assert (width, height) == pytest.approx((210, 297), abs=0.2)
        fonts = page["/Resources"]["/Font"].values()
        for font in (one.get_object()["/DescendantFonts"][0].get_object() for one in fonts):
            descriptor = font["/FontDescriptor"].get_object()
            assert "/FontFile2" in descriptor or "/FontFile3" in descriptor


def test_no_text_is_small_and_every_page_has_its_number_and_caution(reader: PdfReader) -> None:
    sizes = []

    def look(text: str, _: object, matrix: list[float], __: object, size: float) -> None:
        if text.strip():
            sizes.append(size * abs(matrix[3] or matrix[0]))

    for number, page in enumerate(reader.pages, start=1):
        text = page.extract_text(visitor_text=look)
        assert f"{number} / {len(reader.pages)}" in text
        assert "not a medical device" in text
    assert min(sizes) >= SMALLEST_PT


def test_the_same_record_gives_the_same_bytes(rich: Entries) -> None:
    assert export(rich, "pdf") == export(rich, "pdf")
    assert export(rich, "pdf") != export(rich[:-1], "pdf")


def test_every_page_of_practice_says_so(practice_case: Entries) -> None:
    for page in PdfReader(io.BytesIO(export(practice_case, "pdf"))).pages:
        assert page.extract_text().count(PRACTICE_BANNER) == 2, "above and below"


def test_what_people_and_documents_say_stays_text(store: Store) -> None:
    """Markup of the typesetter is shown; what its fonts lack is shown by its number."""
    said = '#panic("x") $x$ *b* _i_ `c` <a> \\ // @ref \u4e2d \U0001f600 \u202e \u0627 e\u0301'
    entries = keep(store, "case-1", (opened(), Answered("bottle", "said-fault", said)))
    text = text_of("pdf", export(entries, "pdf"))
    assert '#panic("x") $x$ *b* _i_ `c` <a>' in text.replace("\u201c", '"').replace("\u201d", '"')
    for number in ("U+4E2D", "U+1F600", "U+202E", "U+0627", "U+0301"):
        assert f"[{number}]" in text


def test_a_damaged_time_does_not_stop_it(two_runs: Entries, tmp_path: Path) -> None:
    from dataclasses import replace

    cut = (*two_runs[:-1], replace(two_runs[-1], at="never"))
    assert "DOES NOT VERIFY" in text_of("pdf", export(cut, "pdf"))
