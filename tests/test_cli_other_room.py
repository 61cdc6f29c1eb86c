"""A case of another room on the command line: its own roles answer, and stand in its record."""

from __future__ import annotations

from pathlib import Path

from tests.command import Command, voicelist
from tests.session import endoscopy_room
from voicelist.record.attention import NOTHING

__all__ = ["voicelist"]

LINES = """\
endoscopy nurse: suction working
endoscopist: light source bright
leak test passed
case number forty one
doctor confirmed patient and procedure
endoscopy nurse confirmed patient and procedure
sedation: label says agent bravo
"""


def test_the_record_of_another_room_names_its_roles_and_no_eye(
    voicelist: Command, tmp_path: Path
) -> None:
    plan = endoscopy_room.write(tmp_path / "room")
    run = voicelist("run", plan, "--typed", "--voice", "none", typed=LINES)
    assert "Case room-41: completed" in run.out, run.text
    shown = " ".join(voicelist("record", "show", "room-41").out.split())
    assert '"suction working", endoscopy nurse (typed)' in shown
    assert '"light source bright", endoscopist (typed)' in shown
    assert "roles endoscopist (spoken), endoscopy-nurse (spoken)" in shown
    assert NOTHING in shown, "the one place where something else than an eye may be left"
    assert "left" not in shown.replace(NOTHING, "")
    assert "right eye" not in shown
    late = ("record", "amend", "room-41", "label is on paper", "--reason", "found")
    refused = voicelist(*late, "--role", "surgeon")
    assert refused.code == 2
    assert "choose one of endoscopist, endoscopy-nurse, sedation" in refused.err
    assert "label is on paper" not in voicelist("record", "show", "room-41").out
    assert voicelist(*late, "--role", "endoscopist").code == 0
    assert "label is on paper" in voicelist("record", "show", "room-41").out
    assert voicelist("record", "verify", "room-41").code == 0
