"""Proof that weather years by the table of normal numbers have the law of those by exact ones.

    python -m tests.study.draws_proof [YEARS [SEED]]    a row for each shipped site (16,000 years: 10 minutes of a core)

Every site is judged twice on the same clearness, means, storms, snow, cells and birds: once with the minutes of
`drawn_minutes`, once with numpy's normal numbers in their place. A year's difference in a figure then hangs on the
minutes alone; if both have one law, its mean is 0 and lies beyond two standard errors in one figure of twenty.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from unittest import mock

import numpy as np

from sunsched.config import toml_file
from sunsched.job.comparison import BLOCK_YEARS, FOLLOW_LIGHT, LATE_MINUTE, climate_of, stage_of
from sunsched.plan.planning import year_plan
from sunsched.study import weather
from sunsched.study.block import run_block, weather_rng
from sunsched.study.choices import own_choices
from sunsched.study.stage import Stage
from sunsched.study.tally import BIRD_FIGURES, BIRDS_OUT, OPEN_MINUTES, year_figures
from sunsched.study.weather import Floats, Light

CONFIGS = Path(__file__).parents[2] / "configs"
YEAR = 2027
HALF_FOLLOW, BOTH = 1, 1  # w = 0.5; clock and light stands second among the three settings
Draw = Callable[[int, int, np.random.Generator], Light]


@dataclass(frozen=True)
class Pairs:
    """Figures of the same years (n_years, n_figures): by exact normal numbers, and by others."""

    exact: Floats
    other: Floats

    @property
    def mean(self) -> Floats:
        """Other minus exact, mean of the years."""
        return np.asarray((self.other - self.exact).mean(axis=0))

    @property
    def error(self) -> Floats:
        """Standard error of `mean`."""
        return np.asarray((self.other - self.exact).std(axis=0, ddof=1) / np.sqrt(len(self.exact)))

    @property
    def errors_off(self) -> Floats:
        """How many standard errors each figure lies from 0; figures that never differ are left out."""
        some = self.error > 0
        return np.asarray(self.mean[some] / self.error[some])


def exact_minutes(n_min: int, n_columns: int, rng: np.random.Generator) -> Light:
    """Numpy's normal numbers, in place of `drawn_minutes`."""
    return rng.standard_normal((n_min, n_columns), dtype=np.float32)


def figures(stage: Stage, n_blocks: int, draw: Draw, seed: int) -> Floats:
    """Every figure of every year (n_blocks x BLOCK_YEARS, n_figures); birds out and minutes open come first."""
    rows = []
    with mock.patch.object(weather, "drawn_minutes", draw):
        for block in range(n_blocks):
            found = year_figures(run_block(stage, BLOCK_YEARS, weather_rng(seed, block)))
            every = (found.birds, found.door, found.reopened, found.second_chance)
            rows.append(np.concatenate([one.reshape(BLOCK_YEARS, -1) for one in every], axis=1))
    return np.concatenate(rows)


def stage_of_site(path: Path) -> Stage:
    """A shipped site as `compare` judges it, with one setting for each strategy."""
    c = toml_file.read(str(path))
    plan = year_plan(c.site, c.chip, c.rules, YEAR, c.light_cell)
    climate, _ = climate_of(c.site.latitude_deg, None)
    chosen = own_choices(c.rules, c.light_cell, plan)
    return stage_of(c, plan, climate, chosen, follow_light=FOLLOW_LIGHT, late_minute=LATE_MINUTE)


def row(name: str, found: Pairs, n_settings: int) -> str:
    """A line of the table: clock and light for birds that follow the light by half, then all figures."""
    at = (HALF_FOLLOW * n_settings + BOTH) * len(BIRD_FIGURES)
    out, minutes = at + BIRDS_OUT, at + OPEN_MINUTES

    def difference(figure: int, digits: int) -> str:
        return f"{found.mean[figure]:+.{digits}f} +-{2 * found.error[figure]:.{digits}f}"

    off = np.abs(found.errors_off)
    means = found.exact.mean(axis=0)
    return (
        f"| {name} | {means[out]:.2f} | {difference(out, 3)} | {means[minutes]:.3f} | {difference(minutes, 4)} | "
        f"{(off > 2).sum()} of {len(off)} | {off.max():.1f} |"
    )


def main() -> None:
    """Print the table."""
    years, seed, *_ = *map(int, sys.argv[1:]), *(16_000, 1)[len(sys.argv) - 1 :]
    n_blocks = -(-years // BLOCK_YEARS)
    print("| site | birds out, exact | table minus exact | minutes open, exact | table minus exact ", end="")
    print("| figures beyond 2 errors | farthest, errors |\n|---|---|---|---|---|---|---|")
    for path in sorted(CONFIGS.glob("*.toml")):
        stage = stage_of_site(path)
        of_both = Pairs(*(figures(stage, n_blocks, draw, seed) for draw in (exact_minutes, weather.drawn_minutes)))
        print(row(path.stem, of_both, len(stage.settings)), flush=True)


if __name__ == "__main__":
    main()
