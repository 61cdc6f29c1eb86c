"""The committed tables of phones, by language. `tools/phones.py` makes them again."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from voicelist.phonetics.phones import PhoneTable, parse_table
from voicelist.understanding.confusables import SoundAlikes

_FOLDER = Path(__file__).resolve().parent.with_name("phonetics")


@lru_cache(maxsize=4)
def phone_table(language: str) -> PhoneTable:
    """The phones of the words of a language ("en-US"); without a table its words are compared by
    their letters."""
    primary = language.partition("-")[0].lower()
    path = _FOLDER / f"phones.{primary}.txt"
    there = primary.isalpha() and path.exists()
    return parse_table(path.read_text(encoding="utf-8") if there else "")


@lru_cache(maxsize=4)
def sound_alikes(language: str) -> SoundAlikes:
    """Which of the words of a language sound alike."""
    return SoundAlikes(phone_table(language))
