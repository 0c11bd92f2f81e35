"""Packed tables of the shipped configurations: which there are, which cannot be, where they run, what they must say.

Packing takes some seconds a table, so the processes of a test run share what they have packed.
"""

from __future__ import annotations

import pickle
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
from filelock import FileLock

from sunsched.base.civil_time import date_of, year_days
from sunsched.config import toml_file
from sunsched.emit.stamp import file_stem
from sunsched.job import compact
from sunsched.table import facts
from tests.chip import sites

ONE_YEAR = ("plain", "blocks", "slopes", "curves")
MANY = tuple(range(2027, 2048))
# First, last, and the leap years of the 21, so that every phase of the leap rule's four years is met but the
# years between: the twin answers for all of them when the table is packed.
MANY_SHOWN = (2027, 2028, 2032, 2036, 2040, 2044, 2047)
MANY_ERROR_MIN = 1

# Tables that cannot be, each with what the error says of it.
CANNOT_PACK = {
    # The opening at civil or nautical dawn, sunrise and clear-sky light take turns: it jumps between seasons.
    ("birch_hollow", "curves"): "layout curves cannot hold these minutes exactly",
    # Shut where the Sun never rises, and the curve jumps between the rules that decide.
    ("birch_hollow", "years"): "layout years cannot hold these minutes within 1 min",
}


@dataclass(frozen=True, slots=True, order=True)
class Case:
    """A table: a shipped configuration, its first year, a layout."""

    name: str
    year: int
    layout: str

    @property
    def years(self) -> tuple[int, ...]:
        """The years that the table covers."""
        return MANY if self.layout == "years" else (self.year,)

    @property
    def shown(self) -> tuple[int, ...]:
        """The years that are printed day by day."""
        return MANY_SHOWN if self.layout == "years" else (self.year,)

    @property
    def error_min(self) -> int:
        """How far a minute may be from the plan."""
        return MANY_ERROR_MIN if self.layout == "years" else 0

    def __str__(self) -> str:
        return f"{self.name}-{self.year}-{self.layout}"


def _all_cases() -> Iterator[Case]:
    for name in sites.SHIPPED:
        for layout in (*ONE_YEAR, "years"):
            for year in (MANY[0],) if layout == "years" else sites.YEARS:
                if (name, layout) not in CANNOT_PACK:
                    yield Case(name, year, layout)


CASES = tuple(_all_cases())
# A table of each layout, of as many configurations.
OF_LAYOUT = (
    Case("fig_yard", 2027, "plain"),
    Case("larch_end", 2027, "blocks"),
    Case("birch_hollow", 2028, "slopes"),
    Case("east_terrace", 2028, "curves"),
    Case("tussock_flat", 2027, "years"),
)


# Where the processes of a test run share what they pack; conftest.py sets it.
shared_folder: list[Path] = []


@cache
def work(case: Case) -> compact.Compact:
    """The table of a case, packed once for all processes of a test run."""
    if not shared_folder:
        return packed(case)
    path = shared_folder[0] / f"{case}.pickle"
    with FileLock(path.with_suffix(".lock")):
        if path.exists():
            found = pickle.loads(path.read_bytes())
            assert isinstance(found, compact.Compact)
            return found
        made = packed(case)
        path.write_bytes(pickle.dumps(made))
        return made


def packed(case: Case) -> compact.Compact:
    """The table of a case, packed now. Raises CapacityError where that cannot be."""
    name = f"{case.name}.toml"
    return compact.compact(toml_file.read(sites.CONFIGS / name), case.years, case.layout, case.error_min, None, name)


def header(case: Case, folder: Path) -> Path:
    """Write the generated header and its reader files into `folder`, as `table --as c` does."""
    made = work(case)
    for name, content in compact.files_of(made, "c").items():
        (folder / name).write_bytes(content)
    return folder / f"{file_stem(made.plans[0])}.h"


def twin_lines(case: Case) -> list[str]:
    """Each day as dump_compact.c prints it, worked out by the Python twin."""
    image = work(case).table.image
    lines = []
    for year in case.shown:
        first_day, n_days = year_days(year)
        minutes = image.minutes(year)
        fact_bits = facts.block_facts(image.facts, first_day, n_days)
        midnight = facts.block_midnight_min(image.facts, n_days)
        lines += [
            f"{int(o) & 0xFFFF:04x}{int(c) & 0xFFFF:04x}{int(f):02x}{int(m) & 0xFFFF:04x}"
            for o, c, f, m in zip(minutes[0], minutes[1], fact_bits, midnight, strict=True)
        ]
    return lines


def told_words(case: Case) -> str:
    """The image's own words as dump_compact.c prints them: clock, offset, years, ten settings, one never carried."""
    made = work(case)
    image = made.table.image
    keeps = ("standard", "utc", "civil").index(made.plans[0].chip.keeps)
    words = [int.from_bytes(image.settings[at : at + 2], "little") for at in range(0, len(image.settings), 2)]
    settings = "".join(f"{word:04x}" for word in [*words, *[0xFFFE] * (11 - len(words))])
    return f"#{keeps:02x}{made.plans[0].chip_offset_min & 0xFFFF:04x}{case.years[0]:04x}{case.years[-1]:04x}{settings}"


def faults(case: Case, lines: list[str]) -> list[str]:
    """How what a chip printed differs from the plans: minutes, days shut, facts, solar midnight. Empty if nowhere."""
    made = work(case)
    found = []
    at = 0
    for plan in made.plans:
        year = date_of(plan.first_day).year
        if year not in case.shown:
            continue
        rows = lines[at : at + plan.n_days]
        at += plan.n_days
        if len(rows) != plan.n_days:
            return [f"{year}: {len(rows)} days printed, {plan.n_days} planned"]
        for side, planned in ((0, plan.open_min), (1, plan.close_min)):
            got = np.array([_signed(row[4 * side : 4 * side + 4]) for row in rows])
            off = np.abs(got - planned)
            if off.max() > case.error_min:
                day = int(off.argmax())
                found.append(f"{year} day {day} side {side}: {got[day]}, the plan says {planned[day]}")
        bits = np.array([int(row[8:10], 16) for row in rows])
        planned_bits = (plan.fact_bits | facts.unasked(plan, len(case.years))).astype(int)
        # One table for many years tells a fact only where it holds in each of them.
        wrong = (bits & ~planned_bits) if len(case.years) > 1 else (bits ^ planned_bits)
        if wrong.any():
            found.append(f"{year}: facts differ on {np.count_nonzero(wrong)} days, first {int(wrong.argmax())}")
        midnight = np.array([_signed(row[10:14]) for row in rows])
        if np.abs(midnight - plan.midnight_min).max() > 1:
            found.append(f"{year}: solar midnight is off by {np.abs(midnight - plan.midnight_min).max()} min")
    return found


def _signed(digits: str) -> int:
    return (int(digits, 16) ^ 0x8000) - 0x8000


def days_of(year: int) -> int:
    """Days of a calendar year."""
    return year_days(year)[1]
