"""The `compare` command's work: a configuration -> its strategies over many weather years, beside one another."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from sunsched.base.errors import UsageError
from sunsched.config.configuration import Configuration
from sunsched.hardware.parts import Door
from sunsched.job.climate_file import MonthlyClimate
from sunsched.plan.planning import year_plan
from sunsched.plan.rules import Rules, evening_minute
from sunsched.plan.year import YearPlan
from sunsched.study import tally
from sunsched.study.block import SecondChance, Stage, run_block, weather_rng
from sunsched.study.choices import Choices, choices
from sunsched.study.measured import MeasuredMeans, Record, measured_means
from sunsched.study.scene import scene_of
from sunsched.study.settings import Setting
from sunsched.study.tally import BIRD_FIGURES, DOOR_FIGURES, Estimate, Sums, year_figures
from sunsched.study.weather import Climate, assumed_climate

BLOCK_YEARS = 16
FAR_DEG = 1.0  # a weather station further off than this has another Sun by minutes
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
    notes: tuple[str, ...] = ()

    @property
    def settings(self) -> tuple[Setting, ...]:
        """Every setting judged, those for the spread of cells among them."""
        return self.chosen.settings

    def estimate(self, follow: int, row: int, figure: str) -> Estimate:
        """One of BIRD_FIGURES for a setting and a share of followers."""
        return tally.estimate(self.sums, follow, row, BIRD_FIGURES.index(figure))

    def door(self, row: int, figure: str) -> Estimate:
        """One of DOOR_FIGURES for a setting."""
        return tally.door_estimate(self.sums, row, DOOR_FIGURES.index(figure))


def late_minute_of(text: str) -> int:
    """A civil time "23:30" as minutes after midnight; raises UsageError for anything else."""
    hour, _, minute = text.partition(":")
    if len(text) == 5 and (hour + minute).isdecimal() and int(hour) < 24 and int(minute) < 60:
        return int(hour) * 60 + int(minute)
    raise UsageError(f"--late is '{text}'; wanted a civil time such as 23:30")


def _in_order(blocks: Iterable[int], total: int) -> Iterable[int]:
    return blocks


def second_chance_of(door: Door | None) -> SecondChance:
    """The configuration's second chance, or the default one where it has no door."""
    return SecondChance(door.reopen_after_min, door.reopen_for_s) if door else SecondChance()


def stage_of(configuration: Configuration, plan: YearPlan, climate: Climate, chosen: Choices, **more: Any) -> Stage:
    """The scene of a comparison; `more` gives follow_light and late_minute."""
    late = evening_minute(more["late_minute"]) - plan.civil_offset_min + plan.chip_offset_min
    return Stage(
        scene=scene_of(plan, configuration.model),
        climate=climate,
        cell=configuration.light_cell,
        birds=configuration.flock.birds,
        settings=chosen.settings,
        follow_light=more["follow_light"],
        late_min=late.astype(np.float64),
        second_chance=second_chance_of(configuration.door),
        model=configuration.model,
        drift_ppm=configuration.clock.drift_ppm,
    )


def comparison_of(
    configuration: Configuration,
    year: int,
    n_years: int,
    seed: int,
    follow_light: tuple[float, ...] = FOLLOW_LIGHT,
    late_minute: int = LATE_MINUTE,
    climate: MonthlyClimate | None = None,
    record: Record | None = None,
    tick: Tick = _in_order,
) -> Comparison:
    """Judge all strategies over `n_years` weather years of the site.

    year   whose plan is judged; late_minute   civil minute after which an open door counts as left open
    record   measured light, whose twilight means take the place of drawn ones
    tick   goes through the blocks, for a progress bar
    """
    c = configuration

    def plan_of(rules: Rules) -> YearPlan:
        return year_plan(c.site, c.chip, rules, year, c.light_cell)

    plan = plan_of(c.rules)
    weather, source = climate_of(c.site.latitude_deg, climate)
    chosen = choices(c.rules, c.light_cell, plan, plan_of)
    stage = stage_of(c, plan, weather, chosen, follow_light=follow_light, late_minute=late_minute)
    if record is not None:
        stage = replace(stage, measured=measured_means(record, plan))
        source = _measured_words(stage.measured, source)
    sums = Sums()
    n_blocks = -(-n_years // BLOCK_YEARS)
    for block in tick(range(n_blocks), n_blocks):
        years = min(BLOCK_YEARS, n_years - block * BLOCK_YEARS)
        rng = weather_rng(seed, block)
        sums.add(year_figures(run_block(stage, years, rng, block * BLOCK_YEARS)))
    notes = () if record is None else _place_notes(record, plan)
    return Comparison(c, plan, year, seed, weather, source, follow_light, late_minute, chosen, sums, notes)


def climate_of(latitude_deg: float, given: MonthlyClimate | None) -> tuple[Climate, str]:
    """The climate to draw from, and where it comes from in words."""
    weather = assumed_climate(latitude_deg)
    if given is None:
        return weather, "clearness assumed for the latitude, not verified; storms and snow assumed"
    own = Climate(given.clearness, weather.storms_a_month, weather.snowfalls_a_winter, weather.winter_months)
    return own, f"clearness from {given.source}; storms and snow assumed"


def _place_notes(record: Record, plan: YearPlan) -> tuple[str, ...]:
    """A warning where the record says that it was made elsewhere."""
    if record.place_deg is None:
        return ()
    latitude, longitude = record.place_deg
    site = plan.site
    if abs(latitude - site.latitude_deg) <= FAR_DEG and abs(longitude - site.longitude_deg) <= FAR_DEG:
        return ()
    where = f"{latitude:g} N {longitude:g} E, the site at {site.latitude_deg:g} N {site.longitude_deg:g} E"
    return (f"{record.source} was made at {where}: its evenings are held against another Sun",)


def _measured_words(means: MeasuredMeans | None, drawn: str) -> str:
    assert means is not None
    return (
        f"means of {100 * means.share:.0f} % of the twilights from {means.source} ({means.n_years} measured years, "
        "taken in turn, so that the errors hold for minutes and birds, not for other weather); minutes drawn; the "
        f"rest: {drawn}"
    )
