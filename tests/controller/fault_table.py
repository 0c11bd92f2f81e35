"""Prints the tables of the fault nights as Markdown: `python -m tests.controller.fault_table faults --site "52 N"`.

faults    one row a fault
healthy   years without a fault: birds, exposure, false alarms
creeping  the same with a clock that gains or loses a little every day, with rule M2 and without it
worth     what each rule is worth: the same faults with the rule disarmed
"""

from __future__ import annotations

import argparse
import ctypes
import dataclasses
import json
import sys
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from sunsched.base.civil_time import DAY_MIN
from sunsched.config import toml_file
from sunsched.controller.door_settings import DoorSettings, door_settings
from sunsched.hardware.drive import drive_constants
from sunsched.hardware.parts import ClockSource, Door, LightCell, Motor, Spool
from tests.controller.core_library import CORE, core_library
from tests.controller.trial_runner import TRAVEL_MM, CoreRunner, use_table
from tests.trials.door_world import DAYS, SITES, TRIAL_CELL, DoorYear, Place, door_year, place_of
from tests.trials.fault_list import all_faults
from tests.trials.fault_nights import Fault, Nights, Verdict, healthy_world, judge, run_trials, starts_of
from tests.trials.fault_report import (
    RULES_LEFT_OUT,
    Cut,
    HealthyYears,
    alarm_starts,
    ending,
    fault_table,
    healthy_table,
    worth_table,
)

CONFIGS = Path(__file__).parents[2] / "configs"
FIRST_SEED, FIRST_HEALTHY_SEED = 700, 900
CREEP_MIN_A_DAY = 0.3  # 208 ppm: ten times a plain crystal's error


CELLS = ("trial", "larch_end", "fig_yard", "birch_hollow")  # two of the shipped sites have larch_end's


@cache
def cell_of(name: str) -> LightCell:
    """The trials' own cell, or that of a shipped configuration."""
    if name == "trial":
        return TRIAL_CELL
    return toml_file.read(str(CONFIGS / f"{name}.toml")).light_cell


def site_settings(site: str, cell: str = "trial") -> DoorSettings:
    """The constants for a trial site with the default drive."""
    return door_settings(SITES[site][1], cell_of(cell), ClockSource(), drive_constants(Door(), Spool(), Motor()))


@cache
def _place(site: str) -> Place:
    return place_of(site)


@cache
def year_of(site: str, seed: int, snow: bool = False, cell: str = "trial") -> DoorYear:
    """A weather year, drawn once in each process."""
    return door_year(_place(site), seed, snow, cell=cell_of(cell))


def trials(
    site: str,
    seed: int,
    days: list[int],
    faults: list[Fault],
    settings: DoorSettings,
    cell: str = "trial",
    cut: Cut | None = None,
) -> dict[str, list[Verdict]]:
    """All faults from all starts of one weather year; `cut`: by a core with a rule cut out."""
    place = _place(site)
    library = core_library() if cut is None else _core_without(cut)
    rows = use_table(place.rows, place.first_day, library)

    def runner_of(chosen: DoorSettings) -> CoreRunner:
        return CoreRunner(chosen, library=library)

    found = run_trials(year_of(site, seed, False, cell), days, faults, settings, runner_of, TRAVEL_MM)
    del rows
    return found


@cache
def _core_without(cut: Cut) -> ctypes.CDLL:
    file, was, now = cut
    with TemporaryDirectory() as name:
        core = Path(name)
        for path in CORE.glob("door_*.[ch]"):
            text = path.read_text(encoding="utf-8")
            if path.name == file:
                if text.count(was) != 1:
                    raise ValueError(f"{file} does not have once: {was}")
                text = text.replace(was, now)
            (core / path.name).write_text(text, encoding="utf-8")
        return core_library(core)


def _some(job: tuple[str, int, list[int], list[str], DoorSettings, str, Cut | None]) -> dict[str, list[Verdict]]:
    site, seed, days, words, settings, cell, cut = job
    return trials(site, seed, days, [fault for fault in all_faults() if fault.words in words], settings, cell, cut)


def _together(
    asked: argparse.Namespace,
    words: list[str],
    settings: DoorSettings,
    pool: ProcessPoolExecutor,
    cut: Cut | None = None,
) -> dict[str, list[Verdict]]:
    days = [(year, day) for year in range(asked.years) for day in starts_of(asked.starts, 7 * year)]
    jobs = [(asked.site, FIRST_SEED + year, [day], words, settings, asked.cell, cut) for year, day in days]
    found: dict[str, list[Verdict]] = {word: [] for word in words}
    for part in pool.map(_some, jobs):
        for word, verdicts in part.items():
            found[word] += verdicts
    return found


def healthy_years(
    site: str,
    n_years: int,
    snow: bool = False,
    creep_min_a_day: float = 0.0,
    settings: DoorSettings | None = None,
    cell: str = "trial",
) -> HealthyYears:
    """`n_years` weather years from one power-up each, without a fault but that the clock may creep."""
    place = _place(site)
    rows = use_table(place.rows, place.first_day)
    verdicts, alarms = [], Counter[str]()
    for k in range(n_years):
        year = year_of(site, FIRST_HEALTHY_SEED + k, snow, cell)
        last_day = DAYS - 1
        world = healthy_world(year, DAY_MIN // 2, last_day * DAY_MIN)
        world["clock"] += np.round(np.arange(len(world)) * creep_min_a_day / DAY_MIN).astype(np.int32)
        history = CoreRunner(settings or site_settings(site, cell)).run(world, 0)
        history = np.concatenate([np.repeat(history[:1], DAY_MIN // 2), history])
        nights = Nights(year, 0, healthy_world(year, 0, last_day * DAY_MIN), np.random.default_rng(0))
        verdicts.append(judge(nights, history, history, 0, TRAVEL_MM, n_nights=last_day - 2))
        alarms.update(alarm_starts(history["alarms"][DAY_MIN:]))
    del rows
    return HealthyYears(
        name=f"{site}, snow on the cell" if snow else site,
        years=n_years,
        out=np.concatenate([verdict.out for verdict in verdicts]),
        dark_min=np.concatenate([verdict.open_dark_min for verdict in verdicts]),
        left_open=sum(int(verdict.left_open.sum()) for verdict in verdicts),
        late_openings=sum(int((verdict.locked_min > 0).sum()) for verdict in verdicts),
        false_alarms=dict(alarms),
    )


def creeping_years(site: str, n_years: int) -> list[HealthyYears]:
    """The same with a clock that gains, and one that loses, a little every day: with rule M2 and without it."""
    settings = site_settings(site)
    without = next(without for without in RULES_LEFT_OUT if without.rule.startswith("M2"))
    rows = []
    for creep in (CREEP_MIN_A_DAY, -CREEP_MIN_A_DAY):
        for words, chosen in (("", settings), (", without M2", without.settings(settings))):
            years = healthy_years(site, n_years, creep_min_a_day=creep, settings=chosen)
            rows.append(dataclasses.replace(years, name=f"{site}, clock {creep:+.1f} min a day{words}"))
    return rows


def main(words: list[str] | None = None) -> int:
    """Print one table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("table", choices=("faults", "healthy", "creeping", "worth"))
    parser.add_argument("--site", choices=tuple(SITES), default="52 N")
    parser.add_argument("--starts", type=int, default=12, help="starts in each weather year")
    parser.add_argument("--years", type=int, default=2, help="weather years")
    parser.add_argument("--cell", choices=CELLS, default="trial", help="the trials' own cell or a shipped site's")
    parser.add_argument("--save", type=Path, help="faults: a file for --beside")
    parser.add_argument("--beside", type=Path, help="faults: only rows that end otherwise than in this file")
    parser.add_argument("--rule", default="", help="worth: rules that begin so")
    parser.add_argument("--snow", action="store_true", help="healthy: let snow lie on the cell")
    parser.add_argument("--processes", type=int, default=2)
    asked = parser.parse_args(words)
    settings = site_settings(asked.site, asked.cell)
    with ProcessPoolExecutor(asked.processes) as pool:
        if asked.table == "faults":
            faults = all_faults()
            named = [fault.words for fault in faults]
            found = _together(asked, named, settings, pool)
            if asked.save:
                asked.save.write_text(json.dumps({words: ending(verdicts) for words, verdicts in found.items()}))
            beside = json.loads(asked.beside.read_text()) if asked.beside else None
            print(fault_table(faults, found, beside), end="")
        elif asked.table == "healthy":
            print(healthy_table([healthy_years(asked.site, asked.years, asked.snow, cell=asked.cell)]), end="")
        elif asked.table == "creeping":
            print(healthy_table(creeping_years(asked.site, asked.years)), end="")
        else:
            rows = []
            for without in [one for one in RULES_LEFT_OUT if one.rule.startswith(asked.rule)]:
                named = list(without.faults)
                having = _together(asked, named, without.both(settings), pool)
                lacking = _together(asked, named, without.settings(settings), pool, without.cut)
                rows += [(without, word, having[word], lacking[word]) for word in named]
            print(worth_table(rows), end="")
    return 0


if __name__ == "__main__":
    sys.exit(main())
