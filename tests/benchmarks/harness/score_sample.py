"""What the score of an answer is fitted to and judged on: a stated, random sample of what the other
benchmarks measure, and more synthetic voices, in rounds, so that any beginning of it is balanced.

Answers that are taken wrong are rare. So all that full runs of the other benchmarks took wrong
(their JSON reports) are heard for sure, and of the rest a sample: two strata, each of which is
weighted by how large it is and how much of it was heard. What comes of a sample then says what
would come of all, whatever today's code makes of one recording or another.

Each thing to hear has the recording, speaker, voice and text by which it can be left out together
with all that stems from the same.
"""

from __future__ import annotations

import csv
import json
import random
import zlib
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any, TypeVar

from tests.benchmarks.harness.clip_ear import clips_of, sound_of
from tests.benchmarks.harness.conditions import mixed
from tests.benchmarks.harness.fixtures import NONE, Clip, example_bundle, read_manifest
from tests.benchmarks.harness.score_voices import OTHER_VOICES, OtherVoice, spoken
from tests.benchmarks.studies import digits, orders
from tests.benchmarks.studies.understanding import ANEW
from voicelist.audio.samples import SAMPLE_RATE_HZ, Samples
from voicelist.documents.lexicon import Lexicon

T = TypeVar("T")

SEED = 20261127
ORDERS, DIGITS, EACH_VOICE, EACH_TURN, STRANGERS = 70, 130, 24, 40, 40
TURNS = range(1, 7)
ORDER_CONDITIONS = (
    *("kitchen 6 dB", "babble8 12 dB", "suction 6 dB"),
    *("kitchen 9 dB", "suction 12 dB", "clean"),
)
CLIP_SNRS_dB = (None, 15.0, 6.0)
DIGIT_SNRS_dB = (None, 9.0)
_LONGEST_S = 30


@dataclass(frozen=True)
class Sample:
    """Something to hear: its group and condition, by what it can be left out, what was said."""

    group: str
    condition: str
    recording: str
    speaker: str
    text: str
    sound: Callable[[], Samples]
    # A clip's place, and how it is to be taken; an order's slots.
    asked: str = ""
    family: str = ""
    expected: str = ""
    wrong_yes: str = ""
    aside: bool = False
    # One of those that a full run took wrong; how many there are of its stratum.
    known_wrong: bool = False
    of: int = 1

    @property
    def folder(self) -> str:
        """As a clip has it."""
        return self.group

    @property
    def key(self) -> str:
        return f"{self.group}|{self.condition}|{self.speaker}|{self.recording}"


def every_sample() -> list[Sample]:
    """All of it, in rounds."""
    chance = random.Random(SEED)
    rows = [
        list(each)
        for each in (
            _orders(chance),
            _digits(chance),
            _clips(chance),
            _anew(chance),
            _strangers(chance),
        )
    ]
    placed = [
        ((number + 0.5) / len(each), sample) for each in rows for number, sample in enumerate(each)
    ]
    return [sample for _, sample in sorted(placed, key=lambda one: (one[0], one[1].key))]


def _orders(chance: random.Random) -> Iterator[Sample]:
    every = list(orders.every_order())
    told = json.loads(orders.REPORT.read_text(encoding="utf-8"))["conditions"]
    wrong = {
        (name, one["file"]) for name in ORDER_CONDITIONS for one in told[name]["product_took_wrong"]
    }
    by_name = {order.file.name: order for order in every}
    chosen = [
        (name, order.file.name)
        for order in chance.sample(every, ORDERS)
        for name in ORDER_CONDITIONS
        if (name, order.file.name) not in wrong
    ]
    conditions = orders.every_condition()
    for name, file in _spread(sorted(wrong), chosen):
        known = (name, file) in wrong
        lost = sum(one == name for one, _ in wrong)
        order = by_name[file]
        sound = partial(conditions[name], order.file)
        of = lost if known else len(every) - lost
        slots = json.dumps(order.slots, sort_keys=True)
        yield Sample("orders", name, file, "-", slots, sound, known_wrong=known, of=of)


def _digits(chance: random.Random) -> Iterator[Sample]:
    every = {one.file.name: one for one in digits.every_spoken("digits")}
    told = json.loads(digits.REPORT.read_text(encoding="utf-8"))["digits"]["taken_wrong"]
    wrong = [(None, one.partition(":")[0]) for one in told]
    drawn = chance.sample(sorted(every), DIGITS)
    chosen = [
        (snr_dB, file) for file in drawn for snr_dB in DIGIT_SNRS_dB if (snr_dB, file) not in wrong
    ]
    for snr_dB, file in _spread(wrong, chosen):
        known = (snr_dB, file) in wrong
        lost = len(wrong) if snr_dB is None else 0
        one = every[file]
        yield Sample(
            "digits",
            "clean" if snr_dB is None else f"kitchen {snr_dB:g} dB",
            file,
            one.speaker,
            one.text,
            partial(_digit_sound, one, snr_dB),
            known_wrong=known,
            of=lost if known else len(every) - lost,
        )


def _digit_sound(one: digits.Spoken, snr_dB: float | None) -> Samples:
    said = orders.clean(one.file)
    if snr_dB is None:
        return said
    return mixed(said, orders.noise_wave("kitchen"), snr_dB, one.file.stem[::-1])


def _spread(few: list[T], many: list[T]) -> list[T]:
    """A few among many, evenly, all in its first third."""
    last = 0.35 * len(many)
    at = [((number + 0.5) / len(few) * last, one) for number, one in enumerate(few)]
    return [one for _, one in sorted([*at, *enumerate(many)], key=lambda one: one[0])]


def _clips(chance: random.Random) -> Iterator[Sample]:
    texts = {
        (clip.folder, clip.asked, clip.text): clip
        for clip in read_manifest()
        if clip.folder != "demo"
    }
    answers = [clip for clip in texts.values() if clip.folder == "answers"]
    misses = [clip for clip in texts.values() if clip.folder != "answers"]
    chosen = {
        voice.name: chance.sample(answers, EACH_VOICE // 2) + chance.sample(misses, EACH_VOICE // 2)
        for voice in OTHER_VOICES
    }
    lexicon = example_bundle().lexicon
    for number in range(EACH_VOICE):
        for place, voice in enumerate(OTHER_VOICES):
            clip = chosen[voice.name][number // 2 + number % 2 * (EACH_VOICE // 2)]
            snr_dB = CLIP_SNRS_dB[(number // 2 + place) % len(CLIP_SNRS_dB)]
            yield _clip(voice, clip, snr_dB, lexicon)


def _clip(voice: OtherVoice, clip: Clip, snr_dB: float | None, lexicon: Lexicon) -> Sample:
    def sound() -> Samples:
        said = lexicon.to_speech(clip.text)
        return spoken(voice, said, snr_dB, zlib.crc32(f"{voice.name} {clip.text}".encode()))

    noise = "clean" if snr_dB is None else f"theatre {snr_dB:g} dB"
    return _of_clip(clip, f"other voices, {noise}", voice.speaker, sound, aside=voice.aside)


def _anew(chance: random.Random) -> Iterator[Sample]:
    """Of the texts spoken anew, those taken wrong and some others."""
    told = json.loads(ANEW.read_text(encoding="utf-8"))
    wrong, chosen, sizes = [], [], Counter[tuple[str, bool]]()
    for turn in map(int, told):
        report = told[str(turn)]
        lost = (report["answers"]["taken_wrong"] if turn in TURNS else []) + [
            *report["near_misses"]["passed"],
            *report["near_misses"]["taken_otherwise"],
        ]
        files = {one["file"] for one in lost}
        every = [clip for clip in clips_of(turn) if clip.folder != "answers" or turn in TURNS]
        wrong += [clip for clip in every if clip.file in files]
        rest = [clip for clip in every if clip.file not in files]
        chosen += chance.sample(rest, EACH_TURN if turn in TURNS else EACH_TURN // 2)
        sizes.update((clip.folder, clip.file in files) for clip in every)
    for clip in _spread(wrong, chance.sample(chosen, len(chosen))):
        known = clip in wrong
        noise = f"{clip.noise} {clip.snr_dB} dB" if clip.snr_dB else clip.noise
        of = sizes[clip.folder, known]
        sound = partial(sound_of, clip)
        yield _of_clip(clip, f"anew, {noise}", clip.voice, sound, known_wrong=known, of=of)


def _of_clip(
    clip: Clip, condition: str, speaker: str, sound: Callable[[], Samples], **more: Any
) -> Sample:
    return Sample(
        clip.folder,
        condition,
        f"{clip.asked}|{clip.text}",
        speaker,
        clip.text,
        sound,
        clip.asked,
        clip.family,
        clip.expected,
        clip.wrong_yes,
        **more,
    )


def _strangers(chance: random.Random) -> Iterator[Sample]:
    files = []
    for name in ("wakewords", "precise", "reading"):
        with (orders.SPEECH / f"{name}.tsv").open(encoding="utf-8", newline="") as table:
            for row in csv.DictReader(table, delimiter="\t", quoting=csv.QUOTE_NONE):
                files.append(row)
    for number, row in enumerate(chance.sample(files, STRANGERS)):
        file = orders.SPEECH / row["file"]
        snr_dB = None if number % 2 else 15.0

        sound = partial(_talk_sound, file, snr_dB)
        condition = "clean" if snr_dB is None else "kitchen 15 dB"
        speaker = row["speaker"] or "-"
        yield Sample("strangers", condition, file.name, speaker, row["text"], sound, expected=NONE)


def _talk_sound(file: Path, snr_dB: float | None) -> Samples:
    said = orders.clean(file)[: _LONGEST_S * SAMPLE_RATE_HZ]
    if snr_dB is None:
        return said
    return mixed(said, orders.noise_wave("kitchen"), snr_dB, file.stem)
