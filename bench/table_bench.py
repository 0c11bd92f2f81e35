"""What choosing and packing the smallest table of a year costs, in times of working the year out."""

from __future__ import annotations

import time
import tracemalloc
from pathlib import Path

from sunsched.config import toml_file
from sunsched.job import compact, pipeline

ROOT = Path(__file__).parents[1]
YEAR = 2027


def figures(rounds: int = 2) -> dict[str, float]:
    """For each shipped site: processor time of the whole choice over that of the plan, and the bytes chosen."""
    found: dict[str, float] = {}
    for path in sorted((ROOT / "configs").glob("*.toml")):
        configuration = toml_file.read(path)
        plan_s = choice_s = float("inf")
        for _ in range(rounds):
            start = time.process_time()
            pipeline.plan_of(configuration, YEAR)
            middle = time.process_time()
            work = compact.compact(configuration, (YEAR,))
            plan_s, choice_s = min(plan_s, middle - start), min(choice_s, time.process_time() - middle)
        found[f"choice_to_plan_{path.stem}"] = round(choice_s / plan_s, 1)
        found[f"bytes_{path.stem}"] = work.table.data_bytes
    found["choice_peak_mb"] = peak_mb(ROOT / "configs" / "fig_yard.toml")
    return found


def peak_mb(path: Path) -> float:
    """Most memory held at once while a site's smallest table is chosen, beyond what was held before [MB]."""
    configuration = toml_file.read(path)
    tracemalloc.start()
    compact.compact(configuration, (YEAR,))
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return round(most / 1e6, 1)
