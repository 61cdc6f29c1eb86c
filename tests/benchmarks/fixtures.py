"""The scripts of the test sound, which are no package, for the benchmarks."""

from __future__ import annotations

import sys
from pathlib import Path

FIXTURES = Path(__file__).resolve().parents[2] / "audio_fixtures_synthetic"
sys.path.insert(0, str(FIXTURES))
# The benchmarks are run as programs; what the tests share lies beside them.
sys.path.append(str(FIXTURES.parent))

from asked import state_at  # noqa: E402  # lies in the fixtures' folder, put on the path above
from clips import CLEAN, NONE, Clip, read_manifest  # noqa: E402  # the same
from make import example_bundle, spoken_anew  # noqa: E402  # the same
from meanings import meaning_of  # noqa: E402  # the same
from sound import clip_of, theatre_noise, write_flac  # noqa: E402  # the same
from voices import VOICES, EngineMissingError, say, say_each  # noqa: E402  # the same

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
