"""Imports point down: a floor may import the floors below it, never one above or beside it."""

from __future__ import annotations

import ast
import functools
import re
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

import sunsched

ROOT = Path(sunsched.__file__).parent
FLOORS = (
    *("base", "sky", "hardware", "plan", "table", "controller", "study", "emit"),
    *("config", "job", "report", "planner", "cli"),
)
# The configuration stands high because it touches files, but builds on little.
ONLY = {"config": {"base", "hardware", "plan"}, "emit": {"base", "hardware", "plan", "table", "controller"}}


@functools.cache
def tree_of(text: str) -> ast.Module:
    """A file's text as Python reads it: every rule looks at every file."""
    return ast.parse(text)


def imports_of(path: Path) -> list[tuple[int, str]]:
    """Line and floor of every import of the project's own modules in a file."""
    found: list[tuple[int, str]] = []
    for node in ast.walk(tree_of(path.read_text(encoding="utf-8"))):
        if not isinstance(node, ast.ImportFrom | ast.Import):
            continue
        names = [alias.name for alias in node.names]
        if isinstance(node, ast.ImportFrom):
            names = [f"sunsched.{name}" for name in names] if node.module == "sunsched" else [node.module or ""]
        found += [(node.lineno, name.split(".")[1]) for name in names if name.startswith("sunsched.")]
    return found


def test_imports_point_down() -> None:
    wrong = []
    for path in sorted(ROOT.rglob("*.py")):
        floor = path.relative_to(ROOT).parts[0]
        if floor not in FLOORS:
            continue
        below = ONLY.get(floor, set(FLOORS[: FLOORS.index(floor)]))
        for line, target in imports_of(path):
            if target in FLOORS and target != floor and target not in below:
                wrong.append(f"{path.relative_to(ROOT)}:{line} imports {target}, which is no floor below {floor}")
    assert not wrong, "\n".join(wrong)


def module_of(path: Path) -> str:
    """The dotted name of a file of the package, `sunsched.plan.day`; a folder's for its `__init__.py`."""
    parts = path.relative_to(ROOT.parent).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def modules_imported(path: Path, known: set[str]) -> set[str]:
    """The project's modules that a file imports anywhere, in functions and for types too."""
    found: set[str] = set()
    for node in ast.walk(tree_of(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            inside = {f"{node.module}.{alias.name}" for alias in node.names}
            found |= (inside & known) or {str(node.module)}
    return found & known


def circle_in(graph: dict[str, set[str]]) -> list[str]:
    """The modules of one circle in the order in which each imports the next, or none."""
    done: set[str] = set()

    def walk(module: str, way: list[str]) -> list[str]:
        if module in way:
            return [*way[way.index(module) :], module]
        if module in done:
            return []
        found = next((circle for other in sorted(graph[module]) if (circle := walk(other, [*way, module]))), [])
        done.add(module)
        return found

    return next((circle for module in sorted(graph) if (circle := walk(module, []))), [])


def test_no_modules_import_each_other_in_a_circle() -> None:
    # The package's own face names every floor for the library's users; no floor needs more of it than the version.
    paths = {module_of(path): path for path in ROOT.rglob("*.py") if path.parent != ROOT}
    graph = {module: modules_imported(path, set(paths)) - {module} for module, path in paths.items()}
    assert sum(map(len, graph.values())) > len(graph)
    assert circle_in(graph) == []


def test_a_circle_is_found() -> None:
    assert circle_in({"a": {"b"}, "b": {"c"}, "c": {"d", "b"}, "d": set()}) == ["b", "c", "b"]
    assert circle_in({"a": {"b", "c"}, "b": {"c"}, "c": set()}) == []


def test_every_folder_is_a_floor() -> None:
    folders = {path.name for path in ROOT.iterdir() if path.is_dir() and not path.name.startswith("_")}
    assert folders == set(FLOORS)


# What writes to the terminal or reads from it, asks today's date, and touches files: by the name that an import gives,
# and for files by the name of a method that is called, whatever it is called on.
TERMINAL = re.compile(
    r"(builtins\.)?(print|input|breakpoint)|sys\.(__)?std(out|err)(__)?(\..*)?|(typer|click)\.(echo|secho|prompt|confirm).*"
    r"|(pprint|logging|rich|getpass)\..*|warnings\.warn|traceback\.print_.*|os\.write"
)
TODAY = re.compile(
    r"(datetime\.)?(date|datetime)\.(today|now|utcnow)|time\.(time|time_ns|localtime|gmtime|ctime|asctime|strftime)"
)
FILES = re.compile(
    r"open|(io|os|codecs|gzip|bz2|lzma|tarfile)\.open|os\.(fdopen|rename|replace|remove|unlink|mkdir|makedirs|listdir|scandir)"
    r"|(tempfile|shutil|zipfile|sqlite3|mmap|importlib\.resources|pkgutil)\..*"
    r"|pathlib\.Path\.(open|read_.*|write_.*|home|cwd)|numpy\.(load|save|savez|savetxt|loadtxt|genfromtxt|fromfile|memmap)"
)
FILE_METHODS = {
    *("open", "read_text", "read_bytes", "write_text", "write_bytes", "tofile", "unlink", "touch", "mkdir", "rmdir"),
    *(
        "rename",
        "iterdir",
        "glob",
        "rglob",
        "exists",
        "is_file",
        "is_dir",
        "stat",
        "lstat",
        "symlink_to",
        "hardlink_to",
    ),
}
# What may: folders end with a slash.
MAY_USE_TERMINAL = ("cli/console.py",)
MAY_ASK_TODAY = ("job/renewal/", "cli/")
# What lies in controller/micropython/ runs on a board, with files of its own; nothing here imports it but the reader.
# What lies in controller/c/ is copied into a program's folder and run there by make.
MAY_OPEN_FILES = (
    *("base/package_data.py", "base/inputs.py", "config/", "job/", "cli/"),
    *("controller/micropython/", "controller/c/"),
)


def names_used(tree: ast.AST) -> Iterator[tuple[int, str, bool]]:
    """Line and full name of everything that a file names, and whether it is called there.

    Imports are followed: `from datetime import date as d` makes `d.today` `datetime.date.today`. What hangs on a value
    (a call, an item) has an empty first part: `.open`.
    """
    known: dict[str, str] = {}
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            known |= {
                a.asname or a.name.split(".")[0]: a.name if a.asname else a.name.split(".")[0] for a in node.names
            }
        elif isinstance(node, ast.ImportFrom):
            known |= {alias.asname or alias.name: f"{node.module}.{alias.name}" for alias in node.names}
    called = {id(node.func) for node in ast.walk(tree) if isinstance(node, ast.Call)}
    for node in ast.walk(tree):
        if isinstance(node, ast.Name | ast.Attribute) and isinstance(node.ctx, ast.Load):
            parts: list[str] = []
            at: ast.expr = node
            while isinstance(at, ast.Attribute):
                parts.insert(0, at.attr)
                at = at.value
            first = known.get(at.id, at.id) if isinstance(at, ast.Name) else ""
            yield node.lineno, ".".join([first, *parts]), id(node) in called


def uses_terminal(name: str, called: bool) -> bool:
    """True for what prints or asks, called or handed on."""
    return bool(TERMINAL.fullmatch(name))


def asks_today(name: str, called: bool) -> bool:
    """True for what gives another answer tomorrow, called or handed on; numpy's words for it stand in texts."""
    return bool(TODAY.fullmatch(name))


def opens_files(name: str, called: bool) -> bool:
    """True for functions that open or change files, and for calls of a method that does."""
    return bool(FILES.fullmatch(name)) or (called and "." in name and name.rpartition(".")[2] in FILE_METHODS)


RULES: dict[str, tuple[Callable[[str, bool], bool], tuple[str, ...]]] = {
    "the terminal": (uses_terminal, MAY_USE_TERMINAL),
    "today's date": (asks_today, MAY_ASK_TODAY),
    "files": (opens_files, MAY_OPEN_FILES),
}


@functools.cache
def names_in(text: str) -> list[tuple[int, str, bool]]:
    """`names_used` of a text: all rules ask it of every file."""
    return list(names_used(tree_of(text)))


def breaks(rule: str, file: str, text: str) -> list[str]:
    """Where the text of a file breaks a rule; empty for a file that may."""
    is_found, allowed = RULES[rule]
    if any(file == place or (place.endswith("/") and file.startswith(place)) for place in allowed):
        return []
    return [f"{file}:{line} {name}" for line, name, called in names_in(text) if is_found(name, called)]


@pytest.mark.parametrize("rule", RULES)
def test_only_some_places_use(rule: str) -> None:
    files = {path.relative_to(ROOT).as_posix(): path.read_text(encoding="utf-8") for path in ROOT.rglob("*.py")}
    assert [place for file, text in files.items() for place in breaks(rule, file, text)] == []
    # The rule sees something: among the places that may do it, one does.
    is_found, allowed = RULES[rule]
    may = [text for file, text in files.items() if file.startswith(allowed)]
    assert any(is_found(name, called) for text in may for _, name, called in names_in(text))


@pytest.mark.parametrize(
    ("rule", "text"),
    [
        ("the terminal", "print(1)"),
        ("the terminal", "import sys\nsys.stdout.write('x')"),
        ("the terminal", "from sys import stderr as e\ne.write('x')"),
        ("the terminal", "import typer\ntyper.echo('x')"),
        ("the terminal", "say = print"),
        ("today's date", "import datetime as dt\ndt.date.today()"),
        ("today's date", "from datetime import datetime\ndatetime.now(tz)"),
        ("today's date", "import time as t\nwhen = t.time"),
        ("files", "open('x')"),
        ("files", "from pathlib import Path\nPath('x').write_text('y')"),
        ("files", "from importlib import resources\nresources.files('x')"),
        ("files", "from pathlib import Path\nread = Path.read_text"),
        ("files", "def f(path): return path.open()"),
        ("files", "import os\nos.fdopen(3)"),
        ("files", "import numpy as np\nnp.loadtxt('x')"),
    ],
)
def test_a_broken_rule_is_found(rule: str, text: str) -> None:
    assert len(breaks(rule, "plan/day.py", text)) >= 1


@pytest.mark.parametrize(
    ("rule", "text"),
    [
        ("the terminal", "console.data('x')"),
        ("today's date", "import datetime as dt\ndt.date(2027, 1, 1)"),
        ("files", "shut = nights.open & nights.dark"),  # a column of that name
        ("files", "text.replace('a', 'b')"),
    ],
)
def test_what_breaks_no_rule_is_let_through(rule: str, text: str) -> None:
    assert breaks(rule, "plan/day.py", text) == []
