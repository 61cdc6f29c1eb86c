"""The lexicon: how written words are heard by the speech model and spoken by the voice."""

from __future__ import annotations

import re
from collections.abc import Container, Iterable, Iterator, Mapping
from functools import lru_cache
from typing import Annotated, Any

from pydantic import Field

from voicelist.documents.base import Headed, StrictModel, Text, written_like
from voicelist.documents.faults import Fault
from voicelist.documents.raw_parts import entries, repeated

# The recogniser's words have no capitals, digits or signs but these.
HeardWords = Annotated[
    str,
    *written_like(
        r"[a-z][a-z'.-]*( [a-z][a-z'.-]*)*",
        "lower-case words of letters, as the speech model spells them",
    ),
]


class LexiconWord(StrictModel):
    """One written word; capitals make no difference. `hear` has the ways in which the model's own
    words spell it, `say` the way in which the voice is given it."""

    written: Text = Field(description="the word as phrases and calls write it")
    hear: Annotated[tuple[HeardWords, ...], Field(strict=False)] = Field(
        default=(), description="a list of lower-case words that the speech model knows"
    )
    say: Text | None = Field(default=None, description="text for the voice")
    also: Annotated[tuple[HeardWords, ...], Field(strict=False)] = Field(
        default=(), description="a list of its other spellings, as they may be typed"
    )

    @classmethod
    def whole_faults(cls, raw: Mapping[str, Any]) -> Iterator[Fault]:
        if not raw.get("hear") and not raw.get("also") and raw.get("say") is None:
            yield Fault((), "a word that changes nothing", 'expected "hear" or "say" or both')


class Lexicon(Headed):
    """The lexicon document."""

    words: Annotated[tuple[LexiconWord, ...], Field(strict=False)] = Field(
        description="a list of words"
    )

    def respellings(self) -> dict[str, list[list[str]]]:
        """For hearing: a written word and the ways it is heard, as words, all in lower case."""
        return {
            one.written.lower(): [heard.lower().split() for heard in one.hear] for one in self.words
        }

    def to_speech(self, text: str) -> str:
        """The text with each whole written word replaced by what the voice is given for it. The
        longest written word wins; what was put in is not looked at again."""
        spoken = {word.written: word.say for word in self.words if word.say is not None}
        if not spoken:
            return text
        longest_first = tuple(sorted(spoken, key=lambda word: -len(word)))
        found = _whole_words(longest_first)
        return found.sub(lambda match: spoken[longest_first[(match.lastindex or 1) - 1]], text)

    def as_known(self, words: Iterable[str], known: Container[str]) -> tuple[str, ...]:
        """The words, those that are not `known` in a spelling of theirs that is."""
        groups = [(one.written.lower(), *one.also) for one in self.words if one.also]
        spellings = {
            word: next((one for one in group if one in known), word)
            for group in groups
            for word in group
        }
        return tuple(one if one in known else spellings.get(one, one) for one in words)

    @classmethod
    def whole_faults(cls, raw: Mapping[str, Any]) -> Iterator[Fault]:
        yield from repeated(entries(raw, "words"), "written", "each written word once")


@lru_cache(maxsize=16)
def _whole_words(written: tuple[str, ...]) -> re.Pattern[str]:
    """Finds whole written words, each as a group of its own; an earlier one wins."""
    groups = "|".join(f"({re.escape(word)})" for word in written)
    return re.compile(rf"(?<!\w)(?:{groups})(?!\w)", re.IGNORECASE)
