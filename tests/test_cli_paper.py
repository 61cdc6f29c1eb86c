"""Lists on paper, what is entered from them afterwards, and many cases exported at once."""

from __future__ import annotations

import io
import json
import stat
from pathlib import Path

import pytest
import yaml
from pypdf import PdfReader

from tests.command import GRAMMARS, PLAN, Command, voicelist
from tests.exported import text_of
from tests.session.talk import WHOLE_CASE

__all__ = ["voicelist"]

PLANS = ("practice-007", "practice-101", "practice-102", "practice-104", "practice-201")
HALF = 20  # so many lines of the whole case: the settings are through, time out is not


def _sheet(voicelist: Command, what: object, folder: Path) -> bytes:
    target = folder / "sheet.pdf"
    answer = voicelist("print", what, "-o", target)
    assert (answer.code, answer.err) == (0, "")
    return target.read_bytes()


@pytest.mark.parametrize("plan", PLANS)
def test_a_plan_is_printed_whole_and_without_what_has_to_be_read(
    voicelist: Command, tmp_path: Path, plan: str
) -> None:
    path = GRAMMARS / "plans" / f"{plan}.yaml"
    data = _sheet(voicelist, path, tmp_path)
    assert data == _sheet(voicelist, path, tmp_path), "the same bytes twice"
    text = " ".join(text_of("pdf", data).split())
    planned = yaml.safe_load(path.read_text())
    checklist = yaml.safe_load(
        (GRAMMARS / "checklists" / f"{planned.get('checklist', 'phaco')}.yaml").read_text()
    )
    items = [item for section in checklist["sections"] for item in section["items"]]
    squeezed = "".join(text.split())
    for item in items:
        assert "".join(item["call"].split()) in squeezed
    assert "not a medical device" in text
    lens = planned.get("lens") or {}
    expected = [lens.get("model"), lens.get("power_D"), lens.get("axis_deg"), lens.get("target_D")]
    for value in (one for one in expected if one is not None):
        assert str(value).lstrip("+-") not in text, f"{value} has to be read from the world"
    assert f"{planned['eye']} eye" not in text
    assert "stop item" in text


def test_where_the_case_number_is_asked_it_does_not_stand_beside(
    voicelist: Command, tmp_path: Path
) -> None:
    """The number of practice-102 has to be read from the list or the wristband."""
    data = _sheet(voicelist, GRAMMARS / "plans" / "practice-102.yaml", tmp_path)
    pages = [page.extract_text() for page in PdfReader(io.BytesIO(data)).pages]
    asking = [page for page in pages if "Which case number?" in page]
    assert asking
    assert not any("102" in page for page in asking)
    assert "practice-102" in pages[-1], "for whoever enters it afterwards"


def test_a_sheet_is_black_on_a4_with_readable_type(voicelist: Command, tmp_path: Path) -> None:
    sizes, colours = set(), set()

    def look(text: str, _: object, matrix: list[float], __: object, size: float) -> None:
        if text.strip():
            sizes.add(size * abs(matrix[3] or matrix[0]))

    for page in PdfReader(io.BytesIO(_sheet(voicelist, PLAN, tmp_path))).pages:
        page.extract_text(visitor_text=look)
        for operands, operator in page.get_contents().operations:  # type: ignore[union-attr]  # a page has content
            if operator in (b"scn", b"sc", b"rg", b"g"):
                colours.add(tuple(float(one) for one in operands))
    assert min(sizes) >= 7.0
    assert colours
    assert all(len(set(one)) == 1 for one in colours), "black, white and grey alone"


def _half_a_case(voicelist: Command) -> None:
    lines = "\n".join(WHOLE_CASE[:HALF]) + "\n"
    voicelist("run", PLAN, "--typed", "--voice", "none", typed=lines)


def test_a_case_is_printed_as_far_as_it_is_open(voicelist: Command, tmp_path: Path) -> None:
    _half_a_case(voicelist)
    exported = tmp_path / "case.json"
    voicelist("record", "export", "practice-007", "--format", "json", "-o", exported)
    items = [
        item for part in json.loads(exported.read_text())["sections"] for item in part["items"]
    ]
    text = "".join(text_of("pdf", _sheet(voicelist, "practice-007", tmp_path)).split())
    through = [one for one in items if one["status"] in ("said-done", "value")]
    open_items = [one for one in items if one["status"] == "not-asked" and one["due"]]
    assert through
    assert open_items
    for item in open_items:
        assert "".join(item["call"].split()) in text
    for item in through:
        assert "".join(item["call"].split()) not in text
    assert json.loads(exported.read_text())["head"] in text


def test_a_case_finished_from_paper_verifies_and_shows_what_is_from_paper(
    voicelist: Command, tmp_path: Path
) -> None:
    _half_a_case(voicelist)
    for item, words, time in (("eye", "left eye marked", "14:05"), ("counts", "complete", "14:31")):
        told = voicelist(
            *("record", "amend", "practice-007", words, "--reason", "the computer was off"),
            *("--role", "circulating-nurse", "--item", item, "--paper-time", time),
        )
        assert told.code == 0, told.text
    assert voicelist("record", "verify", "practice-007").code == 0
    for form in ("text", "html", "csv", "json", "pdf", "fhir"):
        target = tmp_path / f"case.{form}"
        assert (
            voicelist("record", "export", "practice-007", "--format", form, "-o", target).code == 0
        )
        text = " ".join(text_of(form, target.read_bytes()).split())
        assert "from paper, 14:05 on the paper" in text, form
    items = json.loads((tmp_path / "case.json").read_text())["sections"]
    counts = next(item for part in items for item in part["items"] if item["id"] == "counts")
    assert counts["status"] == "not-asked", "what is on paper answers nothing"
    assert counts["late"][0]["paper_time"] == "14:31"


@pytest.mark.parametrize("time", ["25:00", "2pm", "14:05:00", "2026-13-01 14:05", " 14:05"])
def test_a_paper_time_is_a_time_of_day(voicelist: Command, time: str) -> None:
    _half_a_case(voicelist)
    before = voicelist("record", "list", "--json").out
    told = voicelist(
        *("record", "amend", "practice-007", "left", "--reason", "late", "--role", "surgeon"),
        *("--paper-time", time),
    )
    assert told.code == 2
    assert "write it as 14:05" in told.err
    assert voicelist("record", "list", "--json").out == before, "nothing was entered"


def test_all_cases_are_exported_into_a_folder(voicelist: Command, tmp_path: Path) -> None:
    _half_a_case(voicelist)
    typed = "voice list abandon this case\n"
    voicelist(
        "run", GRAMMARS / "plans" / "practice-102.yaml", "--typed", "--voice", "none", typed=typed
    )
    folder = tmp_path / "out" / "today"
    told = voicelist("record", "export", "--all", "--format", "csv", "-o", folder)
    assert told.code == 0, told.text
    assert "2 file(s)" in told.out
    assert sorted(one.name for one in folder.iterdir()) == ["practice-007.csv", "practice-102.csv"]
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700
    assert all(stat.S_IMODE(one.stat().st_mode) == 0o600 for one in folder.iterdir())
    one = tmp_path / "one.csv"
    voicelist("record", "export", "practice-007", "--format", "csv", "-o", one)
    assert one.read_bytes() == (folder / "practice-007.csv").read_bytes()
    later = voicelist("record", "export", "--all", "--since", "2999-01-01", "-o", tmp_path / "none")
    assert "0 file(s)" in later.out
    sooner = voicelist(
        "record", "export", "--all", "--since", "2020-01-01", "-o", tmp_path / "html"
    )
    assert "2 file(s)" in sooner.out


@pytest.mark.parametrize(
    "arguments",
    [
        (),
        ("practice-007", "--all"),
        ("practice-007", "--since", "2026-01-01"),
        ("--all", "--since", "yesterday"),
        ("--all", "--format", "scroll"),
    ],
)
def test_what_cannot_be_meant_is_refused(
    voicelist: Command, tmp_path: Path, arguments: tuple[str, ...]
) -> None:
    target = tmp_path / "target"
    told = voicelist("record", "export", *arguments, "-o", target)
    assert told.code == 2
    assert not [one for one in tmp_path.rglob("*") if one.is_file()]


def test_names_of_files_are_plain_and_of_one_case_each() -> None:
    from voicelist.record.commands import _file_stem, _free_name

    assert _file_stem("practice-007") == "practice-007"
    assert _file_stem("../x y") == "%2e%2e%2fx%20y"
    assert _file_stem("\u00e9") == "%c3a9"
    assert _free_name("Case.csv", {"case.csv"}) == "Case-2.csv", (
        "file systems that know no capitals"
    )
