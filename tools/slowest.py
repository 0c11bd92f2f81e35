"""Measures every test and writes the slowest to tests/slowest.md, which the test run begins with.

`python tools/slowest.py` runs all tests one after the other (20 to 25 min) and writes the page; with names of tests it
runs those and prints what it would write. Processor time, that of finished child processes included, so that a busy
machine does not count; elapsed time stands beside it for tests that wait for a serial line.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import tempfile
import time
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PAGE = ROOT / "tests" / "slowest.md"
RECORD = "SUNSCHED_TEST_TIMES"
SHOWN = 30
HEAD = """# The slowest tests

A run of all tests begins with the files of these, dealt to its processes in turn, so that none waits for another at
the end (`tests/conftest.py`). `python tools/slowest.py` measures them again and writes this page.

| processor, s | elapsed, s | test |
|---|---|---|
"""


def processor_s() -> float:
    """Processor time of this process and its finished children [s]."""
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(one.ru_utime + one.ru_stime for one in used)


@pytest.hookimpl(wrapper=True)
def pytest_runtest_protocol(item: pytest.Item) -> Iterator[None]:
    """Note what a test took, its fixtures included."""
    processor, elapsed = processor_s(), time.monotonic()
    try:
        return (yield)
    finally:
        with open(os.environ[RECORD], "a", encoding="utf-8") as record:
            record.write(f"{processor_s() - processor:.2f} {time.monotonic() - elapsed:.2f} {item.nodeid}\n")


def page(records: list[str]) -> str:
    """The page from lines of processor time, elapsed time and test."""
    processor, elapsed = defaultdict[str, float](float), defaultdict[str, float](float)
    for line in records:
        first, second, name = line.split(" ", 2)
        # A child that has served many tests counts where it ends: no test has more than all processors gave meanwhile.
        processor[name] += min(float(first), float(second) * (os.cpu_count() or 1))
        elapsed[name] += float(second)
    slowest = sorted(processor.items(), key=lambda one: -one[1])[:SHOWN]
    return HEAD + "".join(f"| {s:.1f} | {elapsed[name]:.1f} | `{name}` |\n" for name, s in slowest)


def main(words: list[str]) -> int:
    """Run the tests one after the other and write the page, or print it for some of them; pytest's exit code."""
    with tempfile.TemporaryDirectory() as folder:
        record = Path(folder) / "times"
        env = {**os.environ, RECORD: str(record), "PYTHONPATH": str(ROOT)}
        command = [sys.executable, "-m", "pytest", "-n", "0", "-q", "-p", "tools.slowest", *words]
        code = subprocess.run(command, cwd=ROOT, env=env, check=False).returncode
        text = page(record.read_text(encoding="utf-8").splitlines())
    if words:
        print(text)
    else:
        PAGE.write_text(text, encoding="utf-8")
    return code


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
