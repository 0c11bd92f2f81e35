"""All of the project's figures in one run: `python -m bench` prints them and writes bench/figures.md.

    python -m bench                     this checkout
    python -m bench --against FOLDER    this checkout and another one's package, in turn, side by side
    python -m bench --part batch        one part, nothing written

Ratios, because a second is another on every machine: to astral's loop and Skyfield's finder, to `python -c pass`, to
the plan of a year, of two processes to one. A part is measured in a process of its own, several times, each checkout
in turn, and the median is shown, so that a busy minute does not count. Whole processes run in a plain environment, made
for the run: see plain_environment.py. The whole takes about five minutes, twice that with another checkout.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import statistics
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from importlib.metadata import version
from pathlib import Path

from bench import whole_process
from bench.parts import PARTS, ROOT, Row

FIGURES = Path(__file__).with_name("figures.md")
PEERS = ("astral", "skyfield", "skyfield-data", "numpy", "pydantic", "typer")
ROUNDS = 3
ONCE = ("sky", "play", "tables")  # already the best of several rounds, or nobody else's concern
PROCESSES = "processes"
TIMEOUT_S = 600


def _paths(sides: dict[str, Path], scratch: Path) -> dict[str, Path]:
    """A folder for each checkout with this one's benchmarks and that one's package, as PYTHONPATH wants them."""
    found = {}
    for side, checkout in sides.items():
        folder = found[side] = scratch / side
        folder.mkdir()
        (folder / "sunsched").symlink_to(checkout / "sunsched")
        for name in ("bench", "configs", "tests"):
            (folder / name).symlink_to(ROOT / name)
    return found


def _once(name: str, path: Path) -> list[Row]:
    env = {**os.environ, "PYTHONPATH": str(path)}
    words = [sys.executable, "-m", "bench.parts", name]
    done = subprocess.run(words, env=env, cwd=path, capture_output=True, text=True, timeout=TIMEOUT_S)
    if done.returncode:
        raise RuntimeError(f"part {name} of {path.name} ended with {done.returncode}: {done.stderr[-2000:]}")
    return [Row(*row) for row in json.loads(done.stdout.splitlines()[-1])]


def _part(name: str, paths: dict[str, Path]) -> dict[str, list[Row]]:
    """A part's rows for each side: medians of the rounds."""
    sides = dict(list(paths.items())[:1]) if name in ("sky", "play") else paths
    runs: dict[str, list[list[Row]]] = {side: [] for side in sides}
    for _ in range(1 if name in ONCE else ROUNDS):
        for side, path in sides.items():
            runs[side].append(_once(name, path))
    return {
        side: [
            same[0]._replace(value=statistics.median(one.value for one in same)) for same in zip(*rounds, strict=True)
        ]
        for side, rounds in runs.items()
    }


def lines(sides: dict[str, Path], names: list[str]) -> Iterator[list[str]]:
    """What is measured, a figure for each side, the goal; the sides of a row that only one has are empty."""
    with tempfile.TemporaryDirectory() as scratch:
        paths = _paths(sides, Path(scratch))
        for name in names:
            found = whole_process.rows(sides) if name == PROCESSES else _part(name, paths)
            for row in next(iter(found.values())):
                figures = [
                    next((f"{one.value:{one.form}}" for one in found.get(side, []) if one.what == row.what), "")
                    for side in sides
                ]
                yield [row.what, *figures, row.goal]


def main(words: list[str]) -> None:
    """Run every benchmark, print the table and write it."""
    parser = argparse.ArgumentParser(prog="python -m bench", description="Measure, as ratios.")
    parser.add_argument("--against", type=Path, metavar="FOLDER", help="another checkout, measured in turn")
    every = ["sky", PROCESSES, *(name for name in PARTS if name != "sky")]
    parser.add_argument("--part", action="append", choices=every, help="only this part; repeats; nothing is written")
    asked = parser.parse_args(words)
    sides = {"now": ROOT}
    if asked.against:
        sides["before"] = asked.against.resolve()
    peers = ", ".join(f"{name} {version(name)}" for name in PEERS)
    load = os.getloadavg()[0] if hasattr(os, "getloadavg") else 0.0
    heads = ["what", *(["figure"] if len(sides) == 1 else sides), "goal or remark"]
    head = [
        f"Python {platform.python_version()}, {peers}; {os.cpu_count()} cores, load {load:.1f} at the start.",
        "",
        f"| {' | '.join(heads)} |",
        "|---" * len(heads) + "|",
    ]
    written = []
    for line in lines(sides, asked.part or every):
        written.append(f"| {' | '.join(line)} |")
        what, *figures, goal = line
        sys.stdout.write(f"{what:68} {''.join(f'{figure:>11}' for figure in figures)}  {goal}\n")
        sys.stdout.flush()
    if not asked.part:
        FIGURES.write_text("\n".join([*head, *written]) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main(sys.argv[1:])
