"""How often each printed interval holds the truth, over synthetic keepers.

Run: python -m tests.study.coverage_proof [KEEPERS] [--write]     (100 keepers: about 5 min of one core)
--write puts the table into docs/coverage.md. tests/study/test_coverage.py holds a sample of the same functions.
Every keeper draws from the same world with a seed of his own; the truth is that world's, or the mean of all keepers.
"""

from __future__ import annotations

import datetime as dt
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from itertools import combinations
from pathlib import Path
from statistics import NormalDist
from types import SimpleNamespace
from typing import cast

import numpy as np

from sunsched.base.civil_time import day_number
from sunsched.hardware.battery import battery_spans, chance_with_limits, winters_of
from sunsched.hardware.figures import Span, values_of
from sunsched.hardware.parts import Battery
from sunsched.hardware.solar_input import Panel, panel_year
from sunsched.job.logs.angle import AngleFit
from sunsched.job.logs.own_weather import learned_of
from sunsched.job.logs.replay import replay_of
from sunsched.study.block import run_block, weather_rng
from sunsched.study.limits_of_mean import TELLING_ERRORS
from sunsched.study.night_limits import left_out_limits, update_of
from sunsched.study.observations import DUSK_LOG_MIN, following, place_for_share
from sunsched.study.sensitivity import differences_of
from sunsched.study.settings import STRATEGIES, Setting
from sunsched.study.tally import BIRDS_OUT, OPEN_MINUTES, Sums, estimate, means
from sunsched.study.weather import CLEARNESS_52, Floats, daily_clearness, twilight_mean_log
from tests.job.test_replay import configuration as logged_site
from tests.study import test_matched_error as matched_world
from tests.study.test_matched_error import sums_of
from tests.support import study_sites as sites
from tests.support.made_logs import light_lux, lux_log, times

NORMAL = NormalDist()
DOCS = Path(__file__).parents[2] / "docs" / "coverage.md"
STUDY_YEARS = 32
LONG_YEARS = 200  # what `compare` runs where nothing else is asked for


@dataclass(frozen=True)
class Coverage:
    """One kind of interval: what it claims, how many were tried, how many held the truth."""

    what: str
    claimed: str
    tried: int
    held: int

    @property
    def share(self) -> float:
        """Share of intervals that held the truth."""
        return self.held / self.tried


def study_sums(keepers: int) -> tuple[list[Sums], int, tuple]:  # type: ignore[type-arg]
    """Sums of each keeper's weather years at one site, the own row and the settings."""
    c = sites.configuration()
    found = sites.scene(c)
    made = sites.settings(found, (1.5, 2.5, 3.5, 5.0, 7.0, 10.0), (-6, 0, 6, 12, 20))
    on = sites.stage(c, made, found)
    own = next(n for n, s in enumerate(made) if (s.strategy, s.label) == ("both", "5 lux"))
    return [sites.summed(on, STUDY_YEARS, 1000 + seed) for seed in range(keepers)], own, on.settings


def of_the_study(keepers: int) -> list[Coverage]:
    """Limits of means and of matched differences: two errors."""
    sums, own, settings = study_sums(keepers)
    tried = held = 0
    for follow in range(3):
        for figure in (BIRDS_OUT, OPEN_MINUTES):
            truth = np.mean([means(s, follow)[:, figure] for s in sums], axis=0)
            for row in range(len(settings)):
                found = [estimate(s, follow, row, figure) for s in sums]
                held += sum(abs(one.mean - truth[row]) <= TELLING_ERRORS * one.error for one in found)
                tried += len(found)
    of_means = Coverage(f"mean of {STUDY_YEARS} weather years", "95 %", tried, held)
    pool = np.concatenate([year for s in sums for year in s.birds])
    rng = np.random.default_rng(4)
    runs = [sums_of(pool[rng.integers(0, len(pool), LONG_YEARS)]) for _ in range(5 * keepers)]
    afresh, again = _of_differences(sums, settings, own, pool), _of_differences(runs, settings, own, pool)
    worst = min(again, key=lambda one: one.share)
    return [
        of_means,
        _together(f"difference at your own minutes, {STUDY_YEARS} weather years", afresh),
        _together(f"the same, {LONG_YEARS} weather years drawn from all {len(pool)}", again),
        Coverage(f"the worst of these nine: {worst.what}", "95 %", worst.tried, worst.held),
    ]


def of_one_sky(keepers: int) -> list[Coverage]:
    """Limits of the most skewed difference: cell and birds under one sky, birds that follow the light."""
    pool, settings, own = matched_world.world()
    rows = []
    for n_years in (matched_world.YEARS, LONG_YEARS):
        sums = [sums_of(pool[years]) for years in matched_world.drawn_rows(5 * keepers, n_years)]
        found = next(one for one in _of_differences(sums, settings, own, pool) if one.what == "light - both, w = 1")
        what = f"one sky for cell and birds: {found.what}, {n_years} weather years"
        rows.append(Coverage(what, "95 %", found.tried, found.held))
    return rows


def _of_differences(sums: list[Sums], settings: tuple[Setting, ...], own: int, pool: Floats) -> list[Coverage]:
    """Each matched difference of runs; the truth is that of the pool of all years."""
    found = []
    truths, *gaps = (differences_of(s, settings, own, 3) for s in (sums_of(pool), *sums))
    for follow in range(3):
        for pair in combinations(STRATEGIES, 2):
            name = (follow, *pair)
            known = [of_run[name] for of_run in gaps if name in of_run]
            held = sum(abs(one.mean - truths[name].mean) <= TELLING_ERRORS * one.error for one in known)
            found.append(Coverage(f"{pair[0]} - {pair[1]}, w = {follow / 2:g}", "95 %", len(known), held))
    return found


def _together(what: str, found: list[Coverage]) -> Coverage:
    return Coverage(what, "95 %", sum(one.tried for one in found), sum(one.held for one in found))


def of_the_share_left_out(keepers: int) -> list[Coverage]:
    """`angle`: the share of nights to come that end later than the angle, 90 % limits."""
    rng = np.random.default_rng(7)
    tried = held = 0
    for n, share in ((19, 0.05), (40, 0.05), (60, 0.1), (200, 0.05)):
        place = place_for_share(n, share)
        assert place is not None
        _, low, high = left_out_limits(n, place)
        nights = np.sort(rng.normal(4.0, 0.7, (keepers, n)), axis=1)[:, place - 1]
        truth = 1 - np.array([NORMAL.cdf((x - 4.0) / 0.7) for x in nights])
        held += int(((low <= truth) & (truth <= high)).sum())
        tried += keepers
    return [Coverage("angle: share of nights left out", "90 %", tried, held)]


def of_w(keepers: int) -> list[Coverage]:
    """`angle --light`: w at cell noise from 0 to 0.3."""
    found = []
    for noise_log in (0.0, 0.15, 0.3):
        tried = held = 0
        for w in (0.0, 0.25, 0.5, 0.75, 1.0):
            for keeper in range(keepers):
                one = following(*nights_of(w, noise_log, 50, np.random.default_rng([keeper, int(100 * w)])))
                if one is not None:
                    tried += 1
                    held += one.low - 1e-9 <= w <= one.high + 1e-9
        found.append(Coverage(f"angle --light: w on 50 nights, cell noise {noise_log:g}", "95 %", tried, held))
    return found


def nights_of(
    w: float, noise_log: float, n: int, rng: np.random.Generator
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Entry, the cell's light and the clear sky on n evenings [minutes]: the last of some birds, jitter 4 min."""
    clearness = daily_clearness(CLEARNESS_52, 1, int(rng.integers(1 << 30)))[0][rng.integers(0, 365, n)]
    sky_log = 1.2 * (twilight_mean_log(clearness, rng) + 0.21 * rng.standard_normal(n))
    clear = np.arange(n) * 1440.0 + 1100
    true_light = clear + sky_log / DUSK_LOG_MIN
    seen_light = true_light + noise_log * rng.standard_normal(n) / DUSK_LOG_MIN
    entry = w * true_light + (1 - w) * clear + 6 + 4 * rng.standard_normal(n)
    return entry, seen_light, clear


def of_replay(keepers: int) -> list[Coverage]:
    """`replay`: factor and clock of logs with weather, a sky of the cell's own at each twilight, and a wrong clock."""
    rng = np.random.default_rng(11)
    factor_held = clock_held = tried = 0
    when = times(n_days=24)
    first = day_number(dt.date(2027, 3, 1))
    for _ in range(keepers):
        factor, ahead = float(10 ** rng.normal(0, 0.14)), float(np.rint(rng.normal(0, 4)))
        dull = np.where(rng.random(26) < 0.4, 0.0, rng.uniform(0.1, 0.9, 26))
        sides = rng.normal(0, 0.15, 2)
        of_day = (when // 1440).astype(int) - first
        morning = when % 1440 < 690
        lux = light_lux(when, 0.4 * factor) / 10 ** (dull[of_day] + np.where(morning, sides[0], sides[1]))
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "yard.csv"
            path.write_text("\n".join(lux_log(when, lux, ahead_min=ahead)) + "\n")
            found = replay_of(logged_site(), path, zone="civil").offset
        if found is None or found.clock_low_min is None or found.clock_high_min is None:
            continue
        tried += 1
        factor_held += found.factor_low <= factor <= found.factor_high
        clock_held += found.clock_low_min <= ahead <= found.clock_high_min
    return [
        Coverage("replay: factor of the cell", "95 %", tried, factor_held),
        Coverage("replay: minutes that the log's clock is fast", "95 %", tried, clock_held),
    ]


def of_the_battery(keepers: int) -> list[Coverage]:
    """`battery`: chance that a winter passes the depth limit, on 200 winters."""
    values = values_of(battery_spans(Battery(sleep_ma=10.5, controller_ma=1.0), Span(0.0011, 0.0007, 0.0015), True)[0])
    place = panel_year(Panel(60.0, 180.0), 52.0, 365)
    hits = [
        winters_of(values, place, daily_clearness(CLEARNESS_52, 200, 500 + k), np.zeros(365), 171).n_over_limit
        for k in range(keepers)
    ]
    truth = float(np.mean(hits)) / 200
    held = sum(low <= truth <= high for _, low, high in (chance_with_limits(n, 200) for n in hits))
    return [Coverage(f"battery: chance of the depth limit, truth {truth:.3f}", "95 %", keepers, held)]


def of_the_update(keepers: int) -> list[Coverage]:
    """`angle --update`: the angle that leaves out a twentieth, last birds spread by 0.4 to 1.2 degrees."""
    rng = np.random.default_rng(5)
    tried = held = 0
    for spread in (0.4, 0.7, 1.2):
        for middle in (3.2, 4.0, 4.8):
            truth = middle + spread * NORMAL.inv_cdf(0.95)
            for _ in range(keepers):
                out = [int(last > 4.5) for last in rng.normal(middle, spread, 150)]
                found = update_of([4.5] * 150, out, 0.05, 4.5, "log")
                tried += 1
                held += found.low_deg <= truth <= found.high_deg
    return [Coverage("angle --update: the new angle on 150 nights", "95 % and the spread's range", tried, held)]


def of_the_level(keepers: int) -> list[Coverage]:
    """`compare --nights`: the light at which a bird goes in, from 40 nights of each keeper's own flock."""
    c = sites.configuration()
    found = sites.scene(c)
    on = sites.stage(c, sites.settings(found), found)
    block = run_block(on, keepers, weather_rng(77, 0))
    rng = np.random.default_rng(3)
    tried = held = 0
    for number in range(3):
        last = block.birds_in_min[number].max(axis=0).reshape(keepers, -1)
        for keeper in range(keepers):
            rows = rng.permutation(found.n_days)[:40]
            place = np.clip(last[keeper, rows] - found.evening.start_min[rows], 0, len(found.evening.clear_log) - 1)
            clear_lux = 10.0 ** found.evening.clear_log[place.astype(np.int64), rows].astype(np.float64)
            fit = SimpleNamespace(nights=SimpleNamespace(clear_lux=clear_lux, n=40), following=None)
            one = learned_of(c, cast(AngleFit, fit))
            truth = float(10 ** block.flock.threshold_log[keeper].mean())
            tried += 1
            held += one.level_low_lux <= truth <= one.level_high_lux
    return [Coverage("compare --nights: light at which a bird goes in, 40 nights", "95 %", tried, held)]


PARTS: tuple[Callable[[int], list[Coverage]], ...] = (
    of_the_study,
    of_one_sky,
    of_the_share_left_out,
    of_w,
    of_replay,
    of_the_battery,
    of_the_update,
    of_the_level,
)


def table(found: list[Coverage], keepers: int) -> str:
    """The table as Markdown."""
    rows = [f"| {c.what} | {c.claimed} | {c.held} of {c.tried} | {c.share:.1%} |" for c in found]
    head = (
        "# How often the printed intervals hold the truth\n\n"
        f"{keepers} synthetic keepers, `python -m tests.study.coverage_proof {keepers} --write`. Each draws from one\n"
        "world with a seed of his own. An interval that claims 95 % should hold the truth that often or more. Means\n"
        "of few weather years are skewed, since a badly reading cell loses many birds: errors are widened for that\n"
        "(sunsched/study/limits_of_mean.py). They still fall short where the years that count most are rare: minutes\n"
        "that only a few years have, and `light - both` where birds follow the light under one sky with the cell.\n"
        "There a run may have met none of the bad cells, and its limits cannot know of them: ask for more years.\n\n"
        "| interval | claims | held the truth | share |\n|---|---|---|---|\n"
    )
    return head + "\n".join(rows) + "\n"


def main() -> None:
    """Print the table, or write it."""
    numbers = [int(word) for word in sys.argv[1:] if word.isdecimal()]
    keepers = numbers[0] if numbers else 100
    found = [one for part in PARTS for one in part(keepers)]
    text = table(found, keepers)
    print(text)
    if "--write" in sys.argv:
        DOCS.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
