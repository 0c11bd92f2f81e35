"""Glitches, resets and stuck switches drawn at random: what the machine suffers, and which nights are left open.

`python -m tests.controller.foreign_faults --runs 200` prints, for each rate of glitches, the share of nights open with
an alarm standing and without one, and the worst of the machine.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass

import numpy as np

from sunsched.base.civil_time import DAY_MIN
from tests.controller.fault_table import FIRST_SEED, site_settings, year_of
from tests.controller.trial_runner import TRAVEL_MM, CoreRunner, use_table
from tests.trials.door_world import SITES, DoorYear
from tests.trials.fault_invariants import Machine, broken
from tests.trials.fault_nights import FAULT_DAYS, FOX_GAP_MM, NO_FAULT, Nights, World, healthy_world

RATES = (0, 1, 5, 10, 50)  # thousandths a second on each wire
LEAD_DAYS = 2


@dataclass(frozen=True)
class Lived:
    """One run: its machine, and for each night whether the door stood open in its middle, and any alarm with it."""

    machine: Machine
    open: tuple[bool, ...]
    alarmed: tuple[bool, ...]

    @property
    def open_unalarmed(self) -> int:
        """Nights open in their middle with no alarm standing."""
        return sum(one and not said for one, said in zip(self.open, self.alarmed, strict=True))


def disturbed(nights: Nights, rate: int, stuck: bool, resets: bool) -> World:
    """The nights' world with `rate` glitches on each wire, up to 20 resets a day and switches stuck for some time."""
    world, rng = nights.world, nights.rng
    world["glitch"][DAY_MIN // 2 :] = rate
    if resets:
        minutes = rng.integers(DAY_MIN // 2, len(world), int(rng.integers(1, 20 * FAULT_DAYS)))
        world["reset_s"][minutes] = rng.integers(0, 60, len(minutes))
    for name in ("top_fault", "bottom_fault") if stuck else ():
        for _ in range(int(rng.integers(1, 6))):
            start = int(rng.integers(DAY_MIN // 2, len(world)))
            span = int(np.exp(rng.uniform(np.log(2), np.log(3 * DAY_MIN))))
            world[name][start : start + span] = int(rng.choice((0, 1, NO_FAULT)))
    return world


def lived(year: DoorYear, site: str, seed: int, rate: int, stuck: bool = True, resets: bool = True) -> Lived:
    """One run of nine days from a day drawn by the seed."""
    rng = np.random.default_rng(seed)
    day = int(rng.integers(LEAD_DAYS + 1, 350))
    nights = Nights.of(year, day, rng)
    rows = use_table(year.place.rows, year.place.first_day)
    runner = CoreRunner(site_settings(site))
    runner.machine.chance = seed * 2 + 1
    runner.run(healthy_world(year, (day - LEAD_DAYS) * DAY_MIN + DAY_MIN // 2, day * DAY_MIN))
    history = runner.run(disturbed(nights, rate, stuck, resets))
    del rows
    middles = [(nights.close(k) + nights.opening(k)) // 2 for k in range(FAULT_DAYS - 2)]
    open_at = tuple(bool(history["plate_mm"][at] < TRAVEL_MM - FOX_GAP_MM) for at in middles)
    return Lived(runner.machine_facts(), open_at, tuple(bool(history["alarms"][at]) for at in middles))


def _some(job: tuple[str, int, int, int]) -> list[Lived]:
    site, first, n, rate = job
    return [lived(year_of(site, FIRST_SEED), site, first + k, rate) for k in range(n)]


def line(site: str, rate: int, runs: Iterable[Lived]) -> str:
    """A row of the table."""
    runs = list(runs)
    nights = sum(len(run.open) for run in runs)
    opened, unsaid = (sum(map(sum, (run.open for run in runs))), sum(run.open_unalarmed for run in runs))
    wrong = sorted({words for run in runs for words in broken(run.machine)})
    worst = {name: max(run.machine[name] for run in runs) for name in ("starts", "stall_s", "most_cord_mm")}
    cells = [
        site, f"{rate / 10:g} %", str(len(runs)), f"{100 * opened / nights:.2f} %", f"{100 * unsaid / nights:.2f} %",
        "; ".join(wrong) or "held", f"{worst['starts']:.0f}", f"{worst['stall_s']:.0f}", f"{worst['most_cord_mm']:.0f}",
    ]  # fmt: skip
    return "| " + " | ".join(cells) + " |"


HEAD = (
    "| site | glitches a second and wire | runs | nights open | of them without an alarm | invariants "
    "| most motor starts in 9 days | most s stalled | most cord mm |\n|---|---|---|---|---|---|---|---|---|"
)


def main() -> int:
    """Print the table; exit status 1 if a limit was passed or a night was open unsaid."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--runs", type=int, default=100, help="of nine days, at each rate and site")
    parser.add_argument("--site", choices=tuple(SITES), action="append")
    parser.add_argument("--processes", type=int, default=2)
    asked = parser.parse_args()
    print(HEAD)
    clean = True
    with ProcessPoolExecutor(asked.processes) as pool:
        for site in asked.site or SITES:
            for rate in RATES:
                jobs = [(site, 1000 * rate + 20 * k, 20, rate) for k in range(-(-asked.runs // 20))]
                runs = [run for part in pool.map(_some, jobs) for run in part]
                clean = clean and not any(run.open_unalarmed or broken(run.machine) for run in runs)
                print(line(site, rate, runs), flush=True)
    return 0 if clean else 1


if __name__ == "__main__":
    sys.exit(main())
