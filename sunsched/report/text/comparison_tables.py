"""A comparison's tables as plain values, for JSON and for the texts."""

from __future__ import annotations

from itertools import combinations
from typing import Any

import numpy as np

from sunsched.base import cautions
from sunsched.base.civil_time import clock_text
from sunsched.base.rounding import printed_values, rounded
from sunsched.job.comparison import Comparison, second_chance_of
from sunsched.study import tally
from sunsched.study.settings import STRATEGIES
from sunsched.study.tally import (
    BIRD_FIGURES,
    DOOR_FIGURES,
    SHIFT_HIGH_MIN,
    SHIFT_LOW_MIN,
    Estimate,
    Matched,
    means_and_errors,
)
from sunsched.study.weather import Floats


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
    mean = rounded((counts * minutes).sum() / n)
    return {"evenings": int(n), "mean_min": mean, "dullest_tenth_min": low, "brightest_tenth_min": high}


def months_out(work: Comparison) -> list[dict[str, Any]]:
    """Birds the configuration shuts out by month, for each share of followers."""
    sums, own = work.sums, work.chosen.own_row
    assert sums.month_sum is not None and sums.month_squares is not None
    kept = [years[:, :, own] for years in sums.months]
    mean, error = means_and_errors(sums.month_sum[:, own], sums.month_squares[:, own], kept, sums.n_years)
    return [
        {"follow_light": w, "birds_out": mean[n].tolist(), "error": error[n].tolist()}
        for n, w in enumerate(work.follow_light)
    ]


def matched_table(work: Comparison) -> list[dict[str, Any]]:
    """For each share of followers: every strategy's birds out where its minutes are the configuration's own."""
    own = work.chosen.own_row
    tables = []
    for number, follow in enumerate(work.follow_light):
        minutes = work.estimate(number, own, "open_after_dark_min").mean
        found = tally.matched(work.sums, work.settings, number, minutes, own=own)
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
                        "error": tally.matched_error(work.sums, number, m),
                        "between": list(m.between),
                    }
                    for s in STRATEGIES
                },
                "differences": pairs,
            }
        )
    return tables


def _pair(work: Comparison, number: int, found: dict[Any, Matched], one: Any, other: Any) -> dict[str, Any]:
    gap = tally.matched_difference(work.sums, number, found[one], found[other])
    mean = gap.mean if gap.significant else None
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
    found = tally.at_least_as_good(work.sums, work.settings, own, len(work.follow_light))
    return [
        {
            "strategy": work.settings[b.row].strategy,
            "setting": work.settings[b.row].label,
            "birds_out": [{"difference": d.mean, "error": d.error} for d in b.birds],
            "open_after_dark_min": [{"difference": d.mean, "error": d.error} for d in b.minutes],
            "told": b.significant,
            "words": "better" if b.significant else tally.CANNOT_TELL,
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
    """Nights a year on which the light rule would open again without its latch."""
    sums = work.sums
    assert sums.reopened_sum is not None and sums.reopened_squares is not None
    two = means_and_errors(sums.reopened_sum, sums.reopened_squares, sums.reopened, sums.n_years)
    words = ("by_a_lamp_each_evening", "by_daylight")
    return {word: {"mean": float(m), "error": float(e)} for word, m, e in zip(words, *two, strict=True)}


def second_chance(work: Comparison) -> dict[str, Any]:
    """What one more opening after a closing by light would let in and cost, with errors."""
    sums, chance = work.sums, second_chance_of(work.configuration.door)
    assert sums.second_sum is not None and sums.second_squares is not None
    mean, error = means_and_errors(sums.second_sum, sums.second_squares, sums.second, sums.n_years)
    names = ("birds_let_in", "more_open_min", "nights_used")
    rows = [
        {
            "follow_light": w,
            **{name: {"mean": float(m), "error": float(e)} for name, m, e in zip(names, *two, strict=True)},
        }
        for w, two in zip(work.follow_light, zip(mean, error, strict=True), strict=True)
    ]
    chosen = bool(work.configuration.door and work.configuration.door.reopen_once)
    return {"chosen": chosen, "after_min": chance.after_min, "for_s": chance.for_s, "by_follow_light": rows}


def plain(work: Comparison) -> dict[str, Any]:
    """The whole comparison as values for JSON."""
    values = {
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
        "hangs_on": None if work.hangs_on is None else work.hangs_on.plain(),
        "yours_by_month": months_out(work) if work.configuration.flock.birds else [],
        "dull_evening_shift": dull_shift(work),
        "unlatched_light_reopens": reopened(work),
        "second_chance": second_chance(work) if work.configuration.flock.birds else None,
        "spread": device_table(work) if work.configuration.flock.birds else [],
        "at_least_as_good": better_table(work),
        "left_out": list(work.chosen.left_out),
        "limits": list(cautions.STUDY),
    }
    return dict(printed_values(values))
