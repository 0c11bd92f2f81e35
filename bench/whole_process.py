"""Whole processes side by side: commands against `python -c pass` in a plain environment, and peak memory.

They run in the environment of `plain_environment.py`, with the package installed from a wheel; with a second checkout,
in one of each, in turn. Processor time: a busy machine counts for less.
"""

from __future__ import annotations

import os
import statistics
import tempfile
from collections.abc import Sequence
from pathlib import Path

from bench.parts import LARCH, ROOT, Row
from bench.plain_environment import plain_python

ALONE = '[site]\nlatitude_deg = 47.318\nlongitude_deg = 8.949\nzone = "Europe/Zurich"\n'
# name -> the command line and the goal as a multiple of `python -c pass`
COMMANDS: dict[str, tuple[tuple[str, ...], str]] = {
    "`--help`": (("--help",), "5"),
    "`table` of a site alone": (("table", "alone.toml", "--year", "2027"), "19"),
    "`table` of a site whose cell may move the door": (("table", str(ROOT / "configs" / "fig_yard.toml")), ""),
    "`table` of a site with its machine": (("table", str(LARCH), "--year", "2027"), ""),
    "`battery` of that site": (("battery", str(LARCH), "--year", "2027"), ""),
}
SHOWN_MEMORY = ("`--help`", "`table` of a site alone")


def once(python: str, words: Sequence[str], folder: str) -> tuple[float, float]:
    """Processor seconds and peak memory [MB] of one process."""
    child = os.fork()
    if child == 0:
        sink = os.open(os.devnull, os.O_WRONLY)
        os.dup2(sink, 1)
        os.dup2(sink, 2)
        os.chdir(folder)
        for key in [key for key in os.environ if key.startswith("PYTHON")]:
            del os.environ[key]
        os.execv(python, [python, *words])
    _, status, usage = os.wait4(child, 0)
    if os.waitstatus_to_exitcode(status) != 0:
        raise RuntimeError(f"{' '.join(words)} failed")
    return usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024


def rows(sides: dict[str, Path], rounds: int = 15) -> dict[str, list[Row]]:
    """The rows of each checkout: medians of rounds in which each command runs once, as ratios to a bare interpreter."""
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "alone.toml").write_text(ALONE, encoding="utf-8")
        pythons = {}
        for side, checkout in sides.items():
            (Path(folder) / side).mkdir()
            pythons[side] = plain_python(Path(folder) / side, checkout)
        lines = {
            (side, name): (python, ("-m", "sunsched", *words))
            for side, python in pythons.items()
            for name, (words, _) in COMMANDS.items()
        }
        bare = next(iter(pythons.values())), ("-c", "pass")
        # Compiled modules are kept, as after any installation; the first, uncounted runs fill the file cache.
        for python, words in (bare, *lines.values()):
            once(python, words, folder)
        runs = [(once(*bare, folder), {key: once(*line, folder) for key, line in lines.items()}) for _ in range(rounds)]
    return {
        side: [
            *(
                Row(
                    f"{name}, to `python -c pass`",
                    statistics.median(found[side, name][0] / start[0] for start, found in runs),
                    ".1f",
                    goal,
                )
                for name, (_, goal) in COMMANDS.items()
            ),
            *(
                Row(f"peak memory of {name} [MB]", max(found[side, name][1] for _, found in runs), ".0f", "at most 60")
                for name in SHOWN_MEMORY
            ),
        ]
        for side in sides
    }
