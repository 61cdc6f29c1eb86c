"""The commands. Wiring only: each hands over to the part that does the work.

Heavy parts are imported inside the commands, so that `--help`, `record` and the child processes
start at once.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import Annotated, Any

import typer

from voicelist import (
    CAUTION,
    __version__,
    department_commands,
    document_commands,
    hearing_commands,
    record_commands,
    review_commands,
)
from voicelist.errors import MissingPart, UsageError, VoicelistError, printable, told_of
from voicelist.stopping import last_words

app = typer.Typer(
    name="voicelist",
    help=f"Offline, spoken, hands-free checklist assistant for a cataract theatre. {CAUTION}",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)
hearing_commands.register(app)
document_commands.register(app)
record_commands.register(app)
review_commands.register(app)
department_commands.register(app)

Pace = Annotated[str, typer.Option(help="real or fast: whether sound takes its time.")]
StoreUrl = Annotated[
    str | None, typer.Option("--store", help="Another record store, as an SQLAlchemy address.")
]
VoiceName = Annotated[
    str | None, typer.Option("--voice", help="hibari, system, system:ID or none.")
]
VoiceOut = Annotated[
    Path | None, typer.Option("--voice-out", help="Write all that is said as one sound file.")
]
AsJson = Annotated[bool, typer.Option("--json", help="Print JSON.")]


def main() -> None:
    """Run the command line; every refusal is one sentence, never a traceback."""
    try:
        app(standalone_mode=True)
    except VoicelistError as error:
        last_words(printable(str(error)))
        sys.exit(error.exit_code)
    except KeyboardInterrupt:
        last_words("Stopped.")
        sys.exit(130)
    except Exception as error:
        if os.environ.get("VOICELIST_DEBUG"):
            raise
        last_words(
            f"voicelist met something it did not expect ({type(error).__name__}: {error}). "
            "The record so far is kept; run again with VOICELIST_DEBUG=1 to see where."
        )
        sys.exit(1)


def _version(wanted: bool) -> None:
    if wanted:
        print(f"voicelist {__version__}")
        raise typer.Exit


@app.callback()
def _root(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="The version.")
    ] = False,
) -> None:
    del version


def _real(pace: str) -> bool:
    if pace not in ("real", "fast"):
        raise UsageError(f"--pace is real or fast, not {pace}.")
    return pace == "real"


@app.command()
def demo(pace: Pace = "fast", voice: VoiceName = None, voice_out: VoiceOut = None) -> None:
    """A whole practice case from synthetic sound, really heard, with record and report."""
    from voicelist.demo import run_demo

    sys.exit(run_demo(real_pace=_real(pace), voice=voice, voice_out=voice_out))


@app.command()
def run(
    plan: Annotated[Path, typer.Argument(help="The case plan, a YAML file.")],
    mic: Annotated[str | None, typer.Option(help="The microphone, by its name.")] = None,
    audio: Annotated[
        Path | None, typer.Option(help="A recording instead, 1 or 2 channels.")
    ] = None,
    typed: Annotated[bool, typer.Option("--typed", help="Type instead of speaking.")] = False,
    pace: Pace = "real",
    voice: VoiceName = None,
    voice_out: VoiceOut = None,
    store: StoreUrl = None,
    section: Annotated[str, typer.Option("--from", help="Start at this section.")] = "",
    quiet: Annotated[
        bool, typer.Option("--quiet", help="After sign in, read-backs on the display alone.")
    ] = False,
) -> None:
    """A case."""
    from voicelist.running import run_plan

    how = _how(mic, audio, typed, pace, voice, voice_out, store, quiet)
    _ended(run_plan(plan, how, _console(), section))


@app.command()
def resume(
    case: Annotated[str, typer.Argument(help="The case code.")],
    mic: Annotated[str | None, typer.Option(help="The microphone, by its name.")] = None,
    audio: Annotated[Path | None, typer.Option(help="A recording instead.")] = None,
    typed: Annotated[bool, typer.Option("--typed", help="Type instead of speaking.")] = False,
    pace: Pace = "real",
    voice: VoiceName = None,
    voice_out: VoiceOut = None,
    store: StoreUrl = None,
) -> None:
    """Go on where the journal of a case ends."""
    from voicelist.running import resume_case

    _ended(resume_case(case, _how(mic, audio, typed, pace, voice, voice_out, store), _console()))


def _how(
    mic: str | None,
    audio: Path | None,
    typed: bool,
    pace: str,
    voice: str | None,
    voice_out: Path | None,
    store: str | None,
    quiet: bool = False,
) -> Any:
    from voicelist.running import How

    if sum((mic is not None, audio is not None, typed)) > 1:
        raise UsageError("Choose one of --mic, --audio and --typed.")
    source = "typed" if typed else "recording" if audio is not None else "live"
    return How(source, audio, mic, _real(pace), voice, voice_out, store, quiet)


def _console() -> Any:
    from rich.console import Console

    return Console(highlight=False)


def _ended(outcome: Any) -> None:
    print()
    case = printable(outcome.case)
    print(f"Case {case}: {outcome.state.closed or 'open'}. Record: {outcome.where}")
    print(f"Head {outcome.head}")
    if outcome.state.closed == "stopped":
        print(f"Go on with: voicelist resume {case} (the same options, or --typed)")
    print(CAUTION)


@app.command()
def check(
    paths: Annotated[list[Path], typer.Argument(help="Documents or folders.")],
) -> None:
    """Lint documents: structure, vocabulary, phrases, sound-alikes; exit 1 on any error."""
    from voicelist.hearing.model import find_model
    from voicelist.hearing.vocabulary import vocabulary
    from voicelist.session.lint import lint_paths

    try:
        known = vocabulary(find_model().path)
        knows = known.__contains__
    except MissingPart as error:
        print(f"{error} Words are not checked against it.", file=sys.stderr)
        knows = None
    problems = lint_paths(paths, knows)
    for line in told_of(problems):
        print(line)
    notes = sum(problem.note for problem in problems)
    errors = len(problems) - notes
    beside = f" {notes} note(s)." if notes else ""
    print((f"{errors} problem(s)." if errors else "No problems.") + beside)
    sys.exit(1 if errors else 0)


@app.command()
def model() -> None:
    """Fetch the speech model, or verify the one that is here and what is made of it."""
    from voicelist.hearing.wide import verified_wide_model
    from voicelist.hearing.witness import witness_words
    from voicelist.progress import fetch_with_progress

    place = fetch_with_progress()
    verified_wide_model(place)
    print(f"Speech model: {place.path}")
    print(f"Fingerprint {place.fingerprint}")
    if place.note:
        print(place.note)
    print(witness_words())


@app.command()
def devices(
    speech_index: Annotated[
        float | None,
        typer.Option(
            min=0, max=1, help="Speech transmission index of the room, if somebody measured it."
        ),
    ] = None,
) -> None:
    """List microphones, loudspeakers and voices."""
    from voicelist.clinical.room import NEAR_IS_LOUD, room_words
    from voicelist.devices import list_devices
    from voicelist.speaking.voices import list_voices

    found, problem = list_devices()
    for device in found:
        mark = "  (default)" if device.default else ""
        print(f"{device.kind:6}  {device.channels} channel(s)  {device.name}{mark}")
    for voice in list_voices():
        if not voice.name.startswith("system:") or "/en" in voice.name:
            print(f"voice   {voice.name}: {voice.about}")
    print(NEAR_IS_LOUD if speech_index is None else room_words(speech_index))
    if problem:
        print(problem, file=sys.stderr)
        sys.exit(MissingPart.exit_code)
