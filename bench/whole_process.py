"""Whole processes side by side: a command against `python -c pass` in a plain environment, and peak memory.

Both run in the environment of `plain_environment.py`, with the package installed from a wheel.
"""

from __future__ import annotations

import os
import statistics
import sys
import tempfile
import time
from pathlib import Path

from bench.plain_environment import plain_python

ROOT = Path(__file__).parent.parent
CONFIG = ROOT / "configs" / "larch_end.toml"


def once(python: str, words: list[str], folder: str) -> tuple[float, float]:
    """Seconds and peak memory [MB] of one process."""
    start = time.perf_counter()
    child = os.fork()
    if child == 0:
        sink = os.open(os.devnull, os.O_WRONLY)
        os.dup2(sink, 1)
        os.dup2(sink, 2)
        os.chdir(folder)
        os.execv(python, [python, *words])
    _, status, usage = os.wait4(child, 0)
    if os.waitstatus_to_exitcode(status) != 0:
        raise RuntimeError(f"{' '.join(words)} failed")
    return time.perf_counter() - start, usage.ru_maxrss / 1024


def figures(rounds: int = 15) -> dict[str, float]:
    """Ratios to a bare interpreter, the median of rounds in which each command runs once, and peak memory."""
    with tempfile.TemporaryDirectory() as folder:
        commands = {
            "bare": ["-c", "pass"],
            "help": ["-m", "sunsched", "--help"],
            "table": ["-m", "sunsched", "table", str(CONFIG), "--year", "2027"],
        }
        python = plain_python(Path(folder))
        for key in [key for key in os.environ if key.startswith("PYTHON")]:
            del os.environ[key]
        # Compiled modules are kept, as after any installation; the first, uncounted runs fill the file cache.
        for words in commands.values():
            once(python, words, folder)
        runs = [{name: once(python, words, folder) for name, words in commands.items()} for _ in range(rounds)]
    return {
        "help_to_bare": statistics.median(run["help"][0] / run["bare"][0] for run in runs),
        "table_to_bare": statistics.median(run["table"][0] / run["bare"][0] for run in runs),
        "table_peak_mb": max(run["table"][1] for run in runs),
        "help_peak_mb": max(run["help"][1] for run in runs),
    }


if __name__ == "__main__":
    for name, value in figures().items():
        sys.stdout.write(f"{name:20} {value:8.2f}\n")
