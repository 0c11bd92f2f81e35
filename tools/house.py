"""The figures of the house: `python tools/house.py` prints modules, lines and modules with one importer by floor.

`python tools/house.py FOLDER` prints those of another checkout. `__init__.py` files are not counted as modules.
"""

from __future__ import annotations

import ast
import sys
from collections import Counter
from pathlib import Path

ROOT = Path(__file__).parent.parent / "sunsched"


def imported(path: Path, known: set[str]) -> set[str]:
    """The project's modules that a file names in its imports, inside functions too."""
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            names |= {node.module, *(f"{node.module}.{alias.name}" for alias in node.names)}
    return names & known


def figures(root: Path) -> list[tuple[str, int, int, int]]:
    """(floor, modules, lines, modules with one importer) of each folder, then of the whole package."""
    paths = {".".join(path.relative_to(root.parent).with_suffix("").parts): path for path in root.rglob("*.py")}
    importers = Counter(name for path in paths.values() for name in imported(path, set(paths)))
    rows: dict[str, list[tuple[int, bool]]] = {}
    for name, path in paths.items():
        if path.name == "__init__.py":
            continue
        lines = path.read_text(encoding="utf-8").count("\n")
        floor = path.relative_to(root).parts[0] if path.parent != root else "(face)"
        rows.setdefault(floor, []).append((lines, importers[name] == 1))
    rows = dict(sorted(rows.items())) | {"all": [row for part in rows.values() for row in part]}
    return [(floor, len(part), sum(n for n, _ in part), sum(one for _, one in part)) for floor, part in rows.items()]


if __name__ == "__main__":
    package = Path(sys.argv[1]) / "sunsched" if len(sys.argv) > 1 else ROOT
    print("| floor | modules | lines | modules with one importer |\n|---|---|---|---|")
    for row in figures(package):
        print("| " + " | ".join(f"{cell:,}" if isinstance(cell, int) else cell for cell in row) + " |")
