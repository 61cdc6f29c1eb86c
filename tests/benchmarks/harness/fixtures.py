"""The scripts of the test sound, which are no package, for the benchmarks."""

from __future__ import annotations

import sys

from tests.benchmarks.harness.places import FIXTURES

sys.path.insert(0, str(FIXTURES))

from asked import state_at  # lies in the fixtures' folder, put on the path above
from clips import CLEAN, NONE, Clip, read_manifest  # the same
from make import example_bundle, spoken_anew  # the same
from meanings import meaning_of  # the same
from sound import clip_of, theatre_noise, write_flac  # the same
from voices import VOICES, EngineMissingError, say, say_each  # the same

__all__ = [
    "CLEAN",
    "FIXTURES",
    "NONE",
    "VOICES",
    "Clip",
    "EngineMissingError",
    "clip_of",
    "example_bundle",
    "meaning_of",
    "read_manifest",
    "say",
    "say_each",
    "spoken_anew",
    "state_at",
    "theatre_noise",
    "write_flac",
]
