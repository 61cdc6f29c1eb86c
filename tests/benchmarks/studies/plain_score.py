"""Fits the score of plain speech by sound (`voicelist/understanding/plain_score.py`), and judges it
on what it was not fitted to.

`python -m tests.benchmarks.studies.plain_score` takes the development half of the lines and voices
of `plain_speech.py`, and recordings of strangers (`strangers.py`) heard while an item is asked,
weighs the likeliest answer to each as a session does, and fits a logistic model: was it said, or
not? It is judged by cross-validation that leaves out each text with all its voices and noises. The
weights are printed, to be put in the module; figures are written down. Needs scikit-learn.
"""

from __future__ import annotations

import argparse
import random
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from sklearn.linear_model import LogisticRegression
from sklearn.model_selection import GroupKFold, cross_val_predict

from tests.benchmarks.harness.conditions import RATE_HZ, Samples, mixed
from tests.benchmarks.harness.measured import circumstances, print_table, write_report
from tests.benchmarks.harness.places import LINES, REPORTS, SPEECH
from tests.benchmarks.harness.product import Product
from tests.benchmarks.harness.spoken_lines import (
    DEVELOPMENT,
    clips,
    lines,
    make_missing,
    sound_of,
)
from tests.benchmarks.studies import strangers
from tests.benchmarks.studies.orders import clean, noise_wave
from tests.benchmarks.studies.plain_speech import Hearing
from voicelist.understanding.plain_score import Evidence

REPORT = REPORTS / "plain_score.json"
CLIPS, STRANGERS = 450, 250
_SEED, _LONGEST_S, _IN_NOISE, _SNR_dB = 7, 8, 0.4, 15.0
_THRESHOLDS = (0.5, 0.75, 0.9, 0.95)
_FOLDS = 10


@dataclass(frozen=True, slots=True)
class Example:
    """An answer that was weighed, whether it was said, and the text that was."""

    evidence: Evidence
    said: bool
    stops: bool
    text: str


def main() -> None:
    """The command."""
    argparse.ArgumentParser(description=(__doc__ or "").partition("\n\n")[0]).parse_args()
    if not LINES.is_file():
        print("The lines are not beside this checkout: nothing is fitted.")
        return
    hearing = Hearing(Product())
    heard = [*_spoken(hearing), *_strangers(hearing)]
    examples = [one for one in heard if one is not None]
    features = np.array([one.evidence.features() for one in examples])
    said = np.array([one.said for one in examples])
    stops = np.array([one.stops for one in examples])
    texts = [one.text for one in examples]
    model = LogisticRegression(max_iter=2_000)
    folds = GroupKFold(_FOLDS)
    judged = cross_val_predict(
        model, features, said, groups=texts, cv=folds, method="predict_proba"
    )
    chance = judged[:, 1]
    model.fit(features, said)
    weights = [round(float(one), 3) for one in model.coef_[0]]
    print("weights", weights, "constant", round(float(model.intercept_[0]), 3))
    rows = [
        (
            at,
            int((chance[said] >= at).sum()),
            int((chance[~said & ~stops] >= at).sum()),
            int((chance[~said & stops] >= at).sum()),
        )
        for at in _THRESHOLDS
    ]
    title = f"{len(heard)} heard, {len(examples)} with an answer, {int(said.sum())} of them said"
    head = ("probability", "said", "not said, ordinary item", "not said, stop item")
    print_table(title, head, rows)
    told: dict[str, Any] = {
        "heard": len(heard),
        "with an answer": len(examples),
        "said": int(said.sum()),
        "weights": weights,
        "constant": round(float(model.intercept_[0]), 3),
        "cross-validated": [dict(zip(head, row, strict=True)) for row in rows],
    }
    write_report(REPORT, {**circumstances(hearing.fingerprint), **told})


def _spoken(hearing: Hearing) -> Iterator[Example | None]:
    """Lines of the development half: answers that pass when typed, and what is none."""
    wanted = [one for one in clips(lines()) if one.half == DEVELOPMENT][:CLIPS]
    for sentence in make_missing(wanted):
        print(sentence)
    for clip in wanted:
        line = clip.line
        typed = hearing.when_typed(line.item, line.text)
        valued = typed is not None and typed.value
        if (line.kind == "yes" and typed is None) or valued or not clip.file.is_file():
            continue
        yield _example(hearing, line.item, sound_of(clip), line.text, said=line.kind == "yes")


def _strangers(hearing: Hearing) -> Iterator[Example | None]:
    """Recordings of real people, who answer nothing."""
    if not (SPEECH / "wakewords.tsv").is_file():
        print("The recordings of real people are not beside this checkout: without them.")
        return
    chance = random.Random(_SEED)
    files = list(strangers.files())
    chance.shuffle(files)
    items = hearing.items_with_states()
    for file in files[:STRANGERS]:
        samples = clean(file)
        if len(samples) > _LONGEST_S * RATE_HZ:
            continue
        if chance.random() < _IN_NOISE:
            samples = mixed(samples, noise_wave("kitchen"), _SNR_dB, file.stem)
        yield _example(hearing, chance.choice(items), samples, file.stem, said=False)


def _example(
    hearing: Hearing, item: str, samples: Samples, text: str, *, said: bool
) -> Example | None:
    evidence = hearing.evidence(item, samples)
    return None if evidence is None else Example(evidence, said, hearing.is_stop(item), text)


if __name__ == "__main__":
    main()
