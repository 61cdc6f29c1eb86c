"""The settings file in the config folder: defaults of options, and one sentence for a slip."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.command import PLAN, Command, voicelist
from voicelist.errors import UsageError
from voicelist.settings import KEYS, read_settings

__all__ = ["voicelist"]


@pytest.fixture
def settings(tmp_path: Path) -> Path:
    """Where the command of the fixture `voicelist` looks for them."""
    file = tmp_path / "config" / "voicelist" / "settings.yaml"
    file.parent.mkdir(parents=True)
    return file


def test_a_setting_is_the_default_and_the_command_line_goes_before_it(
    voicelist: Command, settings: Path
) -> None:
    settings.write_text("voice: none\nplain: true\nmic: Headset\ntheatre: two\n")
    plain = voicelist("run", PLAN, "--typed", typed="")
    assert plain.code == 0, plain.text
    assert "voicelist: Firm or loose: the irrigation line?" in plain.out
    fancy = voicelist("resume", "practice-007", "--typed", "--no-plain", typed="")
    assert "  voicelist  Firm or loose: the irrigation line?" in fancy.out


def test_a_microphone_of_the_settings_is_no_second_choice_but_one_of_the_command_is(
    voicelist: Command, settings: Path
) -> None:
    settings.write_text("voice: none\nmic: Headset\n")
    assert voicelist("run", PLAN, "--typed", typed="").code == 0
    twice = voicelist("run", PLAN, "--typed", "--mic", "Headset", typed="")
    assert twice.code == 2
    assert "Choose one" in twice.err


def test_a_store_of_the_settings_is_that_of_every_command(
    voicelist: Command, settings: Path, tmp_path: Path
) -> None:
    store = f"sqlite:///{tmp_path / 'other.sqlite3'}"
    settings.write_text(f"voice: none\nstore: {store}\n")
    voicelist("run", PLAN, "--typed", typed="")
    assert (tmp_path / "other.sqlite3").exists()
    assert "practice-007" in voicelist("record", "list").out
    settings.unlink()
    assert "practice-007" not in voicelist("record", "list").out
    assert "practice-007" in voicelist("record", "list", "--store", store).out


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("microphon: x\n", ":1: there is no setting microphon"),
        ("\nvoise: none\n", "Did you mean voice?"),
        ("voice: none\nvoice: none\n", ":2: voice is set twice"),
        ("quiet: maybe\n", ":1: quiet has to be true or false"),
        ("quiet: yes\n", ":1: quiet has to be true or false"),
        ("display-port: many\n", "a whole number"),
        ("voice: [none]\n", ":1: voice has to be text"),
        ("- voice\n", ":1: expected one"),
        ("voice: 'none\n", "this is not YAML"),
    ],
)
def test_a_slip_is_one_sentence_with_its_line_and_nothing_is_begun(
    voicelist: Command, settings: Path, tmp_path: Path, text: str, told: str
) -> None:
    settings.write_text(text)
    answer = voicelist("run", PLAN, "--typed", typed="irrigation line firm\n")
    assert answer.code == 2
    assert told in answer.err
    assert str(settings) in answer.err
    assert not list((tmp_path / "data").rglob("*.sqlite3"))


def test_names_are_text_however_they_look(settings: Path) -> None:
    settings.write_text("mic: 2\ntheatre: 0010\nspeaker: on\n")
    assert read_settings(settings) == {"mic": ["2"], "theatre": "0010", "speaker": "on"}


def test_without_a_file_or_with_an_empty_one_nothing_is_set(settings: Path) -> None:
    assert read_settings(settings) == {}
    settings.write_text("# nothing yet\n")
    assert read_settings(settings) == {}


def test_only_an_ordinary_file_is_read(settings: Path) -> None:
    settings.mkdir()
    with pytest.raises(UsageError, match="folder"):
        read_settings(settings)


def test_every_setting_but_those_of_other_parts_is_an_option(voicelist: Command) -> None:
    told = voicelist("run", "-h").out
    assert "Usage" in told
    for key in set(KEYS) - {"theatre", "server"}:
        assert f"--{key}" in told
    assert voicelist("record", "list", "-h").code == 0


def test_the_shell_is_told_how_to_complete(
    voicelist: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("_VOICELIST_COMPLETE", "complete_bash")
    monkeypatch.setenv("COMP_WORDS", "voicelist re")
    monkeypatch.setenv("COMP_CWORD", "1")
    assert sorted(voicelist().out.split()) == ["record", "rehearse", "resume", "review"]
    monkeypatch.setenv("COMP_WORDS", "voicelist run --dis")
    monkeypatch.setenv("COMP_CWORD", "2")
    assert {"--display", "--discreet"} <= set(voicelist().out.split())


def test_two_microphones_are_a_list(settings: Path) -> None:
    settings.write_text("mic: [Nurse, 2]\nmic-roles: scrub-nurse,surgeon\nheadset: true\n")
    told = {"mic": ["Nurse", "2"], "mic-roles": "scrub-nurse,surgeon", "headset": True}
    assert read_settings(settings) == told


def test_a_case_takes_two_microphones_at_most_and_roles_that_the_list_has(
    voicelist: Command, settings: Path
) -> None:
    settings.write_text("voice: none\n")
    many = voicelist("run", PLAN, "--mic", "a", "--mic", "b", "--mic", "c")
    assert (many.code, "once or twice" in many.err) == (2, True)
    both = voicelist("run", PLAN, "--mic", "a", "--mic", "b", "--two-channels")
    assert (both.code, "leave out --two-channels" in both.err) == (2, True)
    one = voicelist("run", PLAN, "--mic-roles", "surgeon")
    assert (one.code, "Name two roles" in one.err) == (2, True)
