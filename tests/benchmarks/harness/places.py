"""Where reports are written, and what lies in or beside the checkout."""

from __future__ import annotations

from pathlib import Path

CHECKOUT = Path(__file__).resolve().parents[3]
REPORTS = CHECKOUT / "tests" / "benchmarks" / "reports"
FIXTURES = CHECKOUT / "audio_fixtures_synthetic"
# Recordings of real people and lines of theirs: not part of the project.
SPEECH = CHECKOUT.parent / "shared" / "speech"
LINES = CHECKOUT.parent / "shared" / "natural" / "answers.tsv"
