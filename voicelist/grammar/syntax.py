"""The parts of a phrase, as the ABNF parser makes them and the automaton reads them."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class PhrasePlace:
    """Where something stands; lines and columns count from 1."""

    file: str
    line: int
    column: int


@dataclass(frozen=True, slots=True)
class Token:
    """One spoken word, lower case."""

    text: str
    place: PhrasePlace


@dataclass(frozen=True, slots=True)
class Reference:
    """`$name`."""

    name: str
    place: PhrasePlace


@dataclass(frozen=True, slots=True)
class Tag:
    """`{text}`: carried through to the parse, never interpreted here."""

    text: str


@dataclass(frozen=True, slots=True)
class Null:
    """`$NULL`: spoken as nothing."""


@dataclass(frozen=True, slots=True)
class Void:
    """`$VOID`: can never be spoken."""


@dataclass(frozen=True, slots=True)
class Sequence:
    """One after the other."""

    parts: tuple[Node, ...]


@dataclass(frozen=True, slots=True)
class Choice:
    """One of several; `weights` are the likelihood factors written between slashes (1 if none)."""

    parts: tuple[Node, ...]
    weights: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Repeat:
    """`part` spoken `least` to `most` times; `[x]` is 0 to 1."""

    part: Node
    least: int
    most: int


Node = Token | Reference | Tag | Null | Void | Sequence | Choice | Repeat


@dataclass(frozen=True, slots=True)
class Rule:
    """A named expansion; private ones are visible in their own file only."""

    name: str
    public: bool
    body: Node
    place: PhrasePlace


@dataclass(frozen=True, slots=True)
class RuleFile:
    """One ABNF document."""

    file: str
    language: str
    root: str | None
    rules: tuple[Rule, ...] = field(default_factory=tuple)
    _by_name: dict[str, Rule] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        # Looked up for each reference: a file with thousands of rules must not be searched.
        object.__setattr__(self, "_by_name", {rule.name: rule for rule in self.rules[::-1]})

    def __hash__(self) -> int:
        # Of what tells files apart at once; two with the same are compared rule by rule.
        return hash((self.file, len(self.rules)))

    def named(self, name: str) -> Rule | None:
        """The rule of that name, or None."""
        return self._by_name.get(name)
