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
    device_commands,
    document_commands,
    hearing_commands,
    keeping_commands,
    paper_commands,
    practice_commands,
    record_commands,
    review_commands,
)
from voicelist.errors import MissingPart, UsageError, VoicelistError, printable, told_of
from voicelist.microphone_options import (
    Check,
    Headset,
    MicNames,
    MicRoles,
    TwoChannels,
    microphones_of,
)
from voicelist.stopping import last_words

app = typer.Typer(
    name="voicelist",
    help=f"Offline, spoken, hands-free checklist assistant for a cataract theatre. {CAUTION}",
    no_args_is_help=True,
    context_settings={"help_option_names": ["-h", "--help"]},
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)
hearing_commands.register(app)
device_commands.register(app)
document_commands.register(app)
record_commands.register(app)
keeping_commands.register()
paper_commands.register(app)
practice_commands.register(app)
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
KeepAudio = Annotated[
    bool, typer.Option("--keep-audio", help="Keep the sound of utterances, encrypted.")
]
Speaker = Annotated[str | None, typer.Option("--speaker", help="The loudspeaker, by its name.")]
Plain = Annotated[
    bool,
    typer.Option(
        "--plain/--no-plain", help="One line an event and no colours: for logs, screen readers."
    ),
]
RoomDisplay = Annotated[
    bool,
    typer.Option("--display/--no-display", help="Show the case on a page for the wall."),
]
DisplayHost = Annotated[
    str | None,
    typer.Option(
        "--display-host", help="Let other computers read the page, with a token: a name or address."
    ),
]
DisplayPort = Annotated[
    int | None, typer.Option("--display-port", min=0, max=65535, help="0 takes any that is free.")
]
Discreet = Annotated[
    bool,
    typer.Option(
        "--discreet/--no-discreet", help="The page shows nothing that was heard or does not fit."
    ),
]
Quiet = Annotated[
    bool, typer.Option("--quiet/--no-quiet", help="After sign in, read-backs on the display alone.")
]
AsJson = Annotated[bool, typer.Option("--json", help="Print JSON.")]


def main() -> None:
    """Run the command line; every refusal is one sentence, never a traceback."""
    try:
        app(prog_name="voicelist", standalone_mode=True)
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
    context: typer.Context,
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="The version.")
    ] = False,
) -> None:
    """What the settings file says is the default of each option."""
    from voicelist.settings import defaults_for, read_settings

    del version
    context.default_map = defaults_for(context.command, read_settings())


def _real(pace: str) -> bool:
    if pace not in ("real", "fast"):
        raise UsageError(f"--pace is real or fast, not {pace}.")
    return pace == "real"


@app.command()
def demo(
    pace: Pace = "fast",
    voice: VoiceName = None,
    voice_out: VoiceOut = None,
    speaker: Speaker = None,
    plain: Plain = False,
    display: RoomDisplay = False,
    display_host: DisplayHost = None,
    display_port: DisplayPort = None,
    discreet: Discreet = False,
) -> None:
    """A whole practice case from synthetic sound, really heard, with record and report."""
    from voicelist.demo import run_demo
    from voicelist.running import How

    how = How(
        "practice",
        real_pace=_real(pace),
        voice=voice,
        voice_out=voice_out,
        speaker=speaker,
        plain=plain,
        display=_display(display, display_host, display_port, discreet),
    )
    sys.exit(run_demo(how, _console(plain)))


@app.command()
def run(
    context: typer.Context,
    plan: Annotated[Path, typer.Argument(help="The case plan, a YAML file.")],
    mic: MicNames = None,
    two_channels: TwoChannels = False,
    mic_roles: MicRoles = None,
    headset: Headset = False,
    sound_check: Check = False,
    audio: Annotated[
        Path | None, typer.Option(help="A recording instead, 1 or 2 channels.")
    ] = None,
    typed: Annotated[bool, typer.Option("--typed", help="Type instead of speaking.")] = False,
    pace: Pace = "real",
    voice: VoiceName = None,
    voice_out: VoiceOut = None,
    speaker: Speaker = None,
    store: StoreUrl = None,
    section: Annotated[str, typer.Option("--from", help="Start at this section.")] = "",
    quiet: Quiet = False,
    keep_audio: KeepAudio = False,
    plain: Plain = False,
    display: RoomDisplay = False,
    display_host: DisplayHost = None,
    display_port: DisplayPort = None,
    discreet: Discreet = False,
) -> None:
    """A case."""
    from voicelist.running import run_plan

    # `_how` reads them all from the context.
    del (
        mic,
        two_channels,
        mic_roles,
        headset,
        audio,
        typed,
        pace,
        voice,
        voice_out,
        speaker,
        store,
        quiet,
        keep_audio,
    )
    del display, display_host, display_port, discreet
    console = _console(plain)
    _ended(run_plan(plan, _how(context), console, section), console)


@app.command()
def resume(
    context: typer.Context,
    case: Annotated[str, typer.Argument(help="The case code.")],
    mic: MicNames = None,
    two_channels: TwoChannels = False,
    mic_roles: MicRoles = None,
    headset: Headset = False,
    sound_check: Check = False,
    audio: Annotated[Path | None, typer.Option(help="A recording instead.")] = None,
    typed: Annotated[bool, typer.Option("--typed", help="Type instead of speaking.")] = False,
    pace: Pace = "real",
    voice: VoiceName = None,
    voice_out: VoiceOut = None,
    speaker: Speaker = None,
    store: StoreUrl = None,
    keep_audio: KeepAudio = False,
    plain: Plain = False,
    display: RoomDisplay = False,
    display_host: DisplayHost = None,
    display_port: DisplayPort = None,
    discreet: Discreet = False,
) -> None:
    """Go on where the journal of a case ends."""
    from voicelist.running import resume_case

    # `_how` reads them all from the context.
    del (
        mic,
        two_channels,
        mic_roles,
        headset,
        audio,
        typed,
        pace,
        voice,
        voice_out,
        speaker,
        store,
        keep_audio,
    )
    del display, display_host, display_port, discreet
    console = _console(plain)
    _ended(resume_case(case, _how(context), console), console)


def _how(context: typer.Context) -> Any:
    """How a case is run, by the options of `run` and `resume`."""
    from voicelist.running import How

    chosen = context.params
    mic, typed = chosen["mic"], chosen["typed"]
    audio, voice_out = (
        Path(chosen[one]) if chosen[one] else None for one in ("audio", "voice_out")
    )
    if typed or audio is not None:
        # A microphone that the settings name is the usual one, and no second choice.
        source = context.get_parameter_source("mic")
        mic = mic if source is not None and source.name == "COMMANDLINE" else None
    if sum((bool(mic), audio is not None, typed)) > 1:
        raise UsageError("Choose one of --mic, --audio and --typed.")
    if typed and chosen["keep_audio"]:
        raise UsageError("Where lines are typed there is no sound to keep: leave out --keep-audio.")
    return How(
        "typed" if typed else "recording" if audio is not None else "live",
        audio,
        microphones_of(chosen, mic),
        _real(chosen["pace"]),
        chosen["voice"],
        voice_out,
        chosen["speaker"],
        chosen["store"],
        chosen.get("quiet", False),
        chosen["keep_audio"],
        chosen["plain"],
        _display(
            chosen["display"], chosen["display_host"], chosen["display_port"], chosen["discreet"]
        ),
    )


def _display(wanted: bool, host: str | None, port: int | None, discreet: bool) -> Any:
    from voicelist.shows import DisplayWanted

    return DisplayWanted(host, port, discreet) if wanted else None


def _console(plain: bool) -> Any:
    from rich.console import Console

    if plain:
        return Console(highlight=False, color_system=None, force_terminal=False)
    return Console(highlight=False)


def _ended(outcome: Any, console: Any) -> None:
    case = printable(outcome.case)
    rows = [
        "",
        f"Case {case}: {outcome.state.closed or 'open'}. Record: {outcome.where}",
        f"Head {outcome.head}",
        f"Tree head {outcome.tree_head}",
    ]
    if outcome.state.closed == "stopped":
        rows.append(f"Go on with: voicelist resume {case} (the same options, or --typed)")
    for row in (*rows, CAUTION):
        console.print(row, soft_wrap=not console.is_terminal, markup=False)


@app.command()
def check(
    paths: Annotated[list[Path], typer.Argument(help="Documents or folders.")],
) -> None:
    """Lint documents: structure, vocabulary, phrases, sound-alikes; exit 1 on any error."""
    from voicelist.asr.model import find_model
    from voicelist.asr.vocabulary import vocabulary
    from voicelist.progress import check_with_progress

    try:
        known = vocabulary(find_model().path)
        knows = known.__contains__
    except MissingPart as error:
        print(f"{error} Words are not checked against it.", file=sys.stderr)
        knows = None
    problems = check_with_progress(paths, knows)
    for line in told_of(problems):
        print(printable(line))
    notes = sum(problem.note for problem in problems)
    errors = len(problems) - notes
    beside = f" {notes} note(s)." if notes else ""
    print((f"{errors} problem(s)." if errors else "No problems.") + beside)
    sys.exit(1 if errors else 0)


@app.command()
def model() -> None:
    """Fetch the speech model, or verify the one that is here and what is made of it."""
    from voicelist.asr.verifier import verifier_words
    from voicelist.asr.wide_beam import verified_wide_model
    from voicelist.progress import fetch_with_progress

    place = fetch_with_progress()
    verified_wide_model(place)
    print(f"Speech model: {place.path}")
    print(f"Fingerprint {place.fingerprint}")
    if place.note:
        print(place.note)
    print(verifier_words())
