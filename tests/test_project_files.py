"""The files around the code keep the promises that DEVELOPERS.md makes for them."""

from __future__ import annotations

import ast
import importlib.util
import os
import re
import shutil
import subprocess
import tomllib
from pathlib import Path
from types import ModuleType

import pytest

from voicelist import __version__

PROJECT = Path(__file__).resolve().parents[1]
PRODUCT = PROJECT / "voicelist"
FOLDERS = sorted(path.parent for path in PRODUCT.glob("*/__init__.py"))

MOST_LINES = 400
MOST_LINES_OF_A_FUNCTION = 40
NEVER_LOOKED_AT = {".git", ".venv", "__pycache__", "build", "dist"}

# In parts, so that this file does not hold what it looks for.
REGISTRIES = (
    ("pypi", "org"),
    ("pythonhosted", "org"),
    ("maven", "org"),
    ("maven.apache", "org"),
    ("npmjs", "org"),
    ("npmjs", "com"),
    ("crates", "io"),
    ("golang", "org"),
    ("rubygems", "org"),
    ("docker", "io"),
    ("debian", "org"),
    ("huggingface", "co"),
)
REGISTRY = re.compile("|".join(re.escape(".".join(parts)) for parts in REGISTRIES))
MACHINE_FOLDERS = ("work", "root", "home", "Users", "tmp/dev")
MACHINE_PATH = re.compile(rf"(?<![\w.])/(?:{'|'.join(MACHINE_FOLDERS)})/\w")


def tracked_files() -> list[Path]:
    """The files under version control; without it, all files that are not made by tools."""
    git = shutil.which("git")
    if git and (PROJECT / ".git").exists():
        safe = f"safe.directory={PROJECT}"
        listed = subprocess.run(
            [git, "-C", str(PROJECT), "-c", safe, "ls-files", "-z"],
            capture_output=True,
            check=True,
        )
        names = listed.stdout.decode().split("\0")
        return [PROJECT / name for name in names if name and (PROJECT / name).is_file()]
    return [
        path
        for path in PROJECT.rglob("*")
        if path.is_file() and not NEVER_LOOKED_AT.intersection(path.relative_to(PROJECT).parts)
    ]


def tracked_texts() -> list[tuple[str, str]]:
    """Name and text of every tracked file that is text."""
    texts = []
    for path in tracked_files():
        try:
            text = path.read_bytes().decode("utf-8")
        except UnicodeDecodeError:
            continue
        texts.append((str(path.relative_to(PROJECT)), text))
    return texts


def lines_with(pattern: re.Pattern[str]) -> list[str]:
    return [
        f"{name}:{number}: {line.strip()}"
        for name, text in tracked_texts()
        for number, line in enumerate(text.splitlines(), start=1)
        if pattern.search(line)
    ]


def sources() -> list[Path]:
    return sorted(PRODUCT.rglob("*.py"))


def test_the_patterns_find_what_they_are_for() -> None:
    assert REGISTRY.search("https://" + ".".join(("files", "pythonhosted", "org")))
    assert MACHINE_PATH.search("see " + "/".join(("", "root", "notes")))
    assert not MACHINE_PATH.search("grammars/root/x and ./work/x")


def test_no_tracked_file_names_a_package_registry() -> None:
    assert lines_with(REGISTRY) == []


def test_no_tracked_file_holds_a_path_of_some_machine() -> None:
    assert lines_with(MACHINE_PATH) == []


@pytest.mark.parametrize("folder", FOLDERS, ids=lambda folder: folder.name)
def test_a_folder_says_in_its_first_lines_what_lives_there_and_what_it_may_import(
    folder: Path,
) -> None:
    told = ast.get_docstring(ast.parse((folder / "__init__.py").read_text(encoding="utf-8")))
    assert told is not None
    assert len(told.split()) >= 15
    assert "mport" in told


def test_no_source_file_is_longer_than_400_lines() -> None:
    lengths = {path: len(path.read_text(encoding="utf-8").splitlines()) for path in sources()}
    assert lengths
    assert {str(path): count for path, count in lengths.items() if count > MOST_LINES} == {}


def test_no_function_is_longer_than_40_lines() -> None:
    too_long = [
        f"{path.relative_to(PROJECT)}:{node.lineno}: {node.name} has {_own_lines(node)} lines"
        for path in sources()
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
        and _own_lines(node) > MOST_LINES_OF_A_FUNCTION
    ]
    assert too_long == []


def _own_lines(function: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    """The lines of the body without its docstring: signatures of commands are tables of options."""
    body = function.body[1:] if ast.get_docstring(function) is not None else function.body
    return (body[-1].end_lineno or 0) - body[0].lineno + 1 if body else 0


def test_only_the_command_line_prints() -> None:
    printing = [
        f"{path.relative_to(PROJECT)}:{node.lineno}"
        for path in sources()
        if path.name != "cli.py"
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Call)
        and isinstance(node.func, ast.Name)
        and node.func.id == "print"
    ]
    assert printing == []


def test_every_version_is_the_same() -> None:
    package = tomllib.loads((PROJECT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    changelog = (PROJECT / "docs" / "changelog.md").read_text(encoding="utf-8")
    newest = re.search(r"^## (\d+\.\d+\.\d+)$", changelog, re.MULTILINE)
    assert newest is not None
    assert package["version"] == __version__ == newest[1]


def test_the_licence_is_apache_2_and_the_package_says_so() -> None:
    package = tomllib.loads((PROJECT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    text = (PROJECT / "LICENSE").read_text(encoding="utf-8")
    assert package["license"] == "Apache-2.0"
    assert "Version 2.0, January 2004" in text
    assert "END OF TERMS AND CONDITIONS" in text


def test_the_command_that_checks_everything_can_be_run() -> None:
    script = PROJECT / ".ci" / "run"
    assert os.access(script, os.X_OK)
    bash = shutil.which("bash")
    if bash is None:
        pytest.skip("there is no bash here")
    subprocess.run([bash, "-n", str(script)], check=True)


def test_no_class_name_stands_in_two_modules() -> None:
    """One name for one thing."""
    modules: dict[str, set[str]] = {}
    for file in sorted((PROJECT / "voicelist").rglob("*.py")):
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ClassDef):
                modules.setdefault(node.name, set()).add(str(file.relative_to(PRODUCT)))
    twice = {name: sorted(found) for name, found in modules.items() if len(found) > 1}
    assert not twice


def test_programs_that_no_test_runs_import_what_there_is() -> None:
    """A name that moved would be noticed years later, when somebody measures."""
    gone = []
    for folder in ("tests/benchmarks", "tests/soak", "tests/team", "tools"):
        for script in sorted(PROJECT.joinpath(folder).rglob("*.py")):
            for node in ast.walk(ast.parse(script.read_text(encoding="utf-8"))):
                if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("voicelist"):
                    module = importlib.import_module(node.module or "")
                    names = [one.name for one in node.names if not hasattr(module, one.name)]
                    gone += [f"{script.name}: {one}" for one in names if not _is_below(module, one)]
                if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("tests"):
                    there = _names_in(PROJECT.joinpath(*(node.module or "").split(".")))
                    lost = [one.name for one in node.names if one.name not in there]
                    gone += [f"{script.name}: {one}" for one in lost]
    assert gone == []


def _names_in(place: Path) -> set[str]:
    """What can be imported from a module or package of the tests, without running it: some need
    what only those have who measure."""
    if place.is_dir():
        return {one.stem for one in place.iterdir()}
    file = place.with_suffix(".py")
    nodes = ast.parse(file.read_text(encoding="utf-8")).body if file.is_file() else []
    names = {one.name for one in nodes if isinstance(one, ast.FunctionDef | ast.ClassDef)}
    for node in nodes:
        if isinstance(node, ast.Import | ast.ImportFrom):
            names |= {one.asname or one.name for one in node.names}
        elif isinstance(node, ast.Assign | ast.AnnAssign):
            targets = node.targets if isinstance(node, ast.Assign) else [node.target]
            every = [one for target in targets for one in ast.walk(target)]
            names |= {one.id for one in every if isinstance(one, ast.Name)}
    return names


def _is_below(module: ModuleType, name: str) -> bool:
    """Whether a module of that name lies in a package."""
    full = f"{module.__name__}.{name}"
    return hasattr(module, "__path__") and importlib.util.find_spec(full) is not None


def test_scripts_reach_for_this_checkout_before_they_import_the_product() -> None:
    """Where voicelist is installed as a wheel, a script would otherwise play that one."""
    late = []
    for script in (*PROJECT.glob("tests/soak/*.py"), *PROJECT.glob("tests/benchmarks/**/*.py")):
        lines = script.read_text(encoding="utf-8").splitlines()
        reach = next((n for n, line in enumerate(lines) if line.startswith("sys.path.insert")), 0)
        if any(re.match(r"(?:from|import) voicelist\b", line) for line in lines[:reach]):
            late.append(script.name)
    assert late == []
