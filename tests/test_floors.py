"""Imports point down: a floor may import the floors below it, never one above or beside it."""

from __future__ import annotations

import ast
from pathlib import Path

import sunsched

ROOT = Path(sunsched.__file__).parent
FLOORS = ("base", "sky", "hardware", "plan", "table", "controller", "study", "emit", "config", "job", "report", "cli")
# The configuration stands high because it touches files, but builds on little.
ONLY = {"config": {"base", "hardware", "plan"}, "emit": {"base", "hardware", "plan", "table", "controller"}}


def imports_of(path: Path) -> list[tuple[int, str]]:
    """Line and floor of every import of the project's own modules in a file."""
    found = []
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        names = [node.module or ""] if isinstance(node, ast.ImportFrom) else []
        names += [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
        if isinstance(node, ast.ImportFrom) and node.module == "sunsched":
            names = [f"sunsched.{alias.name}" for alias in node.names]
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
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
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


def test_only_the_console_prints() -> None:
    prints = [
        f"{path.relative_to(ROOT)}:{node.lineno}"
        for path in ROOT.rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "print"
    ]
    assert prints == []
