"""How many weather years a second are drawn and judged on one core, and that memory does not grow with their number.

Run: python bench/study_bench.py [CONFIG]
One setting for each of the three strategies; then the whole sweep of `sunsched compare`. Processor time, so that a busy
machine does not count.
"""

from __future__ import annotations

import resource
import sys
import time
from pathlib import Path

from sunsched.config import toml_file
from sunsched.job.comparison import (
    BLOCK_YEARS,
    FOLLOW_LIGHT,
    LATE_MINUTE,
    Comparison,
    assumptions_of,
    climate_of,
    comparison_of,
    stage_of,
    stages_of,
)
from sunsched.plan.planning import year_plan
from sunsched.study.block import run_block, weather_rng
from sunsched.study.choices import own_choices
from sunsched.study.sensitivity import differences_of, sensitivity
from sunsched.study.tally import Sums, year_figures

ROOT = Path(__file__).parents[1]
YEAR = 2027


def peak_mb() -> float:
    """The most memory this process has held [MB]."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def three_strategies(path: Path, n_blocks: int) -> float:
    """Weather years a second with one setting for each strategy."""
    c = toml_file.read(str(path))
    plan = year_plan(c.site, c.chip, c.rules, YEAR, c.light_cell)
    chosen = own_choices(c.rules, c.light_cell, plan)
    weather, _ = climate_of(c.site.latitude_deg, None)
    stage = stage_of(c, plan, weather, chosen, follow_light=FOLLOW_LIGHT, late_minute=LATE_MINUTE)
    _ = stage.spans, stage.habits
    sums = Sums()
    start = time.process_time()
    for block in range(n_blocks):
        sums.add(year_figures(run_block(stage, BLOCK_YEARS, weather_rng(1, block))))
    return n_blocks * BLOCK_YEARS / (time.process_time() - start)


def times_of_sensitivity(path: Path, whole_s: float, work: Comparison) -> float:
    """How many times as long a comparison takes to find what its verdicts depend on."""
    c = toml_file.read(str(path))
    stage = stage_of(c, work.plan, work.climate, work.chosen, follow_light=FOLLOW_LIGHT, late_minute=LATE_MINUTE)
    main_differences = differences_of(work.sums, work.settings, work.chosen.own_row, len(FOLLOW_LIGHT))
    start = time.process_time()
    sensitivity(stages_of(c, stage), assumptions_of(c), work.chosen.own_strategy, main_differences, 1)
    return whole_s / (whole_s - (time.process_time() - start))


def main() -> None:
    """Print a table: site, years a second, seconds of a default comparison, memory after few and many years."""
    paths = [Path(word) for word in sys.argv[1:]] or sorted((ROOT / "configs").glob("*.toml"))
    print("site              years/s  compare 200 years, s  times without sensitivity  peak MB after 96 and 960 years")
    for path in paths:
        rate = three_strategies(path, 6)
        few = peak_mb()
        three_strategies(path, 60)
        many = peak_mb()
        start = time.process_time()
        work = comparison_of(toml_file.read(str(path)), YEAR, 200, 1)
        whole = time.process_time() - start
        times = times_of_sensitivity(path, whole, work)
        print(f"{path.stem:16s} {rate:8.0f} {whole:21.1f} {times:26.1f} {few:11.0f} {many:8.0f}")


if __name__ == "__main__":
    main()
