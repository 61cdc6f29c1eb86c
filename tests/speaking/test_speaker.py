"""The mouth: it speaks, and whatever fails it comes back with a sentence and the case goes on."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import soundfile

from tests.speaking import fake_voices
from voicelist.errors import UsageError
from voicelist.speaking.speaker import SENTENCE_GAP_S, SpeechOutput
from voicelist.speaking.tone import soft_tone
from voicelist.speaking.voice_file import GAP_S
from voicelist.speaking.voices import VoiceChoice

WORD_S = fake_voices.SECONDS_A_WORD


def mouth_with(
    voice: VoiceChoice | str | None = None, out: Path | None = None, deadline_s: float = 5.0
) -> SpeechOutput:
    chosen = fake_voices.choice("steady") if voice is None else voice
    return SpeechOutput(chosen, play=False, out=out, render_deadline_s=deadline_s)


def wait_until(true: Callable[[], bool], within_s: float = 20.0) -> None:
    end_s = time.monotonic() + within_s
    while not true():
        assert time.monotonic() < end_s, "it never came true"
        time.sleep(0.01)


def heard_in(path: Path) -> list[tuple[float, float]]:
    """Start and length in seconds of each sound in the file, parted by 0.2 s of silence."""
    samples, rate = soundfile.read(path, dtype="int16")
    loud = np.flatnonzero(samples)
    parts = np.split(loud, np.flatnonzero(np.diff(loud) > 0.2 * rate) + 1)
    return [(part[0] / rate, (part[-1] + 1 - part[0]) / rate) for part in parts]


def test_without_playing_it_tells_how_long_speaking_would_take() -> None:
    with mouth_with() as mouth:
        spoken = mouth.say("three plain words")
        assert (spoken.text, spoken.played, spoken.problem) == ("three plain words", False, None)
        assert spoken.seconds == pytest.approx(3 * WORD_S, abs=0.02)
        mouth.say("two words")
        assert mouth.seconds_spoken == pytest.approx(5 * WORD_S, abs=0.04)
        assert mouth.voice_name == "fake steady"
        assert mouth.notes == ()


def test_long_text_is_said_sentence_by_sentence_with_gaps(tmp_path: Path) -> None:
    out = tmp_path / "voice.wav"
    with mouth_with(out=out) as mouth:
        spoken = mouth.say("One two. Three four five.")
        assert spoken.seconds == pytest.approx(5 * WORD_S + SENTENCE_GAP_S, abs=0.03)
    assert heard_in(out) == [
        pytest.approx((0.0, 2 * WORD_S), abs=0.02),
        pytest.approx((2 * WORD_S + SENTENCE_GAP_S, 3 * WORD_S), abs=0.02),
    ]


@pytest.mark.parametrize("suffix", [".wav", ".flac"])
def test_the_file_holds_all_that_was_said_with_gaps(tmp_path: Path, suffix: str) -> None:
    out = tmp_path / f"voice{suffix}"
    with mouth_with(out=out) as mouth:
        spoken = [mouth.say(text) for text in ("one", "one two three", "one two")]
    expected, at = [], 0.0
    for one in spoken:
        expected.append(pytest.approx((at, one.seconds), abs=0.02))
        at += one.seconds + GAP_S
    assert heard_in(out) == expected
    assert soundfile.info(out).duration == pytest.approx(at, abs=0.001)


def test_written_text_is_spelled_for_speaking(tmp_path: Path) -> None:
    log = tmp_path / "texts"
    voice = fake_voices.choice("logging_texts", str(log))
    with SpeechOutput(
        voice, play=False, out=None, spell=lambda text: text.replace("3", "three")
    ) as mouth:
        spoken = mouth.say("grade 3")
    assert spoken.text == "grade 3"
    assert log.read_text() == "grade three\n"


def test_prepared_sentences_are_rendered_once_and_in_the_background(tmp_path: Path) -> None:
    log = tmp_path / "texts"
    with mouth_with(fake_voices.choice("logging_texts", str(log))) as mouth:
        mouth.prepare(["one line. two lines.", "three", "one line."])
        wait_until(lambda: mouth.preparing == 0)
        assert log.read_text().splitlines() == ["one line.", "two lines.", "three"]
        assert mouth.say("one line. two lines.").seconds > 0.0
        assert mouth.say("three").seconds > 0.0
    assert len(log.read_text().splitlines()) == 3


@pytest.mark.parametrize("text", ["", "  ", "...", "a" * 501, "bell\a"])
def test_text_that_cannot_be_spoken_is_refused(tmp_path: Path, text: str) -> None:
    log = tmp_path / "texts"
    with mouth_with(fake_voices.choice("logging_texts", str(log))) as mouth:
        with pytest.raises(ValueError, match=r"nothing to speak|too many|control"):
            mouth.say(text)
        assert mouth.say("fine").problem is None
        assert mouth.seconds_spoken == pytest.approx(WORD_S, abs=0.02)
    assert log.read_text() == "fine\n"


def test_a_voice_that_hangs_is_ended_at_the_deadline_and_started_again(tmp_path: Path) -> None:
    out = tmp_path / "voice.wav"
    with mouth_with(out=out, deadline_s=0.7) as mouth:
        mouth.say("one")
        hung = mouth.child_pids["voice"]
        spoken = mouth.say("please hang")
        assert (spoken.seconds, spoken.played) == (0.0, False)
        assert spoken.problem == (
            "The voice did not answer in 0.7 s and is started again; read it here."
        )
        assert mouth.say("one two").problem is None
        assert mouth.child_pids["voice"] != hung
        assert not Path(f"/proc/{hung}").exists()
    assert [length for _, length in heard_in(out)] == pytest.approx([WORD_S, 2 * WORD_S], abs=0.02)


def test_a_voice_that_crashes_is_started_again(tmp_path: Path) -> None:
    with mouth_with() as mouth:
        spoken = mouth.say("please crash")
        assert spoken.seconds == 0.0
        assert "was lost" in (spoken.problem or "")
        assert mouth.say("one two").problem is None


def test_a_voice_that_fails_three_times_in_a_row_is_given_up_and_says_so_once() -> None:
    with mouth_with() as mouth:
        problems = [mouth.say("please crash").problem for _ in range(4)]
        assert all(problems[:3])
        assert problems[3] is None
        assert mouth.notes == (
            "The voice steady failed 3 times in a row; everything is shown as text.",
        )
        assert mouth.say("one two").seconds == 0.0
        assert mouth.child_pids == {}


def test_failures_with_successes_between_do_not_add_up() -> None:
    with mouth_with() as mouth:
        for word in ("one", "two", "three", "four"):
            mouth.say(f"{word} crash")
            assert mouth.say(word).problem is None
        assert mouth.notes == ()


@pytest.mark.parametrize(
    ("text", "why"), [("please raise", "hoarse"), ("nothing", "it made no sound")]
)
def test_a_text_that_a_voice_cannot_say_is_a_problem_of_that_text_alone(
    text: str, why: str
) -> None:
    with mouth_with() as mouth:
        mouth.say("one")
        pid = mouth.child_pids["voice"]
        assert why in (mouth.say(text).problem or "")
        assert mouth.say("two").problem is None
        assert mouth.child_pids["voice"] == pid


@pytest.mark.parametrize("voice", ["refusing", "stillborn"])
def test_a_voice_that_does_not_start_leaves_text_and_a_note(voice: str) -> None:
    with mouth_with(fake_voices.choice(voice)) as mouth:
        mouth.say("one two")
        spoken = mouth.say("one two")
        assert (spoken.seconds, spoken.played, spoken.problem) == (0.0, False, None)
        assert len(mouth.notes) == 1
        assert mouth.notes[0].endswith("everything is shown as text.")


def test_no_voice_is_a_choice_and_needs_no_note(tmp_path: Path) -> None:
    with mouth_with("none") as mouth:
        assert mouth.say("one two").problem is None
        assert (mouth.notes, mouth.child_pids, mouth.voice_name) == ((), {}, None)


def test_a_killed_voice_comes_back_and_the_file_stays_whole(tmp_path: Path) -> None:
    out = tmp_path / "voice.flac"
    with mouth_with(out=out) as mouth:
        mouth.say("one")
        os.kill(mouth.child_pids["voice"], signal.SIGKILL)
        assert heard_in(out) == [pytest.approx((0.0, WORD_S), abs=0.02)]
        wait_until(lambda: mouth.say("one two").seconds > 0.0)
    assert [length for _, length in heard_in(out)] == pytest.approx([WORD_S, 2 * WORD_S], abs=0.02)


_KILLED = """
import os, sys
from pathlib import Path
from voicelist.speaking.speaker import SpeechOutput
from voicelist.speaking.voices import VoiceChoice
if __name__ == "__main__":
    voice = VoiceChoice("steady", "tests.speaking.fake_voices:steady")
    mouth = SpeechOutput(voice, play=False, out=Path(sys.argv[1]))
    mouth.say("one two three")
    print(mouth.child_pids["voice"], flush=True)
    os.kill(os.getpid(), 9)
"""


@pytest.mark.parametrize("suffix", [".wav", ".flac"])
def test_a_killed_program_leaves_its_file_and_no_voice_running(tmp_path: Path, suffix: str) -> None:
    out = tmp_path / f"voice{suffix}"
    script = tmp_path / "killed.py"
    script.write_text(_KILLED)
    environment = os.environ | {"PYTHONPATH": os.pathsep.join(filter(None, sys.path))}
    ended = subprocess.run(
        [sys.executable, str(script), str(out)], capture_output=True, env=environment, check=False
    )
    assert ended.returncode == -signal.SIGKILL
    assert heard_in(out) == [pytest.approx((0.0, 3 * WORD_S), abs=0.02)]
    wait_until(lambda: not _runs(int(ended.stdout)), within_s=5.0)


def _runs(pid: int) -> bool:
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


def test_an_interruption_is_obeyed_while_the_voice_still_renders() -> None:
    asked: list[float] = []
    hold = threading.Event()

    def interrupted() -> bool:
        asked.append(time.monotonic())
        return hold.is_set()

    with mouth_with(deadline_s=30.0) as mouth:
        mouth.say("one")
        threading.Timer(0.5, hold.set).start()
        spoken = mouth.say("please hang", interrupted)
        assert (spoken.seconds, spoken.played, spoken.problem) == (0.0, False, None)
    assert len(asked) >= 5


def test_the_tone_is_written_once_and_never_less_than_a_second_after_the_last(
    tmp_path: Path,
) -> None:
    out = tmp_path / "voice.wav"
    with mouth_with(out=out) as mouth:
        for _ in range(3):
            assert mouth.tone().seconds == soft_tone().seconds
        assert mouth.seconds_spoken == 0.0
    starts = [start for start, _ in heard_in(out)]
    assert np.diff(starts) == pytest.approx([1.0, 1.0], abs=0.005)


@pytest.mark.parametrize("rate", [0.0, 0.4, 2.5, -1.0])
def test_a_pace_out_of_range_is_refused_and_no_file_is_made(tmp_path: Path, rate: float) -> None:
    with pytest.raises(UsageError, match=r"give 0\.5 to 2"):
        SpeechOutput("hibari", play=False, out=tmp_path / "voice.wav", rate=rate)
    assert list(tmp_path.iterdir()) == []


def test_an_unknown_voice_is_refused_and_no_file_is_made(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="There is no voice alto"):
        SpeechOutput("alto", play=False, out=tmp_path / "voice.wav")
    assert list(tmp_path.iterdir()) == []


def test_the_usual_voice_speaks_without_being_named() -> None:
    with SpeechOutput(play=False, out=None) as mouth:
        assert mouth.say("Firm or loose: the irrigation line?").seconds > 1.0
        assert mouth.voice_name == "hibari heart"
        assert mouth.notes == ()


def test_where_hibari_does_not_start_the_system_speaks_and_it_is_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from voicelist.speaking.voices import system_voice_ids

    if not system_voice_ids():
        pytest.skip("no system voice is installed here (on Debian: espeak-ng)")
    (tmp_path / "hibari.py").write_text("raise ImportError('a broken installation')\n")
    monkeypatch.syspath_prepend(tmp_path)
    with SpeechOutput(play=False, out=None) as mouth:
        assert mouth.say("one two").seconds > 0.3
        (note,) = mouth.notes
    assert note.startswith("The voice hibari does not start; the system's voice ")
