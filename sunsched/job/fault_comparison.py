"""The `compare --faults` command's work: fault nights of each strategy at one site."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from sunsched.base import cautions
from sunsched.base.rounding import printed_values, rounded
from sunsched.config.configuration import Configuration
from sunsched.controller.door_settings import door_settings
from sunsched.job.climate_file import MonthlyClimate
from sunsched.job.comparison import climate_of, stage_of
from sunsched.plan.planning import year_plan
from sunsched.plan.window_light import window_light
from sunsched.study.choices import Choices, own_choices
from sunsched.study.faults import FaultNights, ProgramNights, fault_nights, program_nights
from sunsched.study.limits_of_mean import error_of_years
from sunsched.study.settings import STRATEGIES
from sunsched.study.tally import BIRD_FIGURES, DOOR_FIGURES

MOST_YEARS = 16  # every fault strikes every evening of these years: 5840 nights
BIRDS_OUT, OPEN_MIN = BIRD_FIGURES.index("birds_out"), BIRD_FIGURES.index("open_after_dark_min")
NEVER_SHUT = DOOR_FIGURES.index("never_shut_nights")
UNCHECKED = (
    "Each fault strikes for the first time after healthy days. Clock and light stands here for the window, the "
    "natural-dusk test and the latch, with its clock believed: the door's program does more, and finds a clock that "
    "was set wrong by the light of that evening or of the next night."
)


@dataclass(frozen=True)
class FaultComparison:
    """All faults on the same evenings."""

    configuration: Configuration
    year: int
    n_years: int
    seed: int
    follow_light: tuple[float, ...]
    chosen: Choices
    nights: list[FaultNights]
    program: list[ProgramNights]


def fault_comparison_of(
    configuration: Configuration,
    year: int,
    n_years: int,
    seed: int,
    follow_light: tuple[float, ...],
    late_minute: int,
    climate: MonthlyClimate | None = None,
) -> FaultComparison:
    """Judge every fault on at most sixteen weather years of evenings."""
    c = configuration
    plan = year_plan(c.site, c.chip, c.rules, year, c.light_cell)
    weather, _ = climate_of(c.site.latitude_deg, climate)
    chosen = own_choices(c.rules, c.light_cell, plan)
    stage = stage_of(c, plan, weather, chosen, follow_light=follow_light, late_minute=late_minute)
    years = min(n_years, MOST_YEARS)
    program = []
    if c.flock.birds and c.chip.keeps != "civil":  # the twin reads a table of one offset
        light = window_light(plan, c.rules, c.light_cell)
        settings = door_settings(c.rules, c.light_cell, c.clock, None, c.door, light)
        program = list(program_nights(stage, plan, settings, seed))
    return FaultComparison(c, year, years, seed, follow_light, chosen, fault_nights(stage, years, seed), program)


def program_rows(work: FaultComparison) -> list[dict[str, Any]]:
    """A clock set wrong and insisted on, by the door's own program: birds out and minutes open on its first evening."""
    rows = []
    for nights in work.program:
        n = len(nights.close_min)
        scale = work.configuration.flock.birds / max(nights.birds_in_min.shape[1], 1)
        by_follow = []
        for place, follow in enumerate(work.follow_light):
            birds, minutes = nights.birds_out(place) * scale, nights.open_min(place)
            by_follow.append(
                {
                    "follow_light": follow,
                    "birds_out_a_night": _mean(birds),
                    "open_min": rounded(minutes.mean()),
                }
            )
        rows.append({"clock_fast_min": nights.fast_min, "evenings": n, "by_follow_light": by_follow})
    return rows


def fault_rows(work: FaultComparison) -> list[dict[str, Any]]:
    """Each fault and strategy: birds out a night, minutes open, share of nights never shut."""
    rows = []
    for nights in work.nights:
        a_year = max(nights.n_nights / work.n_years, 1.0)  # a door that stays down all year has no nights
        for strategy in STRATEGIES:
            at = work.chosen.row(strategy)
            never = nights.figures.door[:, at, NEVER_SHUT] / a_year
            by_follow = []
            for n, follow in enumerate(work.follow_light):
                birds = nights.figures.birds[:, n, at, BIRDS_OUT] / a_year
                minutes = nights.figures.birds[:, n, at, OPEN_MIN]
                by_follow.append(
                    {"follow_light": follow, "birds_out_a_night": _mean(birds), "open_min": _mean(minutes)}
                )
            rows.append(
                {
                    "fault": nights.fault.words,
                    "strategy": strategy,
                    "by_follow_light": by_follow,
                    "nights_never_shut": _mean(never),
                }
            )
    return rows


def _mean(figures: np.ndarray[Any, np.dtype[np.float64]]) -> dict[str, float]:
    error = error_of_years(figures) if len(figures) > 1 else float("nan")
    return {"mean": rounded(figures.mean()), "error": rounded(error)}


def plain(work: FaultComparison) -> dict[str, Any]:
    """The fault nights as values for JSON."""
    values = {
        "site": work.configuration.site.name,
        "year": work.year,
        "weather_years": work.n_years,
        "seed": work.seed,
        "birds": work.configuration.flock.birds,
        "faults": fault_rows(work),
        "program_with_clock_set_wrong": program_rows(work),
        "limits": [UNCHECKED, *cautions.STUDY],
    }
    return dict(printed_values(values))
