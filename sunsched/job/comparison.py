"""The `compare` command's work: a configuration -> its strategies over many weather years, beside one another."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from itertools import combinations
from typing import Any

import numpy as np

from sunsched.base.civil_time import clock_text
from sunsched.base.errors import UsageError
from sunsched.config.configuration import Configuration
from sunsched.job.climate_file import MonthlyClimate
from sunsched.plan.planning import year_plan
from sunsched.plan.rules import Rules, evening_minute
from sunsched.plan.year import YearPlan
from sunsched.study import verdict
from sunsched.study.block import run_block, weather_rng
from sunsched.study.choices import Choices, choices
from sunsched.study.limits import CAUTION, HENS_ONLY, LIMITS
from sunsched.study.scene import scene_of
from sunsched.study.settings import STRATEGIES, Setting
from sunsched.study.stage import Stage
from sunsched.study.tally import BIRD_FIGURES, DOOR_FIGURES, SHIFT_HIGH_MIN, SHIFT_LOW_MIN, Sums, year_figures
from sunsched.study.verdict import Estimate, Matched
from sunsched.study.weather import Climate, Floats, assumed_climate

BLOCK_YEARS = 16
FOLLOW_LIGHT = (0.0, 0.5, 1.0)
LATE_MINUTE = 23 * 60 + 30
Tick = Callable[[Iterable[int], int], Iterable[int]]


@dataclass(frozen=True)
class Comparison:
    """All settings on the same weather years, as sums, with what they were drawn from."""

    configuration: Configuration
    plan: YearPlan
    year: int
    seed: int
    climate: Climate
    climate_source: str
    follow_light: tuple[float, ...]
    late_minute: int
    chosen: Choices
    sums: Sums

    @property
    def settings(self) -> tuple[Setting, ...]:
        """Every setting judged, those for the spread of cells among them."""
        return self.chosen.settings

    def estimate(self, follow: int, row: int, figure: str) -> Estimate:
        """One of BIRD_FIGURES for a setting and a share of followers."""
        return verdict.estimate(self.sums, follow, row, BIRD_FIGURES.index(figure))

    def door(self, row: int, figure: str) -> Estimate:
        """One of DOOR_FIGURES for a setting."""
        return verdict.door_estimate(self.sums, row, DOOR_FIGURES.index(figure))


def late_minute_of(text: str) -> int:
    """A civil time "23:30" as minutes after midnight; raises UsageError for anything else."""
    hour, _, minute = text.partition(":")
    if len(text) == 5 and (hour + minute).isdecimal() and int(hour) < 24 and int(minute) < 60:
        return int(hour) * 60 + int(minute)
    raise UsageError(f"--late is '{text}'; wanted a civil time such as 23:30")


def _in_order(blocks: Iterable[int], total: int) -> Iterable[int]:
    return blocks


def stage_of(configuration: Configuration, plan: YearPlan, climate: Climate, chosen: Choices, **more: Any) -> Stage:
    """The scene of a comparison; `more` gives follow_light and late_minute."""
    late = evening_minute(more["late_minute"]) - plan.civil_offset_min + plan.chip_offset_min
    return Stage(
        scene=scene_of(plan),
        climate=climate,
        cell=configuration.light_cell,
        birds=configuration.flock.birds,
        settings=chosen.settings,
        follow_light=more["follow_light"],
        late_min=late.astype(np.float64),
    )


def comparison_of(
    configuration: Configuration,
    year: int,
    n_years: int,
    seed: int,
    follow_light: tuple[float, ...] = FOLLOW_LIGHT,
    late_minute: int = LATE_MINUTE,
    climate: MonthlyClimate | None = None,
    tick: Tick = _in_order,
) -> Comparison:
    """Judge all strategies over `n_years` weather years of the site.

    year   whose plan is judged; late_minute   civil minute after which an open door counts as left open
    tick   goes through the blocks, for a progress bar
    """
    c = configuration

    def plan_of(rules: Rules) -> YearPlan:
        return year_plan(c.site, c.chip, rules, year, c.light_cell)

    plan = plan_of(c.rules)
    weather, source = climate_of(c.site.latitude_deg, climate)
    chosen = choices(c.rules, c.light_cell, plan, plan_of)
    stage = stage_of(c, plan, weather, chosen, follow_light=follow_light, late_minute=late_minute)
    sums = Sums()
    n_blocks = -(-n_years // BLOCK_YEARS)
    for block in tick(range(n_blocks), n_blocks):
        years = min(BLOCK_YEARS, n_years - block * BLOCK_YEARS)
        sums.add(year_figures(run_block(stage, years, weather_rng(seed, block))))
    return Comparison(c, plan, year, seed, weather, source, follow_light, late_minute, chosen, sums)


def climate_of(latitude_deg: float, given: MonthlyClimate | None) -> tuple[Climate, str]:
    """The climate to draw from, and where it comes from in words."""
    weather = assumed_climate(latitude_deg)
    if given is None:
        return weather, "clearness assumed for the latitude, not verified; storms and snow assumed"
    own = Climate(given.clearness, weather.storms_a_month, weather.snowfalls_a_winter, weather.winter_months)
    return own, f"clearness from {given.source}; storms and snow assumed"


def dull_shift(work: Comparison) -> list[dict[str, float | int | None]]:
    """By month: minutes by which weather moves the light rule's closing against a clear sky, mean and both tenths."""
    counts = work.sums.shift_counts
    assert counts is not None
    minutes = np.arange(SHIFT_LOW_MIN, SHIFT_HIGH_MIN + 1)
    return [{"month": month + 1, **_spread_of(row, minutes)} for month, row in enumerate(counts)]


def _spread_of(counts: Floats, minutes: Any) -> dict[str, float | int | None]:
    n = counts.sum()
    if not n:
        return {"evenings": 0, "mean_min": None, "dullest_tenth_min": None, "brightest_tenth_min": None}
    share = np.cumsum(counts) / n
    low, high = (int(minutes[np.searchsorted(share, part)]) for part in (0.1, 0.9))
    mean = float((counts * minutes).sum() / n)
    return {"evenings": int(n), "mean_min": mean, "dullest_tenth_min": low, "brightest_tenth_min": high}


def months_out(work: Comparison) -> list[dict[str, Any]]:
    """Birds the configuration shuts out by month, for each share of followers."""
    sums, own = work.sums, work.chosen.own_row
    assert sums.month_sum is not None and sums.month_squares is not None
    mean = sums.month_sum[:, own] / sums.n_years
    variance = np.maximum(sums.month_squares[:, own] / sums.n_years - mean**2, 0) / max(sums.n_years - 1, 1)
    return [
        {"follow_light": w, "birds_out": mean[n].tolist(), "error": np.sqrt(variance[n]).tolist()}
        for n, w in enumerate(work.follow_light)
    ]


def matched_table(work: Comparison) -> list[dict[str, Any]]:
    """For each share of followers: every strategy's birds out where its minutes are the configuration's own."""
    own = work.chosen.own_row
    tables = []
    for number, follow in enumerate(work.follow_light):
        minutes = work.estimate(number, own, "open_after_dark_min").mean
        found = verdict.matched(work.sums, work.settings, number, minutes)
        reached = {s: m for s, m in found.items() if m is not None}
        pairs = [_pair(work, number, reached, *pair) for pair in combinations(reached, 2)]
        tables.append(
            {
                "follow_light": follow,
                "open_after_dark_min": minutes,
                "birds_out": {
                    s: None
                    if (m := found[s]) is None
                    else {
                        "mean": m.figure,
                        "error": verdict.matched_error(work.sums, number, m),
                        "between": list(m.between),
                    }
                    for s in STRATEGIES
                },
                "differences": pairs,
            }
        )
    return tables


def _pair(work: Comparison, number: int, found: dict[Any, Matched], one: Any, other: Any) -> dict[str, Any]:
    gap = verdict.matched_difference(work.sums, number, found[one], found[other])
    mean = gap.mean if gap.told else None
    return {"of": one, "less": other, "birds_out": mean, "error": gap.error, "words": gap.words("birds a year")}


def device_table(work: Comparison) -> list[dict[str, Any]]:
    """Weather spread and device spread apart, for the configuration's own light rules."""
    tables = []
    for strategy in ("light", "both"):
        rows = [n for n, s in enumerate(work.settings) if s.strategy == strategy and s.role == "device"]
        low, middle, high = sorted(rows, key=lambda n: work.settings[n].cell_z or 0.0)
        for number, follow in enumerate(work.follow_light):
            for figure in ("birds_out", "open_after_dark_min"):
                stated = work.estimate(number, middle, figure)
                tables.append(
                    {
                        "strategy": strategy,
                        "follow_light": follow,
                        "figure": figure,
                        "stated_cell": stated.mean,
                        "error": stated.error,
                        "weather_low": stated.low,
                        "weather_high": stated.high,
                        "cell_sees_less": work.estimate(number, low, figure).mean,
                        "cell_sees_more": work.estimate(number, high, figure).mean,
                    }
                )
    return tables


def better_table(work: Comparison) -> list[dict[str, Any]]:
    """Settings at least as good as the configuration's on both counts for every share of followers."""
    if not work.configuration.flock.birds:
        return []
    own = work.chosen.own_row
    found = verdict.at_least_as_good(work.sums, work.settings, own, len(work.follow_light))
    return [
        {
            "strategy": work.settings[b.row].strategy,
            "setting": work.settings[b.row].label,
            "birds_out": [{"difference": d.mean, "error": d.error} for d in b.birds],
            "open_after_dark_min": [{"difference": d.mean, "error": d.error} for d in b.minutes],
            "told": b.told,
            "words": "better" if b.told else verdict.CANNOT_TELL,
        }
        for b in found
    ]


def _plain(found: Estimate) -> dict[str, float]:
    return {"mean": found.mean, "error": found.error, "low": found.low, "high": found.high}


def settings_table(work: Comparison) -> list[dict[str, Any]]:
    """Every setting with its figures; `yours` marks the configuration."""
    rows = []
    for row, setting in enumerate(work.settings):
        if setting.role == "device":
            continue
        by_birds = [
            {"follow_light": w, **{f: _plain(work.estimate(n, row, f)) for f in BIRD_FIGURES}}
            for n, w in enumerate(work.follow_light)
        ]
        rows.append(
            {
                "strategy": setting.strategy,
                "setting": setting.label,
                "yours": row == work.chosen.own_row,
                "by_follow_light": by_birds,
                **{figure: _plain(work.door(row, figure)) for figure in DOOR_FIGURES},
            }
        )
    return rows


def reopened(work: Comparison) -> dict[str, dict[str, float]]:
    """Nights a year on which the light rule, if it were not latched, would open again."""
    sums = work.sums
    assert sums.reopened_sum is not None and sums.reopened_squares is not None
    mean = sums.reopened_sum / sums.n_years
    variance = np.maximum(sums.reopened_squares / sums.n_years - mean**2, 0) / max(sums.n_years - 1, 1)
    words = ("by_a_lamp_each_evening", "by_daylight")
    return {
        word: {"mean": float(m), "error": float(e)} for word, m, e in zip(words, mean, np.sqrt(variance), strict=True)
    }


def plain(work: Comparison) -> dict[str, Any]:
    """The whole comparison as values for JSON."""
    return {
        "site": work.configuration.site.name,
        "year": work.year,
        "weather_years": work.sums.n_years,
        "seed": work.seed,
        "climate": {"monthly_clearness": list(work.climate.monthly_clearness), "source": work.climate_source},
        "birds": work.configuration.flock.birds,
        "late_hour": clock_text(work.late_minute),
        "yours": work.chosen.own_strategy,
        "settings": settings_table(work),
        "at_equal_minutes": matched_table(work) if work.configuration.flock.birds else [],
        "yours_by_month": months_out(work) if work.configuration.flock.birds else [],
        "dull_evening_shift": dull_shift(work),
        "unlatched_light_reopens": reopened(work),
        "spread": device_table(work) if work.configuration.flock.birds else [],
        "at_least_as_good": better_table(work),
        "left_out": list(work.chosen.left_out),
        "limits": [HENS_ONLY, *LIMITS, CAUTION],
    }
