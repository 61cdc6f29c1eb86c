"""Whether the phone distance foretells what the recogniser takes one word for.

`python -m tests.benchmarks.studies.sound_alikes` has voices of espeak-ng say both words of each
pair below in "the test line is ...", hears that in noise where only these two sentences are
permitted, and counts how often the other word is taken, by how far apart the words are. It also
shows how many pairs of common words lie below the limits of the lint. Prints tables, writes
`sound_alikes.json`.

The voices are synthetic: good for comparing pairs, no measure of a theatre.
"""

from __future__ import annotations

import argparse
import io
import json
import random
import subprocess
from dataclasses import dataclass
from itertools import combinations
from typing import Any

import numpy as np
import soundfile
import soxr
import vosk

from tests.benchmarks.harness.measured import (
    circumstances,
    print_table,
    proportion,
    shown,
    write_report,
)
from tests.benchmarks.harness.places import REPORTS
from voicelist.asr.model import find_model
from voicelist.asr.wide_beam import wide_search_model
from voicelist.documents.phone_table import phone_table
from voicelist.linting.sound_alikes import ALIKE, NEARLY
from voicelist.phonetics.phones import apart

REPORT = REPORTS / "sound_alikes.json"
RATE_HZ = 16000
VOICES = ("en-us", "en-gb", "en-us+f3")
SNRS_DB = (20, 5, 0)
BANDS = ((0.0, ALIKE), (ALIKE, NEARLY), (NEARLY, 0.35), (0.35, 0.5), (0.5, 1.0))
PAIRS = """
firm/form tight/type loose/lose left/lift full/fall set/sat pin/pen tip/dip line/lane grade/great
thirteen/thirty fifteen/fifty sixteen/sixty nineteen/ninety eighteen/eighty done/down sleeve/slave
sterile/stable prime/primed pulse/pulses open/opened bottle/battle correct/collect tested/twisted
complete/incomplete visible/invisible torn/worn hidden/given power/flower
tight/light eight/eighty mask/mark leak/leaking connected/corrected on/in low/no on/off four/five
clear/near one/nine five/nine lens/length vacuum/vacant stable/steady weak/wet
firm/loose full/low tight/loose steady/blocked hidden/visible found/missing left/right open/complete
straight/twisted linear/fixed alpha/bravo seven/three
"""
DIGITS = "zero one two three four five six seven eight nine"
SPELLING = """
alpha bravo charlie delta echo foxtrot golf hotel india juliet kilo lima mike november oscar papa
quebec romeo sierra tango uniform victor whiskey yankee zulu
"""
CHANCE_PAIRS = 100_000


@dataclass(frozen=True, slots=True)
class Heard:
    """One word said once: the pair's distance, and whether the other word of it was taken."""

    pair: str
    apart: float
    snr_dB: int
    wrong: bool


def main() -> None:
    """The command."""
    argparse.ArgumentParser(description=(__doc__ or "").partition("\n\n")[0]).parse_args()
    place = find_model()
    vosk.SetLogLevel(-1)
    model = vosk.Model(str(wide_search_model(place)))
    heard = [one for pair in PAIRS.split() for one in _heard_pair(model, pair)]
    report: dict[str, Any] = {"circumstances": circumstances(place.fingerprint)}
    report["taken_for_the_other"] = _by_band(heard)
    report["by_pair"] = _by_pair(heard)
    report["words_by_chance"] = _by_chance()
    report["nearest"] = {"digits": _nearest(DIGITS), "spelling alphabet": _nearest(SPELLING)}
    for name, nearest in report["nearest"].items():
        print(f"\nNearest of the {name}: {nearest}")
    write_report(REPORT, report)


def _heard_pair(model: vosk.Model, pair: str) -> list[Heard]:
    words = pair.split("/")
    how_far = _apart(*words)
    sentences = [f"the test line is {word}" for word in words]
    found = []
    for voice in VOICES:
        for said, sentence in enumerate(sentences):
            sound = _spoken(sentence, voice)
            for snr_dB in SNRS_DB:
                noise = _noise(len(sound), f"{voice} {sentence} {snr_dB}")
                taken = _recognised(model, _mixed(sound, noise, snr_dB), sentences)
                found.append(Heard(pair, how_far, snr_dB, taken == sentences[1 - said]))
    return found


def _spoken(text: str, voice: str) -> np.ndarray:
    command = ["espeak-ng", "-v", voice, "--stdout", text]
    wave = subprocess.run(command, capture_output=True, check=True).stdout
    sound, rate = soundfile.read(io.BytesIO(wave), dtype="float32")
    pause = np.zeros(RATE_HZ // 4, dtype=np.float32)
    return np.concatenate([pause, soxr.resample(sound, rate, RATE_HZ), pause])


def _noise(length: int, seed: str) -> np.ndarray:
    """Noise that falls by 3 dB an octave, the same at each run."""
    chance = np.random.default_rng(list(seed.encode()))
    spectrum = np.fft.rfft(chance.standard_normal(length))
    spectrum /= np.sqrt(np.maximum(np.arange(len(spectrum)), 1))
    return np.fft.irfft(spectrum, length)


def _mixed(sound: np.ndarray, noise: np.ndarray, snr_dB: int) -> bytes:
    """Both at the given ratio of their powers over the whole clip."""
    share = np.sqrt(np.mean(sound**2) / np.mean(noise**2)) * 10 ** (-snr_dB / 20)
    mixed = sound + noise * share
    return (mixed / np.max(np.abs(mixed)) * 16000).astype("<i2").tobytes()


def _recognised(model: vosk.Model, sound: bytes, sentences: list[str]) -> str:
    recogniser = vosk.KaldiRecognizer(model, RATE_HZ, json.dumps([*sentences, "[unk]"]))
    recogniser.AcceptWaveform(sound)
    return str(json.loads(recogniser.FinalResult())["text"])


def _by_band(heard: list[Heard]) -> list[dict[str, Any]]:
    rows = []
    for low, high in BANDS:
        # 0 itself belongs to the first.
        inside = [one for one in heard if low < one.apart <= high or one.apart == low == 0]
        at = {
            snr_dB: proportion(
                sum(one.wrong for one in inside if one.snr_dB == snr_dB),
                sum(one.snr_dB == snr_dB for one in inside),
            )
            for snr_dB in SNRS_DB
        }
        pairs = len({one.pair for one in inside})
        rows.append({"above": low, "up_to": high, "pairs": pairs, "at_snr_dB": at})
    head = ("apart", "pairs", *(f"taken wrong at {snr_dB} dB" for snr_dB in SNRS_DB))
    cells = [
        (
            f"{row['above']:.2f}-{row['up_to']:.2f}",
            row["pairs"],
            *(shown(one) for one in row["at_snr_dB"].values()),
        )
        for row in rows
    ]
    print_table("One word taken for the other, by their distance", head, cells)
    return rows


def _by_pair(heard: list[Heard]) -> dict[str, dict[str, float]]:
    found = {}
    for pair in PAIRS.split():
        mine = [one for one in heard if one.pair == pair]
        wrong = sum(one.wrong for one in mine)
        found[pair] = {"apart": round(mine[0].apart, 3), "wrong": wrong, "of": len(mine)}
    rows = [
        (pair, *one.values()) for pair, one in sorted(found.items(), key=lambda p: p[1]["apart"])
    ]
    print_table("By pair", ("pair", "apart", "taken wrong", "of"), rows)
    return found


def _by_chance() -> dict[str, dict[str, Any]]:
    """The share of pairs of words of the table, drawn by chance, within each limit."""
    chance = random.Random(1)
    words = sorted(phone_table("en").words)
    drawn = [chance.sample(words, 2) for _ in range(CHANCE_PAIRS)]
    distances = [_apart(*pair) for pair in drawn]
    shares = {
        f"{limit:.2f}": proportion(sum(one <= limit for one in distances), CHANCE_PAIRS)
        for limit in (ALIKE, NEARLY)
    }
    rows = [(limit, shown(share)) for limit, share in shares.items()]
    print_table("Pairs of common words by chance", ("at most apart", "share"), rows)
    return shares


def _nearest(words: str) -> dict[str, Any]:
    pairs = ((_apart(*pair), *pair) for pair in combinations(words.split(), 2))
    how_far, one, other = min(pairs)
    return {"pair": f"{one}/{other}", "apart": round(how_far, 3)}


def _apart(one: str, other: str) -> float:
    table = phone_table("en")
    return apart(table.of_word(one), table.of_word(other))


if __name__ == "__main__":
    main()
