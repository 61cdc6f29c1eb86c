"""What may be said now."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from rapidfuzz import fuzz, process

from voicelist.grammar.grammar import Grammar
from voicelist.grammar.match import Match
from voicelist.understanding.confusables import SoundAlikes
from voicelist.understanding.hypothesis import Passes, Words
from voicelist.understanding.policy import POLICY
from voicelist.understanding.room_words import Room

if TYPE_CHECKING:
    from voicelist.understanding.interpretation import Understanding, Understood
    from voicelist.understanding.questions import Inquiry

_OFFERS_AT_MOST = 2
# Sentences said in one breath: how many more.
_TOGETHER_AT_MOST = 3


@dataclass(frozen=True, slots=True)
class Context:
    """What may be said now: the `active` roots of a grammar, and the words of the room. Those in
    `together` may be said one after the other in one breath, with or without "and" between. Those
    that are `harmless` pass nothing, so that the second pass has nothing to keep them from. With
    `alikes` a short answer is put beside what sounds like it; `plain_speech` reads what the
    verifier hears freely, where no permitted sentence was understood."""

    grammar: Grammar
    active: frozenset[str]
    room: Room
    together: frozenset[str] = frozenset()
    harmless: frozenset[str] = frozenset()
    alikes: SoundAlikes | None = None
    plain_speech: PlainSpeech | None = None

    def passes_nothing(self, matches: Sequence[Match]) -> bool:
        """Whether all of an answer is harmless."""
        return self.harmless.issuperset(match.rule for match in matches)

    def permitted(self, words: Words) -> tuple[Match, ...]:
        """The readings of the whole sentence under an active root."""
        return tuple(match for match in self.grammar.parses(words) if match.rule in self.active)

    def permitted_together(self, words: Words) -> tuple[Match, ...]:
        """Two to four whole sentences in a row, each of another phrase; none where there are two
        ways to read them."""
        ways = list(self._rows(words, _TOGETHER_AT_MOST))
        if len(ways) != 1 or len({match.rule for match in ways[0]}) < len(ways[0]):
            return ()
        return ways[0]

    def _rows(self, words: Words, left: int) -> Iterator[tuple[Match, ...]]:
        if not self.together or not left:
            return
        for end in range(2, len(words) - 1):
            before = self._in_one_breath(words[:end])
            if not before:
                continue
            rest = words[end + 1 :] if words[end] in self.room.links else words[end:]
            behind = self._in_one_breath(rest)
            yield from ((first, last) for first in before for last in behind)
            for more in self._rows(rest, left - 1):
                yield from ((first, *more) for first in before)

    def written(self, answer: Understood) -> str:
        """An answer not as the recogniser hears it: in words that anybody would write."""
        between = f" {self.room.links[0]} " if self.room.links else " "
        return between.join(match.text for match in answer.matches)

    def _in_one_breath(self, words: Words) -> list[Match]:
        return [match for match in self.grammar.parses(words) if match.rule in self.together]

    def answers(self) -> tuple[str, ...]:
        """The active roots that are no commands."""
        return tuple(name for name in sorted(self.active) if not is_command(name))

    def words(self) -> frozenset[str]:
        """The words of what is asked."""
        return frozenset(word for name in self.answers() for word in self.grammar.words_of(name))

    def topics(self) -> frozenset[str]:
        """Those of them that carry a meaning and are no talk."""
        return self.words() - self.room.function_words - frozenset(self.room.fillers)

    def offers(self, words: Sequence[str]) -> tuple[str, ...]:
        """Permitted answers that sound like the words: to be asked, never to be taken."""
        choices = [text for name in self.answers() for text in self.grammar.examples(name)]
        spoken = " ".join(words)
        near = process.extract(spoken, choices, scorer=fuzz.ratio, limit=_OFFERS_AT_MOST)
        return tuple(text for text, score, _ in near if score >= POLICY.offer_from)


def is_command(root: str) -> bool:
    """Whether a root is no answer."""
    return root.startswith("command.")


# From what was understood, the recogniser's passes and further questions, to what that makes of it.
PlainSpeech = Callable[["Understanding", Passes, "Inquiry"], "Understanding"]
