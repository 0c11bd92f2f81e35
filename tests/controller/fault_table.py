"""Prints the tables of the fault nights as Markdown: `python tests/controller/fault_table.py faults --site "52 N"`.

faults    one row a fault
healthy   years without a fault: birds, exposure, false alarms
worth     what each rule is worth: the same faults with the rule disarmed
"""

from __future__ import annotations

import argparse
import sys
from concurrent.futures import ProcessPoolExecutor
from functools import cache

import numpy as np
from trial_runner import TRAVEL_MM, CoreRunner, use_table

from sunsched.base.civil_time import DAY_MIN
from sunsched.controller.door_settings import DoorSettings, door_settings
from sunsched.hardware.drive import drive_constants
from sunsched.hardware.parts import ClockSource, Door, Motor, Spool
from sunsched.study.door_world import DAYS, SITES, TRIAL_CELL, DoorYear, Place, door_year, place_of
from sunsched.study.fault_list import all_faults
from sunsched.study.fault_nights import Fault, Nights, Verdict, healthy_world, judge, run_trials, starts_of
from sunsched.study.fault_report import (
    RULES_LEFT_OUT,
    HealthyYears,
    alarm_starts,
    fault_table,
    healthy_table,
    worth_table,
)

FIRST_SEED = 700
LATE_MIN = 15


def site_settings(site: str) -> DoorSettings:
    """The constants for a trial site with the default drive."""
    return door_settings(SITES[site][1], TRIAL_CELL, ClockSource(), drive_constants(Door(), Spool(), Motor()))


@cache
def _place(site: str) -> Place:
    return place_of(site)


@cache
def _year(site: str, seed: int, snow: bool) -> DoorYear:
    return door_year(_place(site), seed, snow)


def trials(
    site: str, seed: int, days: list[int], faults: list[Fault], settings: DoorSettings
) -> dict[str, list[Verdict]]:
    """All faults from all starts of one weather year."""
    place = _place(site)
    rows = use_table(place.rows, place.first_day)
    found = run_trials(_year(site, seed, False), days, faults, settings, CoreRunner, TRAVEL_MM)
    del rows
    return found


def _some(job: tuple[str, int, list[int], list[str], DoorSettings]) -> dict[str, list[Verdict]]:
    site, seed, days, words, settings = job
    return trials(site, seed, days, [fault for fault in all_faults() if fault.words in words], settings)


def _together(
    site: str, words: list[str], settings: DoorSettings, starts: int, years: int, pool: ProcessPoolExecutor
) -> dict[str, list[Verdict]]:
    days = [(year, day) for year in range(years) for day in starts_of(starts, 7 * year)]
    jobs = [(site, FIRST_SEED + year, [day], words, settings) for year, day in days]
    found: dict[str, list[Verdict]] = {word: [] for word in words}
    for part in pool.map(_some, jobs):
        for word, verdicts in part.items():
            found[word] += verdicts
    return found


def healthy_years(site: str, n_years: int, snow: bool) -> HealthyYears:
    """`n_years` weather years from one power-up each, without a fault."""
    place = _place(site)
    rows = use_table(place.rows, place.first_day)
    out, dark, left, late = [], [], 0, 0
    alarms: dict[str, int] = {}
    for k in range(n_years):
        year = _year(site, 900 + k, snow)
        last_day = DAYS - 1
        told = CoreRunner(site_settings(site)).run(healthy_world(year, DAY_MIN // 2, last_day * DAY_MIN), 0)
        told = np.concatenate([np.repeat(told[:1], DAY_MIN // 2), told])
        nights = Nights(year, 0, healthy_world(year, 0, last_day * DAY_MIN), np.random.default_rng(0))
        verdict = judge(nights, told, told, 0, TRAVEL_MM, n_nights=last_day - 2)
        out.append(verdict.out)
        dark.append(verdict.open_dark_min)
        left += int(verdict.left_open.sum())
        late += int((verdict.locked_min > 0).sum())
        for word, count in alarm_starts(told["alarms"][DAY_MIN:]).items():
            alarms[word] = alarms.get(word, 0) + count
    del rows
    name = f"{site}, snow on the cell" if snow else site
    return HealthyYears(name, n_years, np.concatenate(out), np.concatenate(dark), left, late, alarms)


def main(words: list[str] | None = None) -> int:
    """Print one table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("table", choices=("faults", "healthy", "worth"))
    parser.add_argument("--site", choices=tuple(SITES), default="52 N")
    parser.add_argument("--starts", type=int, default=12, help="starts in each weather year")
    parser.add_argument("--years", type=int, default=2, help="weather years")
    parser.add_argument("--snow", action="store_true", help="healthy: let snow lie on the cell")
    parser.add_argument("--processes", type=int, default=2)
    asked = parser.parse_args(words)
    settings = site_settings(asked.site)
    with ProcessPoolExecutor(asked.processes) as pool:
        if asked.table == "faults":
            faults = all_faults()
            named = [fault.words for fault in faults]
            print(fault_table(faults, _together(asked.site, named, settings, asked.starts, asked.years, pool)), end="")
        elif asked.table == "healthy":
            print(healthy_table([healthy_years(asked.site, asked.years, asked.snow)]), end="")
        else:
            rows = []
            for without in RULES_LEFT_OUT:
                named = list(without.faults)
                having = _together(asked.site, named, settings, asked.starts, asked.years, pool)
                changed = without.settings(settings)
                lacking = _together(asked.site, named, changed, asked.starts, asked.years, pool)
                rows += [(without, word, having[word], lacking[word]) for word in named]
            print(worth_table(rows), end="")
    return 0


if __name__ == "__main__":
    sys.exit(main())
