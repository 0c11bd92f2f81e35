"""Packed tables read under MicroPython: `python -m tests.chip.micropython_tables`.

Every site's exact table of 2028 and its table of 21 years, where it can be, each as the module that `table --as
micropython` writes: both minutes and the facts of every day of every year, against the plan of that year (a table of
many years: within its minute, and exactly as its bytes are decoded here). Prints a line for each; ends with 1 if a day
differs.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from sunsched.base.civil_time import date_of
from sunsched.emit import micropython as module_form
from sunsched.job.compact import Compact
from sunsched.plan.year import NO_MINUTE
from sunsched.table import facts
from tests.chip import packed, sites
from tests.chip.packed import Case
from tests.support import micropython

CASES = tuple(Case(name, 2028, "auto") for name in sites.SHIPPED)
CASES += tuple(case for case in packed.CASES if case.layout == "years")
# Each year apart: this port collects garbage between pieces only.
_SCRIPT = """
import gc
def days(table, year):
    for month in range(1, 13):
        for day in range(1, table._BEFORE[month] - table._BEFORE[month - 1] + 1 + (month == 2 and year % 4 == 0)):
            yield table.open_min(year, month, day), table.close_min(year, month, day), table.facts(year, month, day)
def say(table, year):
    for row in days(table, year):
        print(*row)
"""
_HEAP = """# ---
gc.collect()
before = gc.mem_alloc()
import {name} as table
gc.collect()
print(gc.mem_alloc() - before)
"""
_YEAR = "# ---\ngc.collect()\nsay(table, {year})\n"


@dataclass(frozen=True, slots=True)
class Read:
    """What MicroPython read of a table.

    minutes   asked for; as_planned: how many are the plan's within the table's error; as_decoded: those decoded here
    other_facts   days whose facts are not those of the table
    heap_bytes   what the module takes once imported [bytes]
    """

    minutes: int
    as_planned: int
    as_decoded: int
    other_facts: int
    heap_bytes: int

    @property
    def right(self) -> bool:
        """Whether all of it is right."""
        return self.minutes == self.as_planned == self.as_decoded and not self.other_facts


def read(works: Sequence[Compact], folder: Path) -> list[Read]:
    """Tables read under MicroPython, all in one run."""
    script = _SCRIPT
    for n, work in enumerate(works):
        (folder / f"table{n}.py").write_text(module_form.text(work.plans, work.table, work.stamp))
        script += _HEAP.format(name=f"table{n}")
        script += "".join(_YEAR.format(year=date_of(plan.first_day).year) for plan in work.plans)
    lines = iter(micropython.run(folder, script))
    return [_compared(work, lines) for work in works]


def _compared(work: Compact, lines: Iterator[str]) -> Read:
    heap_bytes = int(next(lines))
    minutes = as_planned = as_decoded = other_facts = 0
    error_min, image = work.table.worst_error_min, work.table.image
    for plan in work.plans:
        rows = [next(lines).split() for _ in range(plan.n_days)]
        said = np.array([[NO_MINUTE if word == "None" else int(word) for word in row[:2]] for row in rows]).T
        planned = np.stack([plan.open_min, plan.close_min])
        year = date_of(plan.first_day).year
        decoded = image.minutes(year)
        minutes += said.size
        as_planned += int((np.abs(said - planned) <= error_min).sum())
        as_decoded += int((said == decoded).sum())
        wanted = facts.block_facts(image.facts, plan.first_day, plan.n_days)
        other_facts += int((np.array([int(row[2]) for row in rows]) != wanted).sum())
    return Read(minutes, as_planned, as_decoded, other_facts, heap_bytes)


def made(case: Case) -> Compact:
    """The table of a case."""
    return packed.packed(case) if case.layout == "auto" else packed.work(case)


def main() -> int:
    """Print what was read of every table."""
    wrong = 0
    for case in CASES:
        with tempfile.TemporaryDirectory() as folder:
            work = made(case)
            (found,) = read([work], Path(folder))
        wrong += not found.right
        years = f"{case.years[0]} to {case.years[-1]}" if len(case.years) > 1 else str(case.year)
        what = f"{work.table.image.layout.name}, {len(work.table.raw)} bytes, {years}"
        print(
            f"{case.name}: {what}: {found.as_planned} of {found.minutes} minutes within {work.table.worst_error_min}"
            f" min of the plan, {found.as_decoded} as decoded here, {found.other_facts} days with other facts, heap"
            f" {found.heap_bytes} bytes",
            flush=True,
        )
    return int(wrong > 0)


if __name__ == "__main__":
    sys.exit(main())
