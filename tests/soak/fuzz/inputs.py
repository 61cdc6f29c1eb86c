"""Inputs that nobody should give: each names a command, what it is given, and what of the good
ground is changed for it. All of it follows from a seed."""

from __future__ import annotations

import io
import random
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import soundfile
import yaml

from tests.session.talk import WHOLE_CASE
from tests.soak.fuzz.ground import (
    CLOSED,
    FORGED,
    SETTINGS,
    STOPPED,
    STORE,
    Ground,
    as_lines,
    forged,
    plain,
    rechained,
)
from tests.soak.fuzz.mutants import ODD_WORDS, garbled, restructured
from voicelist.errors import RecordError
from voicelist.record.exports import FORMATS
from voicelist.settings import KEYS

# Lists that are checked within seconds; the large ones are read by other commands.
_SMALL = ("injection", "briefing", "debriefing", "ours")
_ROOM = "work/room"
_PLAN_OF = {"injection": "practice-201", "briefing": "practice-301", "debriefing": "practice-302"}


@dataclass(frozen=True, slots=True)
class Input:
    """One command in the folder `work`; `files` are laid over the ground. `whole` is started as a
    process of its own, which may start others; `writes` may add to the store."""

    kind: str
    arguments: tuple[str, ...]
    files: Mapping[str, bytes] = field(default_factory=dict)
    typed: str = ""
    whole: bool = False
    writes: bool = False


Maker = Callable[[random.Random, Ground], Input]


def document(chance: random.Random, ground: Ground) -> Input:
    """A checklist, card, plan, lexicon, catalogue, limits or table."""
    kind = chance.choice(("checklists", "cards", "plans", "beside", "table"))
    name = {
        "checklists": f"{_ROOM}/checklists/{chance.choice(_SMALL)}.yaml",
        "cards": f"{_ROOM}/cards/demo-surgeon.yaml",
        "plans": f"{_ROOM}/plans/{chance.choice(('practice-007', *_PLAN_OF.values()))}.yaml",
        "beside": f"{_ROOM}/{chance.choice(('lexicon', 'sentences.en', 'limits'))}.yaml",
        "table": "work/lines.tsv",
    }[kind]
    data = ground.data(name)
    if kind != "table" and chance.random() < 0.5:
        value = restructured(chance, yaml.safe_load(data), chance.choice((1, 1, 3)))
        changed = yaml.safe_dump(value, allow_unicode=True, sort_keys=False).encode("utf-8")
    else:
        changed = garbled(chance, data)
    path = name.removeprefix("work/")
    arguments = chance.choice(_READERS[kind])(path)
    runs = arguments[0] == "run"
    typed = _talk(chance) if runs else ""
    return Input("documents", arguments, {name: changed}, typed, writes=runs)


_GRADE = ("--grade", "clinical 3")
_READERS: Mapping[str, tuple[Callable[[str], tuple[str, ...]], ...]] = {
    "checklists": (
        lambda path: ("check", path),
        lambda path: ("check", path),
        lambda path: ("help", path),
        lambda path: ("hear", path, "--lines", "lines.tsv", "--json"),
        lambda path: _run_or_print(path, "run"),
        lambda path: _run_or_print(path, "print"),
    ),
    "cards": (
        lambda path: ("check", path),
        lambda path: ("card", "show", path),
        lambda path: ("card", "compare", path, "room/cards/demo-surgeon-two.yaml"),
        lambda path: ("assess", "vacuum", "five", "hundred", "--card", path, *_GRADE, "--json"),
        lambda path: ("draw", "pulses", path, "-o", "out/p.svg", *_GRADE),
        lambda path: ("draw", "pedal", path, "-o", "out/p.svg", *_GRADE),
        lambda path: ("draw", "pressure", path, "-o", "out/p.svg", *_GRADE),
    ),
    "plans": (
        lambda path: ("help", path),
        lambda path: ("print", path, "-o", "out/list.pdf"),
        lambda path: ("draw", "incision", path, "-o", "out/eye.svg"),
        lambda path: ("run", path, "--typed"),
    ),
    "beside": (
        lambda path: ("check", path),
        lambda path: ("run", "room/plans/practice-201.yaml", "--typed"),
        lambda path: ("help", "room/checklists/injection.yaml"),
    ),
    "table": (
        lambda path: ("hear", "room/checklists/injection.yaml", "--lines", path, "--json"),
        lambda path: ("assess", "--card", "room/cards/demo-surgeon.yaml", "--lines", path),
        lambda path: ("hear", "room/checklists/injection.yaml", "clip.wav", "--expect", path),
    ),
}


def _run_or_print(path: str, command: str) -> tuple[str, ...]:
    plan = f"room/plans/{_PLAN_OF.get(Path(path).stem, 'practice-201')}.yaml"
    return (command, plan, "--typed") if command == "run" else ("print", plan, "-o", "out/l.pdf")


def _talk(chance: random.Random) -> str:
    """What is typed in a case: sentences of the list, odd words, and an end at any place."""
    lines = [chance.choice((*WHOLE_CASE, *ODD_WORDS)) for _ in range(chance.randrange(12))]
    return "\n".join(lines).encode("utf-8", "replace").decode()


def grammar(chance: random.Random, ground: Ground) -> Input:
    """A rules file, or a phrase that was made up."""
    if chance.random() < 0.5:
        name = chance.choice(ground.names(f"{_ROOM}/rules"))
        data = garbled(chance, ground.data(name))
        return Input("grammars", ("check", name.removeprefix("work/")), {name: data})
    head = "#ABNF 1.0 UTF-8;\nlanguage en-US;\nroot $said;\n"
    text = f"{head}public $said = {_phrase(chance, chance.randrange(1, 7))};\n"
    data = text.encode("utf-8", "surrogatepass")
    if chance.random() < 0.3:
        data = garbled(chance, data)
    listens = chance.random() < 0.1
    arguments = ("hear", "said.abnf", "clip.wav") if listens else ("check", "said.abnf")
    return Input("grammars", arguments, {"work/said.abnf": data}, whole=listens)


_LONG_PHRASE = 50_000
_LEAVES = ("yes", "no", "firm", "$NULL", "$VOID", "{tag}", '"two words"', "/2/ a", "$said")


def _phrase(chance: random.Random, depth: int) -> str:
    if depth <= 0 or chance.random() < 0.2:
        return chance.choice((*_LEAVES, chance.choice(ODD_WORDS)))
    parts = [_phrase(chance, depth - 1) for _ in range(chance.randrange(1, 5))]
    if sum(map(len, parts)) > _LONG_PHRASE:
        return parts[0][:_LONG_PHRASE]
    return chance.choice(
        (
            " ".join(parts),
            f"({' | '.join(parts)})",
            f"[{parts[0]}]",
            f"({parts[0]}) <{chance.randrange(3)}-{chance.randrange(60)}>",
            f"({' | '.join(parts * 40)})",
        )
    )


def sound(chance: random.Random, ground: Ground) -> Input:
    """A file that is called sound."""
    name = chance.choice(("clip.wav", "clip.flac", "room.wav"))
    if chance.random() < 0.6:
        data = garbled(chance, ground.data(f"work/{name}"))
        name = chance.choice((name, name, "odd.wav", "odd.ogg", "odd.mp3", "odd.raw", "odd"))
    else:
        name, data = "made.wav", _made(chance)
    grammars = ("room/checklists/injection.yaml", "room/rules/states.abnf")
    plan = "room/plans/practice-201.yaml"
    arguments = chance.choice(
        (
            ("hear", chance.choice(grammars), name, "--json"),
            ("hear", grammars[0], name, "--stream", "--json"),
            ("hear", grammars[0], name, "--channel", str(chance.randrange(3))),
            ("run", plan, "--audio", name, "--pace", "fast", "--voice", "none"),
        )
    )
    return Input(
        "sound", arguments, {f"work/{name}": data}, whole=True, writes=arguments[0] == "run"
    )


def _made(chance: random.Random) -> bytes:
    """Noise, silence or extremes, in any rate and form."""
    rate = chance.choice((1, 8_000, 11_025, 16_000, 44_100, 96_000, 192_000, 400_000))
    channels = chance.choice((1, 2, 3, 8))
    shape = (chance.choice((0, 1, 160, rate // 2)), channels)
    wave = np.random.default_rng(chance.randrange(2**32)).normal(0.0, 0.3, shape)
    form = chance.choice(("PCM_16", "PCM_U8", "FLOAT", "DOUBLE", "ULAW"))
    # Written as any other form, such values end the library that writes them.
    if wave.size and form in ("FLOAT", "DOUBLE") and chance.random() < 0.6:
        wave[chance.randrange(len(wave))] = chance.choice((np.nan, np.inf, 1e30))
    file = io.BytesIO()
    soundfile.write(file, wave, rate, format="WAV", subtype=form)
    data = file.getvalue()
    return garbled(chance, data) if chance.random() < 0.3 else data


def journal(chance: random.Random, ground: Ground) -> Input:
    """A journal, proof, key or signature, or a store, whose bytes or events are others."""
    return chance.choice((_journal_file, _paper_beside, _forged_store, _forged_store, _flipped))(
        chance, ground
    )


def _journal_file(chance: random.Random, ground: Ground) -> Input:
    data = ground.data("work/case.jsonl")
    if chance.random() < 0.5:
        data = as_lines(rechained(_other_events(chance, ground), ground.entries(CLOSED)))
    else:
        data = garbled(chance, data)
    head = ("--head", chance.choice((ground.heads[CLOSED], *ODD_WORDS[:9])))
    arguments = ("record", "verify", "./case.jsonl", *chance.choice(((), head)))
    return Input("journals", arguments, {"work/case.jsonl": data})


def _paper_beside(chance: random.Random, ground: Ground) -> Input:
    signed = ("record", "verify", CLOSED, "--signed", "case.signed", "--by", "site+1234+AAAA")
    name, arguments = chance.choice(
        (
            ("item.json", ("record", "verify", "./item.json", "--head", ground.heads[CLOSED])),
            ("case.signed", signed),
            ("site.key", ("record", "sign", CLOSED, "--key", "site.key", "-o", "out/signed")),
            ("sound.key", ("record", "sound", CLOSED, "--key", "sound.key", "-o", "out/sound")),
        )
    )
    data = garbled(chance, ground.data(f"work/{name}"))
    return Input("journals", arguments, {f"work/{name}": data})


def _other_events(chance: random.Random, ground: Ground) -> list[tuple[str, Any]]:
    """Events that say something else, or stand elsewhere, and are linked as they should be."""
    entries = ground.entries(CLOSED)
    while True:
        bodies = plain(entries)
        for _ in range(chance.choice((1, 1, 2, 5))):
            at = chance.randrange(len(bodies))
            kind, body = bodies[at]
            bodies[at] = (kind, restructured(chance, body or {"x": 1}, chance.choice((1, 2))))
        if chance.random() < 0.3:
            at = chance.randrange(len(bodies))
            bodies.insert(chance.randrange(len(bodies)), bodies.pop(at))
        try:
            rechained(bodies, entries)
        except RecordError:
            continue
        return bodies


def _forged_store(chance: random.Random, ground: Ground) -> Input:
    data = forged(_other_events(chance, ground), ground.entries(CLOSED))
    return Input("journals", _looks_at(chance, "forged.sqlite3"), {FORGED: data})


def _flipped(chance: random.Random, ground: Ground) -> Input:
    data = garbled(chance, ground.data(STORE))
    return Input("journals", _looks_at(chance, "forged.sqlite3"), {FORGED: data})


def _looks_at(chance: random.Random, file: str) -> tuple[str, ...]:
    form = chance.choice(FORMATS)
    command = chance.choice(
        (
            ("record", "show", CLOSED),
            ("record", "verify", CLOSED),
            ("record", "verify", "--all"),
            ("record", "list", *chance.choice(((), ("--json",)))),
            ("record", "wordings", "--unverified"),
            ("record", "export", CLOSED, "--format", form, "-o", "out/case"),
            ("record", "export", CLOSED, "--format", form, "-o", "out/case"),
            ("record", "export", "--all", "--format", form, "-o", "out/cases"),
            ("record", "export", "--all", "--format", "parquet", "-o", "out/tables"),
            ("record", "prove", CLOSED, "eye", "-o", "out/item.json"),
            ("record", "sound", CLOSED),
            ("print", CLOSED, "-o", "out/rest.pdf"),
            ("draw", "timeline", CLOSED, "-o", "out/case.svg"),
            ("resume", CLOSED, "--typed"),
        )
    )
    return (*command, "--store", f"sqlite:///{file}")


def settings(chance: random.Random, ground: Ground) -> Input:
    """A settings file, and a command that reads it."""
    if chance.random() < 0.6:
        data = garbled(chance, ground.data(SETTINGS))
    else:
        lines = (f"{chance.choice(tuple(KEYS))}: {chance.choice(ODD_WORDS)}" for _ in range(3))
        data = "\n".join(lines).encode("utf-8", "surrogatepass")
    plan = "room/plans/practice-201.yaml"
    arguments = chance.choice(
        (
            ("record", "list"),
            ("record", "show", CLOSED),
            ("card", "show", "room/cards/demo-surgeon.yaml"),
            ("run", plan, "--typed", "--voice", "none", "--no-display"),
        )
    )
    return Input("settings", arguments, {SETTINGS: data}, writes=arguments[0] == "run")


def arguments(chance: random.Random, ground: Ground) -> Input:
    """A command line with words left out, doubled, exchanged or put in."""
    command = list(chance.choice(_COMMANDS))
    for _ in range(chance.choice((1, 1, 2, 4))):
        at = chance.randrange(len(command) + 1)
        what = chance.randrange(4)
        if what == 0 and command[at:]:
            del command[at]
        elif what == 1 and command[at:]:
            command[at] = _word(chance)
        elif what == 2 and command[at:]:
            command.insert(at, command[at])
        else:
            command.insert(at, _word(chance))
    writes = {"run", "resume", "amend", "erase", "sound-key"} & set(command)
    return Input("arguments", tuple(command), typed=_talk(chance), writes=bool(writes))


def _word(chance: random.Random) -> str:
    others = tuple(word for one in _COMMANDS for word in one)
    # As a shell hands over a byte that is no UTF-8.
    odd = chance.choice(ODD_WORDS).replace("\x00", "").replace("\ud800", "\udcff")
    return chance.choice((odd, odd, chance.choice(others), "--help", "-o", "--json", "."))


_OUT = ("-o", "out/written")
_ROLE = ("--reason", "found later", "--role", "team-lead")
_COMMANDS: tuple[tuple[str, ...], ...] = (
    ("record", "list", "--oldest", "2"),
    ("record", "show", CLOSED),
    ("record", "verify", CLOSED, "--head", "0" * 64),
    ("record", "export", CLOSED, "--format", "json", *_OUT),
    ("record", "export", "--all", "--since", "2031-01-01", "--format", "text", *_OUT),
    ("record", "amend", CLOSED, "label kept", *_ROLE, "--item", "eye", "--paper-time", "14:05"),
    ("record", "erase", STOPPED, *_ROLE, "--yes"),
    ("record", "erase", "--older-than", "3650", *_ROLE, "--yes"),
    ("record", "prove", CLOSED, "eye", *_OUT),
    ("record", "sound", CLOSED, "--key", "sound.key", *_OUT),
    ("record", "wordings", "--at-least", "1", "--json"),
    ("assess", "vacuum five hundred", "--card", "room/cards/demo-surgeon.yaml", *_GRADE),
    ("card", "compare", "room/cards/demo-surgeon.yaml", "room/cards/demo-surgeon-two.yaml"),
    ("card", "new", "--scale", "clinical", *_OUT),
    ("checklist", "new", "--item", "suction: working / weak", "--role", "nurse", *_OUT),
    ("plan", "new", "--checklist", "injection", "--eye", "left", "--case", "room-12", *_OUT),
    ("plan", "new", "--checklist", "phaco", "--lens-power", "21.5", "--number", "12", *_OUT),
    ("help", "room/plans/practice-201.yaml"),
    ("schema", "card", *_OUT),
    ("print", CLOSED, "-o", "out/rest.pdf"),
    ("draw", "pedal", "room/cards/demo-surgeon.yaml", *_GRADE, "-o", "out/pedal.svg"),
    ("draw", "incision", "room/plans/practice-007.yaml", "-o", "out/eye.svg"),
    ("run", "room/plans/practice-201.yaml", "--typed", "--from", "before"),
    ("resume", STOPPED, "--typed", "--store", "sqlite:///../home/data/voicelist/records.sqlite3"),
    ("hear", "room/checklists/injection.yaml", "--lines", "lines.tsv", "--json"),
    ("department", "standing"),
)

# Of 2,000; sound costs most, for each starts a recogniser.
SHARES: Mapping[Maker, int] = {
    document: 600,
    grammar: 250,
    sound: 150,
    journal: 500,
    settings: 200,
    arguments: 300,
}


def input_of(ground: Ground, number: int, seed: int) -> Input:
    """The input of a number, the same whatever others are made; the numbers mix all kinds."""
    makers = [maker for maker, share in SHARES.items() for _ in range(share)]
    random.Random(seed).shuffle(makers)
    return makers[number % len(makers)](random.Random(f"{seed}/{number}"), ground)
