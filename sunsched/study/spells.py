"""One block of weather years as drawn: means of the twilights, storms, snow and dirt on the cell.

Drawn once for a block, in a fixed order, before any strategy is judged: every strategy then meets the same
weather (common random numbers), and a block's weather depends on the seed and its own number alone.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sunsched.study.weather import Climate, Floats, Light, clearness_of_days, twilight_mean_log

Ints = NDArray[np.int64]

# Storms, snow and dirt: assumed, no published source.
STORM_CENTRE_MIN, STORM_CENTRE_SPREAD_MIN = 16.5 * 60, 2.5 * 60
STORM_TYPICAL_MIN, STORM_SPREAD_LN, STORM_LEAST_MIN, STORM_MOST_MIN = 40.0, 0.5, 10.0, 180.0
STORM_DEPTH_LOG, STORM_EDGE_MIN = (0.4, 1.1), 8.0
SNOW_MEAN_MIN, SNOW_LEAST_MIN, SNOW_MOST_MIN = 18 * 60.0, 60.0, 4 * 1440.0
SNOW_RAMP_MIN, SNOW_DEPTH_LOG = (10.0, 120.0), (0.8, 2.2)
WINTER_DAYS = 90.0
DIRT_LOG, DIRT_DAYS = 0.15, 40


@dataclass(frozen=True)
class Storms:
    """Storms of a block: column (year x n_days + day), centre and length [min of the day], depth [log10]."""

    column: Ints
    centre_min: Floats
    length_min: Floats
    depth_log: Floats

    def dim(self, sky_log: Light, columns: Ints, start_min: Ints) -> None:
        """Take the storms out of `sky_log` (n_min, n_columns), whose columns begin at `start_min`, in place."""
        order = np.argsort(columns, kind="stable")
        place = np.clip(np.searchsorted(columns, self.column, sorter=order), 0, max(len(columns) - 1, 0))
        if not len(columns):
            return
        at = order[place]
        met = columns[at] == self.column
        end = start_min[at] + len(sky_log)
        near = self.length_min / 2
        met &= (self.centre_min + near > start_min[at]) & (self.centre_min - near < end)
        at = at[met]
        minute = start_min[at] + np.arange(len(sky_log))[:, None]
        edge = (near[met] - np.abs(minute - self.centre_min[met])) / STORM_EDGE_MIN
        sky_log[:, at] -= (self.depth_log[met] * np.clip(edge, 0, 1)).astype(np.float32)


@dataclass(frozen=True)
class Covers:
    """Snow on the cell: year, first minute from the span's first midnight, length, ramp [min], depth [log10]."""

    year: Ints
    from_min: Floats
    length_min: Floats
    ramp_min: Floats
    depth_log: Floats

    def columns(self, n_days: int, first_min: Ints, last_min: Ints) -> Ints:
        """Columns (year x n_days + day) whose minutes `first_min`..`last_min` (n_days,) of the day are touched."""
        begin = np.arange(n_days) * 1440 + first_min
        end = np.arange(n_days) * 1440 + last_min
        touched: set[int] = set()
        for year, start, length in zip(self.year, self.from_min, self.length_min, strict=True):
            days = np.flatnonzero((begin < start + length) & (end > start))
            touched.update((int(year) * n_days + days).tolist())
        return np.array(sorted(touched), dtype=np.int64)

    def cover_log(self, columns: Ints, start_min: Ints, n_min: int, n_days: int) -> Light:
        """How far the snow dims the cell [log10, 0 or below], shape (n_min, n_columns)."""
        begin = (columns % n_days) * 1440 + start_min
        cover = np.zeros((n_min, len(columns)), dtype=np.float32)
        year = columns // n_days
        events = zip(self.year, self.from_min, self.length_min, self.ramp_min, self.depth_log, strict=True)
        for its_year, start, length, ramp, depth in events:
            touched = (year == its_year) & (begin < start + length) & (begin + n_min > start)
            own = np.flatnonzero(touched)
            since = begin[own] + np.arange(n_min)[:, None] - start
            deep = -depth * np.clip(since / ramp, 0, 1) * (since < length)
            cover[:, own] = np.minimum(cover[:, own], deep)
        return cover


@dataclass(frozen=True)
class WeatherYears:
    """A block of weather years over the n days of a span; all arrays (n_years, n_days) unless said."""

    evening_log: Floats
    morning_log: Floats
    storms: Storms
    covers: Covers
    dirt_log: Floats
    cell_z: Floats  # (n_years,) each year's cell, in standard deviations of the part's spread

    @property
    def n_years(self) -> int:
        """How many years the block holds."""
        return len(self.evening_log)


def draw_years(climate: Climate, months: Ints, n_years: int, rng: np.random.Generator) -> WeatherYears:
    """Draw a block of weather years for days that lie in `months` (n_days,), January 0."""
    n_days = len(months)
    clearness = clearness_of_days(np.asarray(climate.monthly_clearness)[months], n_years, rng)
    phase = rng.integers(0, DIRT_DAYS, (n_years, 1))
    return WeatherYears(
        evening_log=twilight_mean_log(clearness, rng),
        morning_log=twilight_mean_log(clearness, rng),
        storms=_draw_storms(climate, months, n_years, rng),
        covers=_draw_covers(climate, months, n_years, rng),
        dirt_log=-DIRT_LOG * ((np.arange(n_days) + phase) % DIRT_DAYS) / DIRT_DAYS,
        cell_z=rng.standard_normal(n_years),
    )


def clear_years(n_days: int, n_years: int) -> WeatherYears:
    """Years without weather: clear sky every minute, a clean cell of the stated sensitivity."""
    none, nothing = np.zeros(0, dtype=np.int64), np.zeros(0)
    still = np.zeros((n_years, n_days))
    return WeatherYears(
        still,
        still,
        Storms(none, nothing, nothing, nothing),
        Covers(none, nothing, nothing, nothing, nothing),
        still,
        np.zeros(n_years),
    )


def _draw_storms(climate: Climate, months: Ints, n_years: int, rng: np.random.Generator) -> Storms:
    a_day = np.asarray(climate.storms_a_month)[months] / 30.4
    column = np.flatnonzero(rng.random((n_years, len(months))) < a_day)
    length = np.exp(np.log(STORM_TYPICAL_MIN) + STORM_SPREAD_LN * rng.standard_normal(len(column)))
    return Storms(
        column,
        STORM_CENTRE_MIN + STORM_CENTRE_SPREAD_MIN * rng.standard_normal(len(column)),
        np.clip(length, STORM_LEAST_MIN, STORM_MOST_MIN),
        rng.uniform(*STORM_DEPTH_LOG, len(column)),
    )


def _draw_covers(climate: Climate, months: Ints, n_years: int, rng: np.random.Generator) -> Covers:
    a_day = climate.snowfalls_a_winter / WINTER_DAYS * np.isin(months, climate.winter_months)
    year, day = np.nonzero(rng.random((n_years, len(months))) < a_day)
    length = SNOW_LEAST_MIN + rng.exponential(SNOW_MEAN_MIN, len(day))
    return Covers(
        year,
        day * 1440 + rng.uniform(0, 1440, len(day)),
        np.minimum(length, SNOW_MOST_MIN),
        rng.uniform(*SNOW_RAMP_MIN, len(day)),
        rng.uniform(*SNOW_DEPTH_LOG, len(day)),
    )


def with_measured(years: WeatherYears, evening_log: Floats, morning_log: Floats, first_year: int) -> WeatherYears:
    """Measured twilight means (n_measured, n_days), NaN where there is none, in turn from weather year `first_year` on.

    A measured mean holds its storm already, so storms are left out where an evening was measured.
    """
    turn = (first_year + np.arange(years.n_years)) % len(evening_log)
    evening, morning = evening_log[turn], morning_log[turn]
    unmeasured = np.isnan(evening).ravel()[years.storms.column]
    storms = years.storms
    return replace(
        years,
        evening_log=np.where(np.isnan(evening), years.evening_log, evening),
        morning_log=np.where(np.isnan(morning), years.morning_log, morning),
        storms=Storms(
            storms.column[unmeasured],
            storms.centre_min[unmeasured],
            storms.length_min[unmeasured],
            storms.depth_log[unmeasured],
        ),
    )
