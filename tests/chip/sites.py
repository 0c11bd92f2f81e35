"""The shipped configurations, and what an emulated chip has to answer for each of them."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np

from sunsched.config import toml_file
from sunsched.job import pipeline
from sunsched.plan.year import YearPlan
from sunsched.table import facts

CONFIGS = Path(__file__).parents[2] / "configs"
SHIPPED = sorted(path.stem for path in CONFIGS.glob("*.toml"))
YEARS = (2027, 2028)  # a common year and a leap year


@cache
def built(name: str, year: int) -> pipeline.Built:
    """A shipped configuration's year."""
    return pipeline.built(toml_file.read(CONFIGS / f"{name}.toml"), year, f"{name}.toml")


def told_lines(plan: YearPlan) -> list[str]:
    """Each day as `dump_plain.c` prints it: opening, closing, facts and solar midnight in hex.

    Solar midnight is what the reader works out from its nodes; that it is the Sun's own is checked beside this.
    """
    midnight = facts.midnight_nodes(plan.midnight_min).at(np.arange(plan.n_days))
    columns = (plan.open_min, plan.close_min, plan.fact_bits, midnight)
    return [
        f"{int(o) & 0xFFFF:04x}{int(c) & 0xFFFF:04x}{int(f):02x}{int(m) & 0xFFFF:04x}"
        for o, c, f, m in zip(*columns, strict=True)
    ]
