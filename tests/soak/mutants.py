"""Whether the tests notice a changed decision: small changes to its stages, one at a time.

    python tests/soak/mutants.py [--reduced] [--seed N] [--mutants N] [--only MODULE...]

In a copy of the checkout one place of one stage is changed (a comparison, `and` and `or`, a `not`,
a number, a returned value, a statement left out), and the tests that guard the stages are run:
first the module's own, then the others. A change that they notice has died. The changes are drawn
from a seed, as many of each module; those that change nothing anybody could notice are named below,
each with its reason, and are not drawn. Exit code 1 if fewer than 90% died; in a reduced run, if
chance does not explain so few.
"""

from __future__ import annotations

import argparse
import ast
import importlib.util
import os
import random
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import chain, islice, zip_longest
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.benchmarks.harness.measured import print_table, wilson_95
from tests.benchmarks.harness.places import CHECKOUT

UNDERSTANDING = (
    "decision interpretation rejection voting verification out_of_grammar parsing confusables "
    "around repair near_by_phones both_models"
)
MODULES = (
    *(f"voicelist/understanding/{name}.py" for name in UNDERSTANDING.split()),
    "voicelist/listening/free_transcript.py",
    "voicelist/listening/both_hear.py",
)
GUARDS = (
    "tests/understanding",
    *(f"tests/listening/test_{name}.py" for name in ("both_hear", "free_transcript")),
    *(f"tests/listening/test_{name}.py" for name in ("heard_again", "channels", "one_of_two")),
    *(f"tests/session/test_plain_speech{name}.py" for name in ("", "_around", "_near_misses")),
)
COPIED = ("voicelist", "tests", "grammars", "audio_fixtures_synthetic", "pyproject.toml")
MUTANTS, REDUCED, AIM = 84, 3, 0.9
_AT_MOST_S = 400
_SWAPPED: dict[type[ast.AST], tuple[type[ast.AST], ...]] = {
    ast.Lt: (ast.LtE, ast.Gt),
    ast.LtE: (ast.Lt, ast.GtE),
    ast.Gt: (ast.GtE, ast.Lt),
    ast.GtE: (ast.Gt, ast.LtE),
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
    ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,),
    ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
    ast.And: (ast.Or,),
    ast.Or: (ast.And,),
}
# Nobody could notice these: where, what stands there, what would stand there; and why.
EQUIVALENT: dict[tuple[str, str, str], str] = {
    ("around._is_in_order", "return False", "return None"): "it is only asked whether it is so",
    (
        "near_by_phones._answer",
        "if states and (not near[id(about.good)]) and (not near[id(about.deed)]):\n    return None",
        "pass",
    ): "a short cut: without a good phrase nearby the search finds no answer either",
}


@dataclass(frozen=True, slots=True)
class Mutant:
    """A module with one place changed."""

    module: str
    function: str
    line: int
    was: str
    now: str
    change: _Put

    @property
    def key(self) -> tuple[str, str, str]:
        return f"{Path(self.module).stem}.{self.function}", self.was, self.now

    def text(self, whole: str) -> str:
        """The text of the module, changed."""
        return ast.unparse(self.change.visit(ast.parse(whole)))


def mutants_of(module: str, whole: str) -> Iterator[Mutant]:
    """All of a module, in its order."""
    for function, place in _places(ast.parse(whole)):
        for changed in _changes(place):
            was, now = ast.unparse(place), ast.unparse(changed)
            if was != now:
                line = getattr(place, "lineno", 0)
                yield Mutant(module, function, line, was, now, _Put(place, changed))


def _places(node: ast.AST, function: str = "") -> Iterator[tuple[str, ast.AST]]:
    """What runs, and in which function: no annotation, no decorator, no import."""
    if isinstance(node, ast.FunctionDef):
        function = node.name
    for name, value in ast.iter_fields(node):
        if name in ("annotation", "returns", "decorator_list", "type_params"):
            continue
        for child in value if isinstance(value, list) else [value]:
            if isinstance(child, ast.AST) and not isinstance(child, ast.Import | ast.ImportFrom):
                yield function, child
                yield from _places(child, function)


def _changes(node: ast.AST) -> Iterator[ast.AST]:
    """A node, each way it is changed."""
    match node:
        case ast.Compare(ops=[only]):
            for other in _SWAPPED.get(type(only), ()):
                yield ast.Compare(node.left, [other()], node.comparators)  # type: ignore[list-item]  # a comparison, by the table
        case ast.BoolOp(op=op):
            for other in _SWAPPED[type(op)]:
                yield ast.BoolOp(other(), node.values)  # type: ignore[arg-type]  # "and" or "or", by the table
        case ast.UnaryOp(op=ast.Not()):
            yield node.operand
        case ast.Constant(value=bool(value)):
            yield ast.Constant(not value)
        case ast.Constant(value=int(value) | float(value)):
            yield ast.Constant(value + 1)
        case ast.Return(value=ast.expr()):
            yield ast.Return(ast.Constant(None))
        case ast.Expr(value=ast.Call()) | ast.AugAssign() | ast.Continue() | ast.If():
            yield ast.Pass()


class _Put(ast.NodeTransformer):
    """Puts a changed node where one stood, found by its place and kind."""

    def __init__(self, place: ast.AST, changed: ast.AST) -> None:
        self._place, self._changed = (type(place), _where(place)), changed

    def visit(self, node: ast.AST) -> ast.AST:
        if (type(node), _where(node)) == self._place:
            return self._changed
        return self.generic_visit(node)


def _where(node: ast.AST) -> tuple[object, ...]:
    return tuple(getattr(node, f"{end}{what}", None) for end in ("", "end_") for what in _SPOT)


_SPOT = ("lineno", "col_offset")


def drawn(seed: int, number: int, only: list[str]) -> list[Mutant]:
    """So many mutants, taken from the modules in turn; nothing that is `EQUIVALENT`."""
    chance = random.Random(seed)
    decks = []
    for module in MODULES:
        deck = list(mutants_of(module, (CHECKOUT / module).read_text(encoding="utf-8")))
        chance.shuffle(deck)
        if not only or Path(module).stem in only:
            decks.append([one for one in deck if one.key not in EQUIVALENT])
    in_turn = (one for one in chain.from_iterable(zip_longest(*decks)) if one is not None)
    return list(islice(in_turn, number))


class Copy:
    """A copy of the checkout, in which one module at a time is another."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        for name in COPIED:
            there = CHECKOUT / name
            copied = shutil.copytree if there.is_dir() else shutil.copyfile
            copied(there, folder / name)

    def survives(self, mutant: Mutant) -> bool:
        """Whether no test notices. What never ends is noticed."""
        file = self._folder / mutant.module
        whole = file.read_text(encoding="utf-8")
        try:
            self._write(file, mutant.text(whole))
            own = next(self._folder.glob(f"tests/*/test_{file.stem}.py"), None)
            return (own is None or self.passes(str(own))) and self.passes(*GUARDS)
        finally:
            self._write(file, whole)

    def passes(self, *tests: str) -> bool:
        """Whether tests pass here."""
        command = [sys.executable, "-m", "pytest", "-x", "-q", "--hypothesis-seed=0", *tests]
        alone = {**os.environ, "PYTHONPATH": str(self._folder)}
        alone.pop("PYTHONDONTWRITEBYTECODE", None)
        try:
            ended = subprocess.run(
                command,
                cwd=self._folder,
                env=alone,
                capture_output=True,
                check=False,
                timeout=_AT_MOST_S,
            )
        except subprocess.TimeoutExpired:
            return False
        return ended.returncode == 0

    @staticmethod
    def _write(file: Path, text: str) -> None:
        # Two versions written within a second would share what is compiled.
        Path(importlib.util.cache_from_source(str(file))).unlink(missing_ok=True)
        file.write_text(text, encoding="utf-8")


def main() -> int:
    """The command."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n\n")[0])
    parser.add_argument("--reduced", action="store_true")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--mutants", type=int, default=MUTANTS)
    parser.add_argument("--only", nargs="*", default=[], metavar="MODULE")
    asked = parser.parse_args()
    chosen = drawn(asked.seed, REDUCED if asked.reduced else asked.mutants, asked.only)
    survivors = []
    with tempfile.TemporaryDirectory() as folder:
        there = Copy(Path(folder))
        if not asked.reduced and not there.passes(*GUARDS):
            print("The tests do not pass as it is: make them pass first.")
            return 1
        for mutant in chosen:
            began_s = time.monotonic()
            if there.survives(mutant):
                survivors.append(mutant)
            told = "SURVIVES" if mutant in survivors[-1:] else "died"
            where = f"{Path(mutant.module).stem}:{mutant.line}"
            print(f"{told:9} {time.monotonic() - began_s:4.0f} s  {where}  {_short(mutant)}")
    died, of = len(chosen) - len(survivors), len(chosen)
    low, high = wilson_95(died, of)
    rows = [(f"{Path(one.module).stem}:{one.line}", one.was, one.now) for one in survivors]
    print_table(f"Survivors; {died} of {of} died ({low:.2f}-{high:.2f})", ("", "was", "now"), rows)
    return 0 if (high if asked.reduced else died / of) >= AIM else 1


def _short(mutant: Mutant) -> str:
    return " ".join(f"{mutant.was} -> {mutant.now}".split())[:150]


if __name__ == "__main__":
    sys.exit(main())
