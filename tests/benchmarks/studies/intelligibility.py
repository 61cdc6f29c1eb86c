"""How well is each voice understood? Sentences spoken by the mouth, decoded without a grammar.

    python -m tests.benchmarks.studies.intelligibility [SENTENCES.txt]

One sentence a line; without a file the calls of the shipped checklist. A word that the speech model
does not know cannot be heard, so sentences with one are left out and named. Writes
`intelligibility.json`. A person hears far better than this ear: the rate compares
voices and notices a voice that has become worse; it is no measure of people's understanding.

Heavy parts are imported late: a speaking child begins by importing this file too, and its memory is
measured.
"""

from __future__ import annotations

import argparse
import statistics
import tempfile
import time
from dataclasses import asdict, dataclass
from pathlib import Path

from tests.benchmarks.harness.measured import circumstances, print_table, write_report
from tests.benchmarks.harness.places import REPORTS
from voicelist.errors import VoicelistError
from voicelist.places import shipped
from voicelist.speaking.speaker import SpeechOutput
from voicelist.speaking.voice_file import GAP_S

VOICES = ("hibari", "system")
RATES = (1.0, 0.85)
REPORT = REPORTS / "intelligibility.json"


@dataclass(frozen=True, slots=True)
class Measured:
    """One voice at one pace."""

    voice: str
    rate: float
    word_error_rate: float
    words: int
    start_s: float
    render_median_s: float
    render_longest_s: float
    speech_s: float
    resident_MB: float
    resident_peak_MB: float
    heard: dict[str, str]


def main() -> None:
    from voicelist.asr.model import find_model
    from voicelist.asr.vocabulary import vocabulary

    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n\n")[0])
    parser.add_argument("sentences", nargs="?", type=Path, help="one a line")
    asked = parser.parse_args()
    model = find_model()
    sentences, left_out = _sentences(asked.sentences, frozenset(vocabulary(model.path)))
    measured = []
    for voice in VOICES:
        for rate in RATES:
            try:
                measured.append(_measure(voice, rate, sentences, model.path))
            except VoicelistError as error:
                print(f"{voice}: {error}")
                break
    print_table(
        "Voices, decoded without a grammar",
        ("voice", "pace", "word errors", "words", "start s", "render s", "longest s", "MB", "peak"),
        [
            (
                one.voice,
                one.rate,
                f"{one.word_error_rate:.3f}",
                one.words,
                one.start_s,
                one.render_median_s,
                one.render_longest_s,
                one.resident_MB,
                one.resident_peak_MB,
            )
            for one in measured
        ],
    )
    write_report(
        REPORT,
        {
            "what": "word error rate of each voice's sentences, open vocabulary, no grammar",
            **circumstances(model.fingerprint),
            "left_out_for_unknown_words": left_out,
            "voices": [asdict(one) for one in measured],
        },
    )


def _sentences(file: Path | None, known: frozenset[str]) -> tuple[list[str], list[str]]:
    """Sentences to speak, as they are spelled for speaking; and those left out."""
    from tests.benchmarks.harness.open_ear import plain
    from voicelist.documents.loading import load_lexicon

    lexicon = load_lexicon(shipped("grammars") / "lexicon.yaml").document
    written = (
        file.read_text(encoding="utf-8").splitlines()
        if file
        else _calls(shipped("grammars") / "checklists" / "phaco.yaml")
    )
    spoken = [lexicon.to_speech(text) for text in written if text.strip()]
    left_out = [text for text in spoken if not known.issuperset(plain(text).split())]
    return [text for text in spoken if text not in left_out], left_out


def _calls(checklist: Path) -> list[str]:
    import yaml

    sections = yaml.safe_load(checklist.read_text(encoding="utf-8"))["sections"]
    return [item["call"] for section in sections for item in section["items"]]


def _measure(voice: str, rate: float, sentences: list[str], model: Path) -> Measured:
    import soundfile

    from tests.benchmarks.harness.open_ear import plain, word_error_rate, words_in

    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder) / "voice.wav"
        began_s = time.monotonic()
        with SpeechOutput(voice, play=False, out=out, rate=rate) as mouth:
            mouth.say("One.")
            start_s = time.monotonic() - began_s
            first_s = mouth.seconds_spoken + GAP_S
            render_s, lengths_s = [], []
            for sentence in sentences:
                began_s = time.monotonic()
                lengths_s.append(mouth.say(sentence).seconds)
                render_s.append(time.monotonic() - began_s)
            resident, peak = _memory_mb(mouth.child_pids["voice"])
        samples, hertz = soundfile.read(out, dtype="int16")
    heard, at = [], round(first_s * hertz)
    for length_s in lengths_s:
        heard.append(words_in(samples[at : at + round(length_s * hertz)], model))
        at += round((length_s + GAP_S) * hertz)
    return Measured(
        voice=voice,
        rate=rate,
        word_error_rate=round(word_error_rate(sentences, heard), 4),
        words=sum(len(plain(text).split()) for text in sentences),
        start_s=round(start_s, 2),
        render_median_s=round(statistics.median(render_s), 3),
        render_longest_s=round(max(render_s), 3),
        speech_s=round(sum(lengths_s), 2),
        resident_MB=resident,
        resident_peak_MB=peak,
        heard={said: " ".join(words) for said, words in zip(sentences, heard, strict=True)},
    )


def _memory_mb(pid: int) -> tuple[float, float]:
    """Resident memory now and at its peak (Linux)."""
    found = {}
    for line in Path(f"/proc/{pid}/status").read_text(encoding="utf-8").splitlines():
        name, _, value = line.partition(":")
        if name in ("VmRSS", "VmHWM"):
            found[name] = round(int(value.split()[0]) / 1024, 1)
    return found["VmRSS"], found["VmHWM"]


if __name__ == "__main__":
    main()
