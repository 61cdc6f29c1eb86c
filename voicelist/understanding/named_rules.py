"""Which of several rules that are named alike was said: other wordings of commands."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from voicelist.grammar.ruleset import RuleSet
from voicelist.understanding.plain_speech import NaturalAnswers

# A command of so many words may have so many others around it.
_COMMAND_WORDS, _AROUND_COMMAND_AT_MOST = 2, 8


@dataclass(frozen=True, slots=True)
class NamedRules:
    """The public rules whose names begin with `prefix`."""

    answers: NaturalAnswers
    rules: RuleSet
    prefix: str

    def named(self, said: Sequence[str]) -> str:
        """The name of the one rule that the words are a sentence of; "" for none or several."""
        found = [one for one in self._names() if self.answers.is_one(one, said)]
        return found[0].removeprefix(self.prefix) if len(found) == 1 else ""

    def named_amid_others(self, said: Sequence[str]) -> str:
        """The one rule with the longest sentence at the beginning or the end of the words."""
        words = self.answers.without_openings(self.answers.written_out(said))
        longest: dict[str, int] = {}
        for name in self._names():
            first = max(self.answers.ends(name, words, 0), default=0)
            last = max(
                (
                    len(words) - start
                    for start in range(len(words))
                    if len(words) in self.answers.ends(name, words, start)
                ),
                default=0,
            )
            longest[name] = max(first, last)
        most = max(longest.values(), default=0)
        found = [name for name, count in longest.items() if count == most]
        enough = most >= _COMMAND_WORDS and len(words) - most <= _AROUND_COMMAND_AT_MOST
        return found[0].removeprefix(self.prefix) if enough and len(found) == 1 else ""

    def _names(self) -> Iterator[str]:
        for file in self.rules.files:
            for one in file.rules:
                if one.public and one.name.startswith(self.prefix):
                    yield one.name
