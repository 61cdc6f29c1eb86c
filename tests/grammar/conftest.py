"""Property tests here are about what is right, not about how fast a busy machine finds it."""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("unhurried", deadline=None)
settings.load_profile("unhurried")
