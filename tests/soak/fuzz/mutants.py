"""What is done to a good input: bytes and lines are garbled, values inside it exchanged. All of it
follows from a seed."""

from __future__ import annotations

import copy
import random
from collections.abc import Callable, Iterator
from typing import Any

# Values and words on which readers stumble.
ODD_WORDS = (
    "",
    " ",
    "null",
    "yes",
    "off",
    "~",
    "0x10",
    "1_000",
    "1e400",
    ".nan",
    "-.inf",
    "99999999999999999999999",
    "-0",
    "+",
    "1:30",
    "2031-02-30",
    "[]",
    "{}",
    "[[[[[[[[",
    "{a: {b: ",
    "&a",
    "*a",
    "<<: *a",
    "!!python/object:os.system ls",
    "!!binary aGk=",
    "? x",
    "| ",
    "'",
    '"',
    "---",
    "...",
    "%YAML 9.9",
    "#",
    "$$",
    "$unknown",
    "<0-99999>",
    "/0/",
    "{{ 7*7 }}",
    "${HOME}",
    "../beside",
    "a" * 5_000,
    "word " * 300,
    "\N{RIGHT-TO-LEFT OVERRIDE}left",
    "\N{ESCAPE}[2J\N{ESCAPE}]0;x\N{BELL}",
    "\N{ZERO WIDTH SPACE}",
    "\N{CYRILLIC SMALL LETTER A}",
    "\N{PILE OF POO}",
    "e\N{COMBINING ACUTE ACCENT}",
    "\N{FULLWIDTH EQUALS SIGN}1+1",
    "\t",
    "\r",
    "\x00",
    "\ud800",
)
ODD_VALUES: tuple[Any, ...] = (
    None,
    True,
    False,
    0,
    -1,
    1,
    2**53,
    -(2**53),
    0.1,
    1e-300,
    1e300,
    "",
    "x",
    "left",
    [],
    {},
    [[]],
    [None],
    {"": ""},
    {"value": None},
    {"value": {"value": 1}},
    ["a", 1, None, {}],
    *(word for word in ODD_WORDS if word.isprintable()),
)


def garbled(chance: random.Random, data: bytes) -> bytes:
    """One to three changes of lines or bytes."""
    for _ in range(chance.choice((1, 1, 2, 3))):
        data = chance.choice(_CHANGES)(chance, data)
    return data


def restructured(chance: random.Random, value: Any, times: int = 1) -> Any:
    """A copy with values exchanged, taken away, doubled or put under another name."""
    value = copy.deepcopy(value)
    for _ in range(times):
        places = list(_places(value))
        if not places:
            return value
        container, key = chance.choice(places)
        _change(chance, container, key)
    return value


def _places(value: Any) -> Iterator[tuple[Any, Any]]:
    keys = value if isinstance(value, dict) else range(len(value)) if _is_list(value) else ()
    for key in list(keys):
        yield value, key
        yield from _places(value[key])


def _is_list(value: Any) -> bool:
    return isinstance(value, list)


def _change(chance: random.Random, container: Any, key: Any) -> None:
    what = chance.randrange(6)
    if what == 0:
        del container[key]
    elif what == 1 and isinstance(container, dict):
        container[chance.choice((str(key) + "s", "", "x", str(key).upper()))] = container.pop(key)
    elif what == 2 and isinstance(container, list):
        container.insert(chance.randrange(len(container) + 1), copy.deepcopy(container[key]))
    elif what == 3 and isinstance(container[key], str):
        container[key] = _odd_text(chance, container[key])
    else:
        container[key] = copy.deepcopy(chance.choice(ODD_VALUES))


def _odd_text(chance: random.Random, text: str) -> str:
    at = chance.randrange(len(text) + 1)
    odd = chance.choice([word for word in ODD_WORDS if "\ud800" not in word])
    return chance.choice((text[:at], text[at:], text[:at] + odd + text[at:], odd, text * 2))


def _odd_bytes(chance: random.Random) -> bytes:
    if chance.random() < 0.3:
        return chance.randbytes(chance.choice((1, 4, 64)))
    return chance.choice(ODD_WORDS).encode("utf-8", "surrogatepass")


def _lines(change: Callable[[random.Random, list[bytes]], None]) -> Any:
    def changed(chance: random.Random, data: bytes) -> bytes:
        lines = data.split(b"\n")
        change(chance, lines)
        return b"\n".join(lines)

    return changed


def _drop(chance: random.Random, lines: list[bytes]) -> None:
    del lines[chance.randrange(len(lines))]


def _double(chance: random.Random, lines: list[bytes]) -> None:
    at = chance.randrange(len(lines))
    lines[at:at] = [lines[at]] * chance.choice((1, 1, 40))


def _swap(chance: random.Random, lines: list[bytes]) -> None:
    one, other = chance.randrange(len(lines)), chance.randrange(len(lines))
    lines[one], lines[other] = lines[other], lines[one]


def _indent(chance: random.Random, lines: list[bytes]) -> None:
    at = chance.randrange(len(lines))
    lines[at] = chance.choice((b" " + lines[at], b"\t" + lines[at], lines[at].lstrip()))


def _exchange(chance: random.Random, lines: list[bytes]) -> None:
    """What stands behind a colon, an equals sign or a tab, or the last word."""
    at = chance.randrange(len(lines))
    for mark in (b": ", b" = ", b"\t", b" "):
        head, found, _ = lines[at].partition(mark)
        if found:
            lines[at] = head + found + _odd_bytes(chance)
            return
    lines[at] = _odd_bytes(chance)


def _insert(chance: random.Random, data: bytes) -> bytes:
    at = chance.randrange(len(data) + 1)
    return data[:at] + _odd_bytes(chance) + data[at:]


def _flip(chance: random.Random, data: bytes) -> bytes:
    changed = bytearray(data)
    for _ in range(chance.choice((1, 1, 8))):
        if changed:
            changed[chance.randrange(len(changed))] ^= 1 << chance.randrange(8)
    return bytes(changed)


def _cut(chance: random.Random, data: bytes) -> bytes:
    return data[: chance.randrange(len(data) + 1)]


def _take_out(chance: random.Random, data: bytes) -> bytes:
    begin, end = sorted((chance.randrange(len(data) + 1), chance.randrange(len(data) + 1)))
    return data[:begin] + data[end:]


def _repeat(chance: random.Random, data: bytes) -> bytes:
    begin = chance.randrange(len(data) + 1)
    part = data[begin : begin + chance.randrange(1, 400)]
    return data[:begin] + part * chance.choice((2, 50, 2_000)) + data[begin:]


def _encode(chance: random.Random, data: bytes) -> bytes:
    text = data.decode("utf-8", "replace")
    if chance.random() < 0.5:
        return text.replace("\n", "\r\n").encode("utf-8-sig")
    return text.encode(chance.choice(("utf-16", "utf-32", "utf-8-sig")))


def _nest(chance: random.Random, data: bytes) -> bytes:
    at = chance.randrange(len(data) + 1)
    opened = chance.choice((b"[", b"(", b"{", b"- ", b"? ", b"[a, "))
    return data[:at] + opened * chance.choice((30, 500, 20_000)) + data[at:]


_CHANGES: tuple[Callable[[random.Random, bytes], bytes], ...] = (
    _lines(_drop),
    _lines(_double),
    _lines(_swap),
    _lines(_indent),
    _lines(_exchange),
    _lines(_exchange),
    _insert,
    _insert,
    _flip,
    _flip,
    _cut,
    _take_out,
    _repeat,
    _encode,
    _nest,
)
