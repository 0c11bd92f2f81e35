"""A year around one door, minute by minute and day and night without a break: light, counts, table rows, birds.

The comparison needs only the twilights; the door's program runs through noon and midnight too, where a dead cell or a
wrong clock shows. Weather, snow and birds are the study's own models; figures marked "assumed" have no source.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sunsched.base.civil_time import DAY_MIN
from sunsched.controller.door_state import NO_MINUTE, DayRow
from sunsched.controller.words import Facts
from sunsched.hardware.light_cell import divider_counts, divider_lux, top_count
from sunsched.hardware.parts import LightCell
from sunsched.plan.planning import year_plan
from sunsched.plan.rules import MomentRule, Rules
from sunsched.plan.site import Chip, Site
from sunsched.plan.year import YearPlan
from sunsched.sky.crossings import sun_altitude_deg
from sunsched.sky.daylight import clear_sky_lux, refraction_deg
from sunsched.study.flock import JITTER_MIN, STRAGGLER_MEAN_MIN, STRAGGLER_SHARE, THRESHOLD_LUX, THRESHOLD_SPREAD_LOG
from sunsched.study.weather import (
    BRIGHTEST_LOG,
    CLEARNESS_52,
    CLEARNESS_60,
    DARKEST_LOG,
    MONTH_OF_DAY,
    SNOWFALLS_52,
    SNOWFALLS_60,
    STORMS_52,
    STORMS_60,
    TWILIGHT_SHARE,
    Climate,
    Floats,
    Ints,
    clearness_of_days,
    twilight_mean_log,
    wander_of_drawn,
)

YEAR = 2027
DAYS = 365
BIRDS = 6
BY_LIGHT_SHARE = 0.5  # of the birds' habit: assumed
STAR_LUX, MOON_LUX, MOON_DAYS = 0.02, 0.25, 29.53  # assumed; full moon at most 0.3 lux
DIRT_LOG, DIRT_DAYS = -0.15, 40  # a cell dims by this much in so many days, then is wiped: assumed
MOST_LUX = 32_766  # the decision's counts are signed
CELL_SPREAD_LOG = 0.10  # what calibration in place leaves: assumed
HABIT_BEFORE_CLOSE_MIN = 45.0  # birds go in by habit where it never gets dim: assumed
DAY_2000 = 10_957  # 2000-01-01 in days since 1970-01-01: 30 years and 7 leap days
# The cell of the trials: 10 kohm suits the ADC (its datasheet asks for sources of about 10 kohm or less).
TRIAL_CELL = LightCell(fixed_ohm=10_000.0, light_lux=10.0)
PLANNED = MomentRule(depression_deg=4.5, cell_from_min=-10, cell_until_min=15)
POLAR_MORNING = PLANNED.model_copy(update={"not_before": 210})
POLAR_EVENING = PLANNED.model_copy(update={"not_after": 1380})

SITES: dict[str, tuple[Site, Rules, Climate]] = {
    "52 N": (
        Site(name="Reed bank", latitude_deg=52.3, longitude_deg=0.0, zone="Europe/London"),
        Rules(morning=PLANNED, evening=PLANNED),
        Climate(CLEARNESS_52, STORMS_52, SNOWFALLS_52),
    ),
    "60 N": (
        Site(name="Alder point", latitude_deg=60.2, longitude_deg=24.9, zone="Europe/Helsinki"),
        Rules(morning=PLANNED, evening=PLANNED),
        Climate(CLEARNESS_60, STORMS_60, SNOWFALLS_60),
    ),
    "69.65 N": (
        Site(name="Fjord shelf", latitude_deg=69.65, longitude_deg=18.95, zone="Europe/Oslo"),
        Rules(morning=POLAR_MORNING, evening=POLAR_EVENING),
        Climate(CLEARNESS_60, STORMS_60, SNOWFALLS_60 + 1),
    ),
}

Counts = NDArray[np.int16]
CountsOf = Callable[[Floats], Counts]


def trial_counts(light_lux: Floats, cell: LightCell = TRIAL_CELL) -> Counts:
    """What a cell reads for the light that falls on it [lux, any shape]: converter counts, or lux of a digital one."""
    if cell.kind == "lux":
        return np.minimum(np.floor(light_lux), MOST_LUX).astype(np.int16)
    counts = divider_counts(light_lux, cell.r10_ohm, cell.gamma, cell.fixed_ohm, cell.adc_steps)
    return np.asarray(counts, dtype=np.int16)


def most_counts(cell: LightCell) -> int:
    """The highest reading of a cell."""
    return MOST_LUX if cell.kind == "lux" else top_count(cell.adc_steps)


def alike_counts(counts: int, cell: LightCell) -> int:
    """What a cell reads in the light in which the trials' own reads `counts`; its own ends for 0 and the top count."""
    trial = TRIAL_CELL
    if counts in (0, most_counts(trial)):
        return 0 if counts == 0 else most_counts(cell)
    lux = divider_lux(counts, trial.r10_ohm, trial.gamma, trial.fixed_ohm, trial.adc_steps)
    return int(trial_counts(np.atleast_1d(lux), cell)[0])


def day_rows(plan: YearPlan) -> list[DayRow]:
    """The rows that the chip's table gives its program, one a day of the plan."""
    columns = zip(plan.open_min, plan.close_min, plan.midnight_min, plan.fact_bits, strict=True)
    return [DayRow(*(int(value) for value in row)) for row in columns]


@dataclass(frozen=True)
class Place:
    """What does not change from one weather year to the next. Minutes count from the first day's chip midnight.

    rows         the table's rows, one a day; `first_day` in days since 2000-01-01
    noon_min, close_min, open_min   (365,) minutes of the year; open_min is that of the same date
    altitude_deg, clear_log         (365 * 1440 + 1,) refracted altitude of the Sun; log10 of the clear sky's lux
    """

    name: str
    climate: Climate
    rows: list[DayRow]
    first_day: int
    noon_min: Ints
    close_min: Ints
    open_min: Ints
    altitude_deg: Floats
    clear_log: Floats


def place_of(name: str) -> Place:
    """One of the trial sites, worked out for the year of the trials."""
    site, rules, climate = SITES[name]
    plan = year_plan(site, Chip(), rules, YEAR, TRIAL_CELL)
    minutes = np.arange(DAYS * DAY_MIN + 1, dtype=np.float64)
    utc_min = plan.first_day * float(DAY_MIN) + minutes - plan.chip_offset_min
    airless_deg = sun_altitude_deg(utc_min, site.latitude_deg, site.longitude_deg)
    altitude_deg = airless_deg + refraction_deg(airless_deg)
    with np.errstate(divide="ignore"):
        clear_log = np.log10(np.maximum(clear_sky_lux(altitude_deg), 1e-6))
    starts = np.arange(DAYS) * DAY_MIN
    if bool((plan.close_min == NO_MINUTE).any()):
        raise ValueError("the trial sites have a minute for every day")
    return Place(
        name=name,
        climate=climate,
        rows=day_rows(plan),
        first_day=plan.first_day - DAY_2000,
        noon_min=starts + plan.noon_min,
        close_min=starts + plan.close_min,
        open_min=starts + plan.open_min,
        altitude_deg=np.asarray(altitude_deg),
        clear_log=np.asarray(clear_log),
    )


@dataclass(frozen=True)
class DoorYear:
    """One weather year at a place.

    cell_log   (minutes,) log10 of the light at the cell, without noise
    noise      (minutes,) counts of noise, -1 to 1; none of a digital sensor
    last_in    (365, BIRDS) minute of the year at which each bird of the evening goes in
    """

    place: Place
    cell_log: Floats
    noise: Counts
    last_in: Floats
    cell: LightCell = TRIAL_CELL

    def counts(self, from_min: int, until_min: int) -> Counts:
        """The cell's counts at the minutes from..until - 1 of the year."""
        span = slice(from_min, until_min)
        return self.read(self.cell_log[span], self.noise[span])

    def read(self, light_log: Floats, noise: Counts) -> Counts:
        """The cell's counts with noise for any light [log10 lux]."""
        noisy: Counts = trial_counts(10.0**light_log, self.cell) + noise
        return np.clip(noisy, 0, most_counts(self.cell)).astype(np.int16)


def door_year(
    place: Place, seed: int, snow: bool = False, cell_log: float = 0.0, cell: LightCell = TRIAL_CELL
) -> DoorYear:
    """Draw a weather year.

    snow       whether snow may lie on the cell (the flock sees the sky all the same)
    cell_log   what the cell reads too much, beside what calibration leaves [log10]
    cell   the photoresistor and its divider, or the digital sensor
    """
    rng = np.random.default_rng(seed)
    attenuation = _attenuation(place, rng)
    sky_log = place.clear_log + np.where(place.altitude_deg > 0, 1.0, TWILIGHT_SHARE) * attenuation
    minutes = np.arange(len(sky_log))
    gain_log = np.log10(cell.sky_view) + cell_log + rng.normal(0.0, CELL_SPREAD_LOG)
    moon_age = 2 * np.pi * (minutes / DAY_MIN + rng.uniform(0, MOON_DAYS)) / MOON_DAYS
    moon = MOON_LUX * np.clip(-np.cos(moon_age), 0, 1) ** 2
    dark_lux = STAR_LUX + moon * 10.0 ** np.clip(attenuation, -1.5, 0.0)
    dirt = DIRT_LOG * ((minutes // DAY_MIN + rng.integers(0, DIRT_DAYS)) % DIRT_DAYS) / DIRT_DAYS
    light_log = np.log10(10.0**sky_log + dark_lux) + gain_log + dirt
    if snow:
        light_log = light_log + _snow_log(place.climate, len(sky_log), rng)
    noise = rng.integers(-1, 2, len(sky_log)).astype(np.int16)
    if cell.kind == "lux":
        noise[:] = 0
    return DoorYear(place, light_log, noise, _last_in(place, sky_log, rng), cell)


def _attenuation(place: Place, rng: np.random.Generator) -> Floats:
    clearness = clearness_of_days(np.asarray(place.climate.monthly_clearness)[MONTH_OF_DAY], 1, rng)[0]
    at = np.concatenate([np.arange(DAYS) * DAY_MIN + 360, np.arange(DAYS) * DAY_MIN + 1080])
    mean = np.concatenate([twilight_mean_log(clearness, rng), twilight_mean_log(clearness, rng)])
    order = np.argsort(at)
    minutes = np.arange(DAYS * DAY_MIN + 1)
    # each column is a day; they meet at midnight, where clouds do not matter
    wander = np.append(wander_of_drawn(rng.standard_normal((DAY_MIN, DAYS), dtype=np.float32)).T.ravel(), 0.0)
    light = np.interp(minutes, at[order], mean[order]) + wander
    chance = np.asarray(place.climate.storms_a_month)[MONTH_OF_DAY] / 30.4
    for day in np.flatnonzero(rng.random(DAYS) < chance):
        centre_min = day * DAY_MIN + rng.normal(16.5, 2.5) * 60
        length_min = min(180.0, max(10.0, float(rng.lognormal(np.log(40), 0.5))))
        near = slice(max(0, int(centre_min) - 150), int(centre_min) + 150)
        rim = np.clip((length_min / 2 - np.abs(minutes[near] - centre_min)) / 8.0, 0, 1)
        light[near] -= rng.uniform(0.4, 1.1) * rim
    clipped: Floats = np.clip(light, DARKEST_LOG, BRIGHTEST_LOG)
    return clipped


def _snow_log(climate: Climate, n_min: int, rng: np.random.Generator) -> Floats:
    """Snow on the cell: 1/6 to 1/160 of the light, hours to four days: assumed."""
    cover = np.zeros(n_min)
    chance = climate.snowfalls_a_winter / 90.0 * np.isin(MONTH_OF_DAY, climate.winter_months).astype(np.float64)
    for day in np.flatnonzero(rng.random(DAYS) < chance):
        start = int(day) * DAY_MIN + int(rng.uniform(0, DAY_MIN))
        end = min(n_min, start + int(min(5760.0, 60 + rng.exponential(1080))))
        depth, ramp_min = rng.uniform(0.8, 2.2), rng.uniform(10, 120)
        cover[start:end] = np.minimum(cover[start:end], -depth * np.clip(np.arange(end - start) / ramp_min, 0, 1))
    return cover


def _last_in(place: Place, sky_log: Floats, rng: np.random.Generator) -> Floats:
    """When each bird goes in: half by the evening's light, half by the Sun's; late ones now and then."""
    level = rng.normal(np.log10(THRESHOLD_LUX), THRESHOLD_SPREAD_LOG, BIRDS)
    whim = rng.normal(0, JITTER_MIN, (DAYS, BIRDS))
    whim += np.where(rng.random((DAYS, BIRDS)) < STRAGGLER_SHARE, rng.exponential(STRAGGLER_MEAN_MIN, (DAYS, BIRDS)), 0)
    # light must have stayed below for five minutes
    settled = np.max([np.roll(sky_log, k) for k in range(5)], axis=0)
    entry = np.empty((DAYS, BIRDS))
    for day, noon in enumerate(place.noon_min):
        light, clear = settled[noon : noon + 721], place.clear_log[noon : noon + 721]
        habit = place.close_min[day] - HABIT_BEFORE_CLOSE_MIN
        for bird in range(BIRDS):
            if not (light < level[bird]).any():
                entry[day, bird] = habit + 3 * whim[day, bird]
                continue
            by_light, by_sun = _last_above(light, level[bird]), _last_above(clear, level[bird])
            entry[day, bird] = noon + BY_LIGHT_SHARE * by_light + (1 - BY_LIGHT_SHARE) * by_sun + whim[day, bird]
        if day_is_limited(place, day):  # where a limit closes before dusk, birds learn it
            entry[day] = np.minimum(entry[day], place.close_min[day] - 15 + whim[day])
    return entry


def day_is_limited(place: Place, day: int) -> bool:
    """True when a limit, not twilight, decided that day's closing."""
    return not place.rows[day].facts & Facts.CLOSE_BY_TWILIGHT


def _last_above(light_log: Floats, level_log: float) -> float:
    above = np.flatnonzero(light_log >= level_log)
    return float(above[-1] + 1) if len(above) else 60.0
