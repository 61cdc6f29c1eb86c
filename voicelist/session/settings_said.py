"""Machine settings in people's own words: each part strictly a setting, the whole covered by parts
and the words that stand between them, and one way alone to read it. A number that could be of two
quantities is not guessed."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from voicelist.grammar.frames import Frames
from voicelist.grammar.grammar import Grammar
from voicelist.grammar.match import Match
from voicelist.grammar.ruleset import RuleSet
from voicelist.grammar.syntax import PhrasePlace, Reference
from voicelist.understanding.loose_values import number_words
from voicelist.understanding.written_out import WritingOut, said_once

SETTING = "setting_said"
_BEFORE, _NO_FILLING = "settings_before", "no_filling"
_AFTER_NUMBER = "after_number"
# So many words may stand around settings that are none themselves. Project choice.
_FILLING_AT_MOST = 14
_NUMBER_RULES = ("integer", "decimal")
_LETTERS_OF_UNITS = "letters_of_units"
_AT = PhrasePlace("settings", 1, 1)
# A sentence with more readings than this is not looked through to the end: it is asked about.
_READINGS_AT_MOST = 200

Parts = tuple[Match, ...]


@dataclass(slots=True)
class SettingsSaid:
    """The rules for settings as people say them."""

    rules: RuleSet
    _grammar: Grammar | None = None
    _frames: Frames = field(init=False)
    _written: WritingOut = field(init=False)
    _numbers: frozenset[str] = field(init=False)
    _twice: frozenset[str] = field(init=False)
    _known: frozenset[str] = field(init=False)

    def __post_init__(self) -> None:
        self._frames = Frames(self.rules)
        self._written = WritingOut(self.rules)
        self._numbers = number_words(self.rules)
        self._known = self.rules.vocabulary()
        self._twice = self._numbers.union(self.rules.words(_LETTERS_OF_UNITS))

    def read(self, said: Sequence[str], rule: str) -> Match | None:
        """The settings, as a sentence of `rule`; None where the words are no settings or can be
        read in two ways. "Um" and the like are left out."""
        if self.rules.find(SETTING, None) is None:
            return None
        words = self._written.without_hesitations(said)
        words = said_once(words, self._twice)
        found: dict[tuple[object, ...], Parts] = {}
        for parts in self._readings(words):
            found.setdefault(_meaning(parts), parts)
            if len(found) > _READINGS_AT_MOST:
                return None
        likely = [parts for parts in found.values() if all(one.is_likely() for one in parts)]
        likely = [parts for parts in likely if not any(map(_has_two_controls, parts))]
        likely = [one for one in likely if not _splits_number(one, self._whole)] or likely
        if len(likely) > 1 and len(set(map(_numbers, likely))) == 1:
            likely = _in_one_style(likely)
        return Match(rule, words, likely[0]) if len(likely) == 1 else None

    def _whole(self, words: tuple[str, ...]) -> bool:
        """Whether words are one number."""
        return any(self._frames.holds(rule, words) for rule in _NUMBER_RULES)

    def _readings(self, words: tuple[str, ...]) -> Iterator[Parts]:
        parts_from = self._parts(words)
        filling = [
            not (self._frames.ends(_NO_FILLING, words, at) - {at}) for at in range(len(words))
        ]
        after = [bool(self._frames.ends(_AFTER_NUMBER, words, at)) for at in range(len(words))]
        stack: list[tuple[int, Parts, int]] = [(0, (), _FILLING_AT_MOST)]
        stack += [(at, (), _FILLING_AT_MOST) for at in self._frames.ends(_BEFORE, words, 0) - {0}]
        seen = 0
        while stack and seen < 50 * _READINGS_AT_MOST:
            at, said, left = stack.pop()
            seen += 1
            if at == len(words):
                if said:
                    yield said
                continue
            for end, match in () if self._is_named_unknown(words, at) else parts_from.get(at, ()):
                if _fits(said, match):
                    stack.append((end, (*said, match), left))
            behind = not said or not _ends_with_number(said[-1], words[:at]) or after[at]
            if filling[at] and behind and left:
                stack.append((at + 1, said, left - 1))

    def _is_named_unknown(self, words: tuple[str, ...], at: int) -> bool:
        """Whether a number stands there behind a word that no rule has: it may be the name of the
        setting, or its kind, and is asked about."""
        return bool(at) and words[at] in self._numbers and words[at - 1] not in self._known

    def _parts(self, words: tuple[str, ...]) -> dict[int, list[tuple[int, Match]]]:
        """Every run of words that is one setting, by where it begins."""
        if self._grammar is None:
            self._grammar = Grammar({SETTING: Reference(SETTING, _AT)}, self.rules)
        found: dict[int, list[tuple[int, Match]]] = {}
        for start in range(len(words)):
            for end in sorted(self._frames.ends(SETTING, words, start) - {start}):
                for match in self._grammar.parses(words[start:end]):
                    found.setdefault(start, []).append((end, match))
        return found


def _ends_with_number(part: Match, words: tuple[str, ...]) -> bool:
    """Whether the words end with the last number of a setting."""
    numbers = [one.words for one in part.walk() if one.value is not None]
    return bool(numbers) and words[-len(numbers[-1]) :] == numbers[-1]


def _fits(said: Parts, match: Match) -> bool:
    """Nobody gives one quantity two values in a breath; if it seems so, it is read otherwise."""
    return _quantity(match) not in map(_quantity, said)


def _quantity(match: Match) -> str:
    return next((one.tags[0] for one in match.walk() if one.tags and not _is_control(one)), "")


def _in_one_style(ways: Sequence[Parts]) -> list[Parts]:
    """Where only "linear" and "fixed" may belong to the setting before or behind them: they stand
    before each setting if the first sentence began with one, and else behind each."""
    leading = any(_begins_with_control(parts[0]) for parts in ways)
    return [
        parts
        for parts in ways
        if not any(_has_control(one) and _begins_with_control(one) != leading for one in parts)
    ]


def _has_control(match: Match) -> bool:
    return match.first("control") is not None


def _splits_number(parts: Parts, is_number: Callable[[tuple[str, ...]], bool]) -> bool:
    """Whether a setting begins with the rest of the number that the one before it ends with: "duty
    of forty, five percent"."""
    for one, other in pairwise(parts):
        ends = [
            n.words
            for n in one.walk()
            if n.value is not None and one.words[-len(n.words) :] == n.words
        ]
        begins = [
            n.words
            for n in other.walk()
            if n.value is not None and other.words[: len(n.words)] == n.words
        ]
        if any(is_number((*a, *b)) for a in ends for b in begins):
            return True
    return False


def _has_two_controls(match: Match) -> bool:
    """Whether "linear" or "fixed" stands before and behind one setting."""
    return sum(one.rule == "control" for one in match.walk()) > 1


def _begins_with_control(match: Match) -> bool:
    control = match.first("control")
    return control is not None and match.words[: len(control.words)] == control.words


def _numbers(parts: Parts) -> tuple[object, ...]:
    values = [
        (_quantity(one), tuple(v.value for v in one.walk() if v.value is not None)) for one in parts
    ]
    return tuple(sorted(values, key=repr))


def _is_control(match: Match) -> bool:
    return match.rule == "control"


def _meaning(parts: Parts) -> tuple[object, ...]:
    """Quantities with their values and words, in no order."""
    told = (
        (
            tuple(one.tags for one in part.walk() if one.tags),
            tuple((one.rule, one.value) for one in part.walk() if one.value is not None),
        )
        for part in parts
    )
    return tuple(sorted(told, key=repr))
