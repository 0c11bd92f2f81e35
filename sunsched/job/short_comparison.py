"""What settings cost in birds and minutes, a short look: the study's functions on few weather years.

`compare` sets a configuration among many others; this judges the configuration alone, or beside another one on the same
weather, so that the difference between the two has its own, smaller error.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

from sunsched.base import cautions
from sunsched.config.configuration import Configuration
from sunsched.job import pipeline
from sunsched.job.comparison import BLOCK_YEARS, FOLLOW_LIGHT, LATE_MINUTE, climate_of, stage_of
from sunsched.study import tally
from sunsched.study.block import run_block, weather_rng
from sunsched.study.choices import Choices, own_choices
from sunsched.study.limits_of_mean import TELLING_ERRORS
from sunsched.study.settings import Setting
from sunsched.study.tally import BIRDS_OUT, OPEN_MINUTES, Difference, Estimate, Sums, year_figures

SEED = 1
_FIGURES = {"birds_out": BIRDS_OUT, "open_after_dark_min": OPEN_MINUTES}
# What both settings have to share, so that one flock at one place meets them under one sky and with one cell.
_SHARED = ("site", "flock", "model", "clock", "door")


@dataclass(frozen=True)
class ShortComparison:
    """One setting, or two, over few weather years; rows are those of `settings`, the configuration's own first."""

    n_years: int
    settings: tuple[Setting, ...]
    sums: Sums

    def estimates(self, figure: str, row: int = 0) -> list[Estimate]:
        """A figure's means, for each share of birds that follow the light."""
        return [tally.estimate(self.sums, n, row, _FIGURES[figure]) for n in range(len(FOLLOW_LIGHT))]

    def differences(self, figure: str) -> list[Difference]:
        """The configuration's figure less the other's, for each share of birds that follow the light."""
        return [tally.difference(self.sums, n, 0, 1, _FIGURES[figure]) for n in range(len(FOLLOW_LIGHT))]


def can_stand_beside(configuration: Configuration, other: Configuration) -> bool:
    """Whether two configurations differ in rules and thresholds alone, so that their difference can be judged."""
    cells = [one.light_cell.model_copy(update={"dark_lux": 5.0, "light_lux": 15.0}) for one in (configuration, other)]
    same = all(getattr(configuration, part) == getattr(other, part) for part in _SHARED)
    return same and cells[0] == cells[1] and configuration.chip.keeps == other.chip.keeps


def short_comparison(
    configuration: Configuration,
    year: int,
    n_years: int,
    other: Configuration | None = None,
    seed: int = SEED,
    tick: Callable[[], None] = lambda: None,
) -> ShortComparison:
    """Judge a configuration over `n_years` weather years, and `other` on the same weather.

    tick   called before each block of years; what it raises ends the work
    Raises what `plan_of` raises for either.
    """
    plan = pipeline.plan_of(configuration, year)
    climate, _ = climate_of(configuration.site.latitude_deg, None)
    settings = [_own(configuration, own_choices(configuration.rules, configuration.light_cell, plan))]
    if other is not None:
        plan_of_other = pipeline.plan_of(other, year)
        settings.append(_own(other, own_choices(other.rules, other.light_cell, plan_of_other)))
    chosen = Choices(tuple(settings), settings[0].strategy, ())
    stage = stage_of(configuration, plan, climate, chosen, follow_light=FOLLOW_LIGHT, late_minute=LATE_MINUTE)
    sums = Sums()
    for block in range(-(-n_years // BLOCK_YEARS)):
        tick()
        years = min(BLOCK_YEARS, n_years - block * BLOCK_YEARS)
        sums.add(year_figures(run_block(stage, years, weather_rng(seed, block), block * BLOCK_YEARS)))
    return ShortComparison(n_years, chosen.settings, sums)


def _own(configuration: Configuration, chosen: Choices) -> Setting:
    return replace(chosen.settings[chosen.own_row], label=configuration.site.name)


def plain(found: ShortComparison) -> dict[str, Any]:
    """The figures for a page: means with their 95 % limits, for each share of followers; the differences."""
    both = len(found.settings) > 1
    return {
        "years": found.n_years,
        "follow_light": list(FOLLOW_LIGHT),
        **{
            figure: [
                {"mean": one.mean, "within": TELLING_ERRORS * one.error, "low": one.low, "high": one.high}
                for one in found.estimates(figure)
            ]
            for figure in _FIGURES
        },
        "differences": {
            figure: [
                {"mean": one.mean, "within": TELLING_ERRORS * one.error, "told": one.significant}
                for one in found.differences(figure)
            ]
            for figure in _FIGURES
        }
        if both
        else None,
        "limits": list(cautions.STUDY),
    }
