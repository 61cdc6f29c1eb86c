"""`voicelist draw` and the pictures of a report, as a user meets them."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.command import CARD, GRAMMARS, PLAN, Command, voicelist
from tests.figures.drawn import Drawn
from tests.session.talk import WHOLE_CASE
from voicelist import CAUTION
from voicelist.record.words import PRACTICE_BANNER

__all__ = ["voicelist"]

BURSTS = Path(__file__).parent / "assessed" / "cards" / "bursts.yaml"
GRADE = ("--grade", "clinical 3")
DRAWN = [
    ("pedal", CARD, *GRADE),
    ("pulses", CARD, *GRADE),
    ("pressure", CARD, *GRADE),
    ("incision", PLAN),
]
each = pytest.mark.parametrize("arguments", DRAWN, ids=lambda arguments: arguments[0])


def run_case(voicelist: Command, *more: object) -> None:
    lines = "\n".join(WHOLE_CASE) + "\n"
    answer = voicelist("run", PLAN, "--typed", "--voice", "none", *more, typed=lines)
    assert answer.code == 0, answer.text


@each
def test_a_picture_is_written_as_svg_and_as_png(
    voicelist: Command, tmp_path: Path, arguments: tuple[object, ...]
) -> None:
    for suffix in ("svg", "png"):
        target = tmp_path / f"picture.{suffix}"
        answer = voicelist("draw", *arguments, "-o", target)
        assert answer.code == 0, answer.text
        assert str(target) in answer.out
    assert CAUTION in Drawn.of((tmp_path / "picture.svg").read_bytes()).whole_text
    assert (tmp_path / "picture.png").read_bytes().startswith(b"\x89PNG")


@each
def test_a_picture_names_card_or_plan_but_no_folder(
    voicelist: Command, tmp_path: Path, arguments: tuple[object, ...]
) -> None:
    target = tmp_path / "picture.svg"
    voicelist("draw", *arguments, "-o", target)
    text = target.read_text(encoding="utf-8")
    assert "practice-007" in text or "demo-surgeon" in text
    assert str(GRAMMARS) not in text


def test_a_value_moved_on_the_card_moves_the_drawing(voicelist: Command, tmp_path: Path) -> None:
    moved = tmp_path / "moved.yaml"
    text = CARD.read_text(encoding="utf-8").replace("{value: 350, control", "{value: 290, control")
    moved.write_text(text.replace("id: demo-surgeon", "id: moved"), encoding="utf-8")
    heights = []
    for card in (CARD, moved):
        target = tmp_path / "pedal.svg"
        assert voicelist("draw", "pedal", card, *GRADE, "-o", target).code == 0
        heights.append(Drawn.of(target.read_bytes()).heights("vacuum_mmHg")[-1])
    assert heights == pytest.approx([350, 290], rel=0.01)


def test_measured_numbers_may_be_given(voicelist: Command, tmp_path: Path) -> None:
    target = tmp_path / "pressure.svg"
    given = ("--rise-s", "3", "--rise-flow", "16", "--resistance", "0.8")
    assert voicelist("draw", "pressure", CARD, *GRADE, *given, "-o", target).code == 0
    found = Drawn.of(target.read_bytes())
    assert found.data("vacuum-32")[1] == pytest.approx((1.5, 350), rel=0.01)
    half = voicelist("draw", "pressure", CARD, *GRADE, "--rise-s", "3", "-o", target)
    assert half.code == 2
    assert "belong together" in half.err


def test_the_limits_of_the_site_stand_in_for_what_nobody_measured(
    voicelist: Command, tmp_path: Path
) -> None:
    card = tmp_path / "cards" / "demo-surgeon.yaml"
    card.parent.mkdir()
    card.write_text(CARD.read_text(encoding="utf-8"), encoding="utf-8")
    own = "format: 1\nlanguage: en-US\nlimits: {known_rise_s: 8}\n"
    (tmp_path / "limits.yaml").write_text(own, encoding="utf-8")
    target = tmp_path / "pressure.svg"
    reached = []
    for path in (CARD, card):
        assert voicelist("draw", "pressure", path, *GRADE, "-o", target).code == 0
        reached.append(Drawn.of(target.read_bytes()).data("vacuum-32")[1][0])
    assert reached[1] == pytest.approx(2 * reached[0], rel=0.02)


@pytest.mark.parametrize(
    "given",
    [
        ("--rise-s", "3", "--rise-flow", "0"),
        ("--rise-s", "nan", "--rise-flow", "20"),
        ("--rise-s", "-1", "--rise-flow", "20"),
        ("--resistance", "-1"),
        ("--resistance", "inf"),
    ],
    ids=" ".join,
)
def test_numbers_that_nobody_can_measure_are_refused(
    voicelist: Command, tmp_path: Path, given: tuple[str, ...]
) -> None:
    card = tmp_path / "card.yaml"
    text = CARD.read_text(encoding="utf-8")
    vacuum = "        vacuum_mmHg: {value: 350"
    bottle = "        bottle_cm: {value: 90, control: fixed, tolerance: 5}\n"
    card.write_text(text.replace(vacuum, bottle + vacuum), encoding="utf-8")
    target = tmp_path / "pressure.svg"
    assert voicelist("draw", "pressure", card, *GRADE, "-o", target).code == 0
    target.unlink()
    answer = voicelist("draw", "pressure", card, *GRADE, *given, "-o", target)
    assert answer.code == 2
    assert len(answer.err.strip().splitlines()) == 1
    assert not target.exists()


def test_an_eye_may_be_seen_from_the_front(voicelist: Command, tmp_path: Path) -> None:
    seat, front = tmp_path / "seat.svg", tmp_path / "front.svg"
    voicelist("draw", "incision", PLAN, "-o", seat)
    voicelist("draw", "incision", PLAN, "--seen-from", "front", "-o", front)
    main = [Drawn.of(one.read_bytes()).points("main") for one in (seat, front)]
    assert main[0] != main[1]
    odd = voicelist("draw", "incision", PLAN, "--seen-from", "ceiling", "-o", seat)
    assert odd.code == 2
    assert "seat or front" in odd.err


@pytest.mark.parametrize(
    ("arguments", "code", "told"),
    [
        (("pedal", CARD, "--grade", "clinical 3", "-o", "picture.gif"), 2, ".svg or .png"),
        (("pedal", CARD, "--grade", "colour 3", "-o", "picture.svg"), 2, "clinical 3"),
        (("pedal", CARD, *GRADE, "--phase", "lunch", "-o", "picture.svg"), 2, "epinucleus"),
        (("pedal", BURSTS, *GRADE, "--phase", "cortex", "-o", "picture.svg"), 1, "phase cortex"),
        (("pulses", "nobody.yaml", *GRADE, "-o", "picture.svg"), 1, "no such file"),
        (("incision", CARD, "-o", "picture.svg"), 1, "demo-surgeon.yaml:"),
        (("timeline", "nobody", "-o", "picture.svg"), 1, "no case nobody"),
        (("pedal", CARD, *GRADE, "-o", "nowhere/picture.svg"), 2, "cannot be written"),
    ],
)
def test_what_cannot_be_drawn_is_told_and_leaves_no_file(
    voicelist: Command,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    arguments: tuple[object, ...],
    code: int,
    told: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    answer = voicelist("draw", *arguments)
    assert answer.code == code, answer.text
    assert told in answer.err
    assert not list(tmp_path.glob("**/picture.*"))


def test_a_plan_without_incisions_is_told_with_its_place(
    voicelist: Command, tmp_path: Path
) -> None:
    plan = tmp_path / "plan.yaml"
    lines = PLAN.read_text(encoding="utf-8").splitlines()
    kept = [line for line in lines if not line.startswith("incision")]
    plan.write_text("\n".join(kept) + "\n", encoding="utf-8")
    answer = voicelist("draw", "incision", plan, "-o", tmp_path / "picture.svg")
    assert answer.code == 1
    assert "plan.yaml:1:1: found a plan without incisions" in answer.err


def test_a_recorded_case_is_drawn_over_time(voicelist: Command, tmp_path: Path) -> None:
    run_case(voicelist)
    target = tmp_path / "case.svg"
    assert voicelist("draw", "timeline", "practice-007", "-o", target).code == 0
    found = Drawn.of(target.read_bytes())
    assert "Case practice-007 over time" in found.texts
    for text in ("irrigation line", "the marked eye", "mismatch read back", "seconds"):
        assert text in found.texts
    assert CAUTION in found.whole_text
    assert PRACTICE_BANNER not in found.whole_text
    lost = voicelist("draw", "timeline", "practice-007", "--practice", "-o", target)
    assert lost.code == 1


def test_a_report_shows_plan_and_card_in_pictures(voicelist: Command, tmp_path: Path) -> None:
    run_case(voicelist)
    page = tmp_path / "case.html"
    assert voicelist("record", "export", "practice-007", "-o", page).code == 0
    html = page.read_text(encoding="utf-8")
    assert html.count('<svg class="drawing"') == 1
    assert html.count('class="picture"') == 4
    assert ">As said, beside the card: the quadrant settings</title>" in html
    for text in ("Left eye: incisions", "What the pedal gives: quadrant", "Ultrasound over time"):
        assert f">{text}</title>" in html


@each
def test_without_matplotlib_drawing_is_one_sentence(
    voicelist: Command,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    arguments: tuple[object, ...],
) -> None:
    monkeypatch.setitem(sys.modules, "matplotlib", None)
    answer = voicelist("draw", *arguments, "-o", tmp_path / "picture.svg")
    assert answer.code == 3
    assert "need the package matplotlib" in answer.err
    assert len(answer.err.strip().splitlines()) == 1
    assert not (tmp_path / "picture.svg").exists()


def test_without_matplotlib_the_report_goes_without_pictures_and_says_so(
    voicelist: Command, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    run_case(voicelist)
    monkeypatch.setitem(sys.modules, "matplotlib", None)
    page = tmp_path / "case.html"
    assert voicelist("record", "export", "practice-007", "-o", page).code == 0
    html = page.read_text(encoding="utf-8")
    assert 'class="picture"' not in html
    assert "goes without its pictures of plan and card" in html
    assert html.count('<svg class="drawing"') == 1, "the timeline needs nothing else"


def test_a_place_where_matplotlib_cannot_keep_anything_is_no_matter(tmp_path: Path) -> None:
    nowhere = tmp_path / "file" / "below"
    nowhere.parent.write_text("", encoding="utf-8")
    target = tmp_path / "picture.svg"
    command = [sys.executable, "-m", "voicelist", "draw", "incision", str(PLAN), "-o", str(target)]
    told = subprocess.run(
        command,
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "MPLCONFIGDIR": str(nowhere)},
    )
    assert told.stdout.startswith("Written:")
    assert told.stderr == ""


def test_matplotlib_is_imported_only_to_draw() -> None:
    code = (
        "import sys, voicelist.cli, voicelist.demo\n"
        "from voicelist.figures import choosing, inline, timeline\n"
        "print('matplotlib' in sys.modules)"
    )
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert told.stdout.strip() == "False"
