"""Make the sound files of this folder again: `python audio_fixtures_synthetic/make.py --help`.

What is said, by whom and under which noise is planned here and written to `manifest.tsv`; the same
plan comes out each time. With the same versions of the speech programs the files come out the same.
`sound.py` defines level and signal-to-noise ratio.
"""

from __future__ import annotations

import argparse
import itertools
import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from fnmatch import fnmatch
from pathlib import Path
from typing import Any

import yaml
from answers import answers
from asked import context_for
from clips import CLEAN, FOLDER, MANIFEST, NONE, THEATRE, Clip, Text, seed_of, write_manifest
from edge_misses import edge_misses
from meanings import meaning_of
from near_misses import ADDED, WHOLLY_ADDED, near_misses
from sound import clip_of, write_flac
from voices import VOICES, EngineMissingError, say

from voicelist.documents.bundle import Bundle, load_bundle
from voicelist.grammar.ruleset import RuleSet
from voicelist.listening.practice import clip_name
from voicelist.places import shipped
from voicelist.session.case import Case, compile_case

PLAN = "practice-007"
SETS = ("demo", "answers", "near-misses")
SNR_dB = 15
# Seven voices of four engines take turns.
MEASURED_VOICES = ("heart", "slt", "joe", "en-us", "rms", "en-gb-x-rp", "awb")
_MISSING = 3


def main(arguments: Sequence[str] | None = None) -> int:
    """The command. Exit code 3 where an engine is missing: the others' files are made."""
    asked = _parser().parse_args(arguments)
    bundle = example_bundle()
    clips = planned(bundle)
    if asked.into == FOLDER:
        write_manifest(clips, MANIFEST)
        _remove_unplanned(clips)
    chosen = [
        clip
        for clip in clips
        if asked.what in ("all", clip.folder) and fnmatch(clip.file, asked.only)
    ]
    missing = _make(chosen, bundle, asked.into)
    for sentence, count in missing.items():
        print(f"{sentence} Not made: {count} of {len(chosen)} files.", file=sys.stderr)
    print(f"Made {len(chosen) - missing.total()} of {len(chosen)} files in {asked.into}.")
    return _MISSING if missing else 0


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="make.py",
        description="Make the synthetic sound of tests and of the practice case again, with its "
        "manifest. Needs the programs hibari, piper, espeak-ng and flite; without one of them the "
        "files of the others are made.",
    )
    parser.add_argument("what", nargs="?", default="all", choices=(*SETS, "all"))
    parser.add_argument("--only", metavar="PATTERN", default="*", help="such as 'demo/0*'")
    parser.add_argument(
        "--into",
        metavar="FOLDER",
        type=Path,
        default=FOLDER,
        help="another folder for the sound; the manifest then stays as it is",
    )
    return parser


def example_bundle() -> Bundle:
    """The documents that everything spoken here belongs to."""
    return load_bundle(shipped("grammars") / "plans" / f"{PLAN}.yaml")


def planned(bundle: Bundle) -> list[Clip]:
    """Every clip, in the manifest's order."""
    rules = RuleSet.from_texts(bundle.rules.items())
    return [
        *_demo(FOLDER / "demo" / "script.yaml", compile_case(bundle)),
        *_answers(answers(bundle.checklist, rules)),
        *_near_misses(no_answers(bundle)),
    ]


def spoken_anew(bundle: Bundle, turn: int) -> list[Clip]:
    """The same answers and near misses by voices `turn` further on; where that is odd, what was
    clean is noisy. These have no files here."""
    rules = RuleSet.from_texts(bundle.rules.items())
    return [
        *_answers(answers(bundle.checklist, rules), turn),
        *_near_misses(no_answers(bundle), turn),
    ]


def no_answers(bundle: Bundle) -> list[Text]:
    """Every near miss, in an order in which later ones only add."""
    return [
        *near_misses(bundle.checklist, bundle.plan),
        *edge_misses(bundle),
        *(text for one in ADDED for text in _added(bundle, one)),
    ]


def _added(bundle: Bundle, item: str) -> list[Text]:
    """Those of a stop item that came later; of each family of the last one every other, for the
    folder stays small."""
    texts = [
        *near_misses(bundle.checklist, bundle.plan, added=item),
        *edge_misses(bundle, added=item),
    ]
    if item not in WHOLLY_ADDED:
        return texts
    families = [text.family for text in texts]
    return [one for at, one in enumerate(texts) if families[:at].count(one.family) % 2 == 0]


def _demo(script: Path, case: Case) -> Iterator[Clip]:
    """The script's lines, clean; the file's name is the line's number and cue. Expected is what the
    words amount to when they are typed."""
    data: dict[str, Any] = yaml.safe_load(script.read_text(encoding="utf-8"))
    for number, line in enumerate(data["lines"], start=1):
        voice = data["speakers"][line["speaker"]]["voice"]
        readings = context_for(case, line["to"]).permitted(tuple(line["say"].split()))
        expected = meaning_of(readings[0]) if readings else NONE
        text = Text(line["to"], "demo", line["say"], expected)
        yield _clip(text, f"demo/{clip_name(number, line['to'])}", voice, None)


def _answers(texts: list[Text], turn: int = 0) -> Iterator[Clip]:
    """Each answer by two voices, one of them clean, the other in noise; settings, which are long,
    by one, clean and in noise in turn, and so are case numbers."""
    for count, (text, stem) in enumerate(_named("answers", texts), start=turn):
        once = text.family.startswith(("settings", "number"))
        if not once or count % 2:
            clean = MEASURED_VOICES[count % 7]
            yield _clip(text, f"{stem}-{clean}.flac", clean, None)
        if not once or not count % 2:
            noisy = MEASURED_VOICES[(count + 3) % 7]
            yield _clip(text, f"{stem}-{noisy}-{SNR_dB}dB.flac", noisy, SNR_dB)


def _near_misses(texts: list[Text], turn: int = 0) -> Iterator[Clip]:
    """Each near miss once, clean and in noise in turn."""
    for count, (text, stem) in enumerate(_named("near-misses", texts), start=turn):
        voice = MEASURED_VOICES[count % 7]
        if count % 2:
            yield _clip(text, f"{stem}-{voice}-{SNR_dB}dB.flac", voice, SNR_dB)
        else:
            yield _clip(text, f"{stem}-{voice}.flac", voice, None)


def _named(folder: str, texts: list[Text]) -> Iterator[tuple[Text, str]]:
    """Texts with the stems of their files: counted within the item and family."""
    counts: dict[tuple[str, str], Iterator[int]] = {}
    for text in texts:
        number = next(counts.setdefault((text.asked, text.family), itertools.count(1)))
        asked = text.asked.replace("/", "-")
        yield text, f"{folder}/{asked}.{text.family}.{number:02d}"


def _clip(text: Text, file: str, voice_name: str, snr_dB: int | None) -> Clip:
    voice = VOICES[voice_name]
    return Clip(
        file=file,
        asked=text.asked,
        family=text.family,
        text=text.text,
        expected=text.expected,
        wrong_yes=text.wrong_yes,
        voice=voice.name,
        engine=voice.engine.name,
        engine_licence=voice.engine.licence,
        voice_licence=voice.licence,
        noise=CLEAN if snr_dB is None else THEATRE,
        snr_dB="" if snr_dB is None else str(snr_dB),
        seed=seed_of(file),
    )


def _make(clips: list[Clip], bundle: Bundle, into: Path) -> Counter[str]:
    """Write the clips' files. Returns how many are lacking, by the sentence that says why."""
    missing: Counter[str] = Counter()
    for clip in clips:
        try:
            said = say(VOICES[clip.voice], bundle.lexicon.to_speech(clip.text))
        except EngineMissingError as error:
            missing[str(error)] += 1
            continue
        snr_dB = float(clip.snr_dB) if clip.snr_dB else None
        write_flac(into / clip.file, clip_of(said, snr_dB, clip.seed))
    return missing


def _remove_unplanned(clips: list[Clip]) -> None:
    """Sound files that the plan no longer has would be measured without a meaning."""
    files = {clip.file for clip in clips}
    for folder in SETS:
        for path in (FOLDER / folder).glob("*.flac"):
            if f"{folder}/{path.name}" not in files:
                path.unlink()


if __name__ == "__main__":
    sys.exit(main())
