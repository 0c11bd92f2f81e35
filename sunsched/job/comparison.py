"""The `compare` command's work: a configuration -> its strategies over many weather years, beside one another."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np

from sunsched.base.errors import LogError, UsageError
from sunsched.config.configuration import Configuration
from sunsched.hardware.assumed import assumptions
from sunsched.hardware.figures import Assumption, Span
from sunsched.hardware.parts import Door
from sunsched.job.climate_file import MonthlyClimate, place_notes
from sunsched.job.logs.own_weather import Learned, weather_of_log
from sunsched.plan.planning import year_plan
from sunsched.plan.rules import Rules, evening_minute
from sunsched.plan.year import YearPlan
from sunsched.study import tally
from sunsched.study.block import run_block, weather_rng
from sunsched.study.choices import Choices, choices
from sunsched.study.measured import MeasuredMeans, Record, measured_climate, measured_means
from sunsched.study.scene import scene_of, with_model
from sunsched.study.sensitivity import YEARS as SENSITIVITY_YEARS
from sunsched.study.sensitivity import Sensitivity, differences_of, kept_settings, sensitivity
from sunsched.study.settings import Setting
from sunsched.study.stage import SecondChance, Stage
from sunsched.study.tally import BIRD_FIGURES, DOOR_FIGURES, Estimate, Sums, year_figures
from sunsched.study.weather import Climate, assumed_climate

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
    notes: tuple[str, ...] = ()
    hangs_on: Sensitivity | None = None
    # The text asks for the same figures in table after table.
    _estimates: dict[tuple[int, int, str], Estimate] = field(
        default_factory=dict, init=False, repr=False, compare=False
    )

    @property
    def settings(self) -> tuple[Setting, ...]:
        """Every setting judged, those for the spread of cells among them."""
        return self.chosen.settings

    def estimate(self, follow: int, row: int, figure: str) -> Estimate:
        """One of BIRD_FIGURES for a setting and a share of followers."""
        key = follow, row, figure
        if key not in self._estimates:
            self._estimates[key] = tally.estimate(self.sums, follow, row, BIRD_FIGURES.index(figure))
        return self._estimates[key]

    def door(self, row: int, figure: str) -> Estimate:
        """One of DOOR_FIGURES for a setting."""
        key = -1, row, figure  # of no share of followers
        if key not in self._estimates:
            self._estimates[key] = tally.door_estimate(self.sums, row, DOOR_FIGURES.index(figure))
        return self._estimates[key]


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
    own_log: Path | None = None,
    learned: Learned | None = None,
) -> Comparison:
    """Judge all strategies over `n_years` weather years of the site.

    year   whose plan is judged; late_minute   civil minute after which an open door counts as left open
    record   measured light, whose twilight means take the place of drawn ones
    tick   goes through the blocks, for a progress bar
    own_log   a light log of the site, whose twilights take the place of drawn ones
    learned   what noted nights show of the flock: its level, and the shares to show where a log of light gives them
    """
    c = configuration
    known = dict[str, Span]()
    if learned is not None:
        known = {LEVEL: Span(learned.level_lux, learned.level_low_lux, learned.level_high_lux)}
        level = {"bird_level_lux": learned.level_lux}
        c = c.model_copy(update={"model": c.model.model_copy(update=level)})
        follow_light = learned.follow_light or follow_light

    def plan_of(rules: Rules) -> YearPlan:
        return year_plan(c.site, c.chip, rules, year, c.light_cell)

    plan = plan_of(c.rules)
    weather, source = climate_of(c.site.latitude_deg, climate)
    chosen = choices(c.rules, c.light_cell, plan, plan_of)
    stage = stage_of(c, plan, weather, chosen, follow_light=follow_light, late_minute=late_minute)
    if record is not None:
        c, stage = _with_record(c, replace(stage, measured=measured_means(record, plan)), record)
        source = _measured_words(stage.measured, source)
    if own_log is not None:
        stage = replace(stage, measured=weather_of_log(c, own_log, plan))
        source = _measured_words(stage.measured, source)
    sums = Sums()
    n_blocks = -(-n_years // BLOCK_YEARS)
    for block in tick(range(n_blocks), n_blocks):
        years = min(BLOCK_YEARS, n_years - block * BLOCK_YEARS)
        rng = weather_rng(seed, block)
        sums.add(year_figures(run_block(stage, years, rng, block * BLOCK_YEARS)))
    notes = () if record is None else place_notes(record, plan.site)
    hangs_on = None
    if c.flock.birds and not np.isnan(stage.scene.evening.planned_min).all():
        main = differences_of(sums, chosen.settings, chosen.own_row, len(follow_light))
        each = max(2, min(SENSITIVITY_YEARS, n_years // 4))  # a quick look stays quick
        listed = assumptions_of(c, known)
        hangs_on = sensitivity(stages_of(c, stage), listed, chosen.own_strategy, main, seed, each)
    return Comparison(
        c, plan, year, seed, stage.climate, source, follow_light, late_minute, chosen, sums, notes, hangs_on
    )


LEVEL = "model.bird_level_lux"
CELL_SPREAD, CLOCK_DRIFT = "light_cell.spread", "clock.drift_ppm"


def assumptions_of(configuration: Configuration, known: Mapping[str, Span] | None = None) -> tuple[Assumption, ...]:
    """Everything that a comparison rests on without having been measured at the site, with its range.

    known   ranges that the keeper's own nights gave, by key
    """
    found = _assumed(configuration)
    nights = known or {}
    return tuple(
        replace(one, span=nights[one.key], why="from the nights that you noted") if one.key in nights else one
        for one in found
    )


def _assumed(configuration: Configuration) -> tuple[Assumption, ...]:
    spread, drift = configuration.light_cell.spread, configuration.clock.drift_ppm
    return (
        *assumptions(configuration.model, "compare"),
        Assumption(CELL_SPREAD, Span(spread, 1.0, spread**2), "the part's tolerance; 1 is a cell calibrated in place"),
        Assumption(CLOCK_DRIFT, Span(drift, 0.0, 2.5 * drift), "the clock chip's limit; heat, frost and age add to it"),
    )


def stages_of(configuration: Configuration, stage: Stage) -> Callable[[Mapping[str, float]], Stage]:
    """Makes the stage with some assumptions at other values, on the minutes that every value of them needs."""
    wide = replace(stage, settings=kept_settings(stage.settings), roomy=True)

    def with_values(values: Mapping[str, float]) -> Stage:
        keys = {key.removeprefix("model."): value for key, value in values.items() if key.startswith("model.")}
        model = configuration.model.model_copy(update=keys)
        cell = configuration.light_cell
        if CELL_SPREAD in values:
            cell = cell.model_copy(update={"spread": values[CELL_SPREAD]})
        scene = with_model(stage.scene, model) if "deep_twilight_share" in keys else stage.scene
        drift = values.get(CLOCK_DRIFT, stage.drift_ppm)
        return wide.on_same_minutes(replace(wide, scene=scene, cell=cell, model=model, drift_ppm=drift))

    return with_values


def _with_record(c: Configuration, stage: Stage, record: Record) -> tuple[Configuration, Stage]:
    """Clearness and its memory from the record too, where it holds whole days of every month."""
    try:
        found = measured_climate(record, c.site.latitude_deg, c.site.longitude_deg)
    except LogError:  # evenings and mornings alone: the rest is drawn as before
        return c, stage
    if "day_memory" not in c.model.model_fields_set:
        c = c.model_copy(update={"model": c.model.model_copy(update={"day_memory": found.memory})})
    climate = replace(stage.climate, monthly_clearness=found.clearness)
    return c, replace(stage, climate=climate, model=c.model)


def climate_of(latitude_deg: float, given: MonthlyClimate | None) -> tuple[Climate, str]:
    """The climate to draw from, and where it comes from in words."""
    weather = assumed_climate(latitude_deg)
    if given is None:
        return weather, "clearness assumed for the latitude, not verified; storms and snow assumed"
    own = Climate(given.clearness, weather.storms_a_month, weather.snowfalls_a_winter, weather.winter_months)
    return own, f"clearness from {given.source}; storms and snow assumed"


def _measured_words(means: MeasuredMeans | None, drawn: str) -> str:
    assert means is not None
    return (
        f"means of {100 * means.share:.0f} % of the twilights from {means.source} ({means.n_years} measured years, "
        "taken in turn, so that the errors hold for minutes and birds, not for other weather); minutes drawn; the "
        f"rest: {drawn}"
    )
