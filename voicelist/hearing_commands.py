"""The commands that try what would be understood. Wiring only, as in `cli`."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Annotated

import typer

from voicelist import CAUTION
from voicelist.errors import UsageError, VoicelistError, printable

AsJson = Annotated[bool, typer.Option("--json", help="Print JSON.")]
LinesFile = Annotated[
    Path | None,
    typer.Option("--lines", help="A table of typed lines, item and text, instead of the rest."),
]


def register(app: typer.Typer) -> None:
    """Adds the commands of this module to the program."""
    app.command("hear")(hear)
    app.command("assess")(assess)


def hear(
    grammar: Annotated[Path, typer.Argument(help="An ABNF file or a checklist.")],
    audio: Annotated[
        list[Path] | None, typer.Argument(help="Sound files, one utterance each.")
    ] = None,
    as_json: AsJson = False,
    item: Annotated[str | None, typer.Option(help="Only this item's answers.")] = None,
    stream: Annotated[
        bool, typer.Option("--stream", help="Find the utterances in each file.")
    ] = False,
    channel: Annotated[int, typer.Option(min=0, max=2, help="Of a two-channel file.")] = 0,
    expect: Annotated[
        Path | None, typer.Option(help="A table of what was said: file, text, speaker.")
    ] = None,
    by_phrase: Annotated[bool, typer.Option("--by-phrase", help="Hit rates by phrase.")] = False,
    lines: LinesFile = None,
) -> None:
    """What would be understood: one line or JSON object a file, or a typed line of a table."""
    if lines is not None:
        if audio:
            raise UsageError("Give sound files or --lines, not both.")
        _hear_lines(grammar, lines, as_json=as_json)
        return
    if not audio:
        raise UsageError("Name at least one sound file, or a table of typed lines with --lines.")
    from voicelist import hear as hearing
    from voicelist import hit_rates

    said = hit_rates.read_table(expect) if expect is not None else {}
    if by_phrase and not said:
        raise UsageError("--by-phrase needs --expect with the table of what was said.")
    listening = hearing.prepare(grammar, item)
    every: list[hearing.HeardUtterance] = []
    failed = False
    for heard in hearing.hear_files(listening, audio, stream=stream, channel=channel):
        if isinstance(heard, VoicelistError):
            failed = True
            typer.echo(str(heard), err=True)
        else:
            every.append(heard)
            typer.echo(json.dumps(heard.as_json()) if as_json else heard.as_line())
    if by_phrase:
        rates = hit_rates.hit_rates(every, said, listening.context)
        for sentence in hit_rates.left_out(every, said):
            typer.echo(sentence, err=True)
        if as_json:
            typer.echo(json.dumps({"by_phrase": [one.as_json() for one in rates]}))
        else:
            typer.echo("\n".join(hit_rates.rows_of(rates)))
    sys.exit(1 if failed else 0)


def _hear_lines(checklist: Path, lines: Path, *, as_json: bool) -> None:
    from voicelist.lines import heard_lines, line_told

    for told in heard_lines(checklist, lines):
        typer.echo(json.dumps(told) if as_json else printable(line_told(told)))


def assess(
    words: Annotated[list[str] | None, typer.Argument(help="The settings, as spoken.")] = None,
    *,
    card: Annotated[Path, typer.Option(help="The preference card.")],
    grade: Annotated[str, typer.Option(help='Scale and value, such as "clinical 3".')] = "",
    phase: Annotated[str, typer.Option(help="The phase.")] = "quadrant",
    as_json: AsJson = False,
    lines: LinesFile = None,
) -> None:
    """What would be read back for these spoken settings, without a session."""
    from voicelist.assessing import assess_words, for_programs, setting_words

    if lines is not None:
        _assess_lines(card, lines, as_json=as_json)
        return
    if not words:
        raise UsageError("Say the settings, or name a table of typed lines with --lines.")
    if not grade:
        raise UsageError('Name the grade: --grade is a scale and a value, such as "clinical 3".')
    told = assess_words(" ".join(words), card, grade, phase)
    if as_json:
        typer.echo(json.dumps(for_programs(told)))
        sys.exit(0 if told["understood"] else 1)
    for quantity, one in told["understood"].items():
        typer.echo(f"heard  {quantity} {setting_words(one)}")
    for finding in told["findings"]:
        typer.echo(f"{finding['severity']:5}  {finding['sentence']}")
        typer.echo(f"       {finding['remedy']} ({finding['source']})")
    if not told["understood"]:
        typer.echo("Not understood as settings.")
    elif not told["findings"]:
        typer.echo("Nothing to read back.")
    typer.echo(CAUTION)
    sys.exit(0 if told["understood"] else 1)


def _assess_lines(card: Path, lines: Path, *, as_json: bool) -> None:
    from voicelist.lines import assessed_lines, line_told

    every = assessed_lines(card, lines)
    for told in every:
        typer.echo(json.dumps(told) if as_json else printable(line_told(told)))
    sys.exit(0 if any(told["values"] for told in every) else 1)
