"""A whole year on the emulated ATmega328P for shipped configurations: `python -m tests.chip.whole_year larch_end`.

Prints what was lived, what differed and how long it took; exit status 1 if anything was not as it should be.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter

from tests.chip import judge, sites, skies
from tests.chip.emulated import chip_program
from tests.chip.runs import DAY_S, ChipRun
from tests.support import toolchain

HZ = toolchain.AVR_HZ["atmega328p"]


def lived(name: str, year: int, seed: int, chip: bool, twin: bool) -> list[str]:
    """Lead the year, print its record, return what was wrong."""
    plan = sites.built(name, year).plan
    chip_run = ChipRun(name, year, 0, skies.kinds_of_days(plan.n_days, seed), chip)
    wall_s, cpu_s = time.perf_counter(), time.process_time()
    chip_run.run(twin=twin)
    wall_s, cpu_s = time.perf_counter() - wall_s, time.process_time() - cpu_s
    wrong = [*chip_run.faults(), *(chip_run.differences() if chip else []), *chip_run.twin_differences]
    moves = judge.moves_of(chip_run.life.events(), chip_run.first_s)
    seconds = int(chip_run.life.state.seconds)
    who = ["chip"] * chip + ["this computer"] + ["twin"] * twin
    print(f"{name} {year}, {' and '.join(who)}: {seconds // DAY_S} days, {seconds} s")
    print(f"  {len(moves)} changes of the wish: {dict(Counter(move.reason for move in moves))}")
    print(f"  weather: {dict(Counter(chip_run.kinds))}")
    print(f"  alarms: {sorted(alarms_of(chip_run.life.host_log)) or 'none'}")
    if chip:
        awake = chip_run.life.awake_cycles() / seconds
        down = chip_run.life.asleep_cycles(2) / (seconds * HZ)
        print(f"  awake {awake:.0f} cycles a second, in power-down {100 * down:.3f} % of the time")
        print(f"  program {toolchain.avr_sizes(chip_program(name, year))[0]} bytes of flash")
    print(f"  wall {wall_s:.0f} s, processor {cpu_s:.0f} s: {seconds / wall_s:.0f} times as fast as life")
    print(f"  wrong: {len(wrong)}", *wrong[:20], sep="\n    ")
    chip_run.life.end()
    return wrong


def alarms_of(log: str) -> set[str]:
    """Every alarm that a log shows."""
    rows = (line.split(",") for line in log.splitlines() if ",alarm," in line)
    return {word for row in rows for word in row[7].split("+") if word}


def main() -> int:
    """Run the configurations asked for, one after the other."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("names", nargs="*", default=sites.SHIPPED, help="shipped configurations; default: all")
    parser.add_argument("--year", type=int, default=2027)
    parser.add_argument("--seed", type=int, default=1, help="of the weather")
    parser.add_argument("--no-chip", action="store_true", help="the program on this computer alone: seconds")
    parser.add_argument("--twin", action="store_true", help="the Python twin takes every step too: ten minutes")
    asked = parser.parse_args()
    wrong = [lived(name, asked.year, asked.seed, not asked.no_chip, asked.twin) for name in asked.names]
    return int(any(wrong))


if __name__ == "__main__":
    sys.exit(main())
