"""Weather years: how much of the clear-sky light each evening and morning lets through.

Everything is the attenuation A = log10(light / clear-sky light). A day has a clearness, each of its two
twilights a mean drawn around what that clearness suggests, each minute a wandering about the mean, and some
afternoons a storm or snow on the cell. Figures marked "assumed" have no published source.

A block is drawn once, in a fixed order, before any strategy is judged: every strategy then meets the same weather
(common random numbers), and a block's weather depends on the seed and its own number alone.
"""

import functools
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sunsched.base.errors import RangeError
from sunsched.hardware.model import MODEL, Model

Floats = NDArray[np.float64]
Light = NDArray[np.float32]

MONTH_DAYS = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
MONTH_OF_DAY = np.repeat(np.arange(12), MONTH_DAYS)
LEAST_CLEARNESS = 0.05
PARTS_OF_NORMAL = 2**16  # as many as sixteen bits can number
AT_ONCE = 8192  # so many numbers stay in the processor's cache through a long formula

# What is known least stands in [model]: spreads, the day's memory, storms and snow as shares of the tables below.
# Mean of a twilight: fitted to one-minute irradiance of two sites; the day predicts its evening poorly (r 0.31, 0.47).
MEAN_AT_CLEAR_LOG, MEAN_PER_DECADE, CLEAR_DAY_CLEARNESS = -0.12, 0.48, 0.72
# Minutes: second-order autoregression, memories of 35 and 1.5 min, fitted to one June of one-minute irradiance, 46.8 N.
SLOW_MEMORY_MIN, QUICK_MEMORY_MIN = 35.0, 1.5
DARKEST_LOG, BRIGHTEST_LOG = -1.9, 0.15
# With the Sun down to 1.5 degrees below the horizon clouds take a little less, in log light, than by day: Payerne, June
# 2016, spread 0.24 of 0.27. From there on they take more, up to [model] deep_twilight_share at 5 degrees.
TWILIGHT_SHARE, LOW_TWILIGHT_DEG, DEEP_TWILIGHT_DEG = 0.9, -1.5, -5.0

# Monthly mean clearness, January to December: a web table for two latitudes, not verified.
CLEARNESS_52 = (0.30, 0.37, 0.41, 0.40, 0.46, 0.43, 0.44, 0.43, 0.39, 0.35, 0.31, 0.26)
CLEARNESS_60 = (0.31, 0.43, 0.43, 0.46, 0.47, 0.46, 0.47, 0.45, 0.39, 0.34, 0.33, 0.32)
# Afternoon storms a month and snowfalls on the cell a winter: assumed. The June that the minutes are fitted to has its
# storms in them, so these come on top only where [model] storm_share asks for it.
STORMS_52 = (0.1, 0.1, 0.2, 0.5, 1.5, 2.0, 2.5, 2.0, 1.0, 0.4, 0.2, 0.1)
STORMS_60 = (0.0, 0.0, 0.1, 0.2, 1.0, 1.8, 2.2, 1.6, 0.6, 0.2, 0.1, 0.0)
SNOWFALLS_52, SNOWFALLS_60 = 0.8, 5.0


@dataclass(frozen=True)
class Climate:
    """What the weather of a site is drawn from.

    monthly_clearness   mean daily clearness, January to December [share of the light above the air]
    storms_a_month      mean number of afternoon storms, January to December
    snowfalls_a_winter  mean number of snowfalls that cover the cell in the winter's months
    winter_months       the three darkest months, January 0
    """

    monthly_clearness: tuple[float, ...]
    storms_a_month: tuple[float, ...]
    snowfalls_a_winter: float
    winter_months: tuple[int, ...] = (11, 0, 1)

    def __post_init__(self) -> None:
        _check_monthly(self.monthly_clearness)
        if len(self.storms_a_month) != 12 or min(self.storms_a_month) < 0 or self.snowfalls_a_winter < 0:
            raise RangeError("storms_a_month needs twelve counts of 0 or more, snowfalls_a_winter 0 or more")


def assumed_climate(latitude_deg: float) -> Climate:
    """A climate to start from where the keeper has none: interpolated between two tables, 52 and 60 N.

    South of the equator the months are turned by half a year; towards the equator snow fades out by 40 degrees.
    Beyond 52 towards the equator and 60 towards the pole the nearer table is kept: assumed, not measured.
    """
    share = float(np.clip((abs(latitude_deg) - 52.0) / 8.0, 0.0, 1.0))

    def between(low: Sequence[float], high: Sequence[float]) -> tuple[float, ...]:
        mixed = [round((1 - share) * a + share * b, 3) for a, b in zip(low, high, strict=True)]
        return tuple(mixed if latitude_deg >= 0 else mixed[6:] + mixed[:6])

    snow = (1 - share) * SNOWFALLS_52 + share * SNOWFALLS_60
    snow *= float(np.clip((abs(latitude_deg) - 40.0) / 12.0, 0.0, 1.0))
    winter = (11, 0, 1) if latitude_deg >= 0 else (5, 6, 7)
    return Climate(between(CLEARNESS_52, CLEARNESS_60), between(STORMS_52, STORMS_60), round(snow, 3), winter)


def daily_clearness(
    monthly_clearness: Sequence[float], n_years: int, seed: int, memory: float | Floats = MODEL.day_memory
) -> Floats:
    """Draw the clearness of every day of `n_years` years of 365 days.

    monthly_clearness  twelve monthly means, January to December [share of the light above the air]
    memory   correlation with the day before, 0..0.95; a number, or one for each year (n_years,)
    Returns shape (n_years, 365); the same seed gives the same days.
    Raises RangeError unless there are twelve means from 0.1 to 0.8.
    Source: first-order autoregression mapped through Bendt's exponential distribution (from memory);
      monthly means come out within 0.02.
    """
    return clearness_of_drawn(
        monthly_clearness, drawn_days(n_years, len(MONTH_OF_DAY), np.random.default_rng(seed)), memory
    )


def drawn_days(n_years: int, n_days: int, rng: np.random.Generator) -> Floats:
    """Normal numbers for days, (n_days, n_years): what `clearness_of_drawn` makes weather of, with any memory."""
    # A day of all years is a row: years lie side by side, and the days follow one another.
    return np.ascontiguousarray(rng.standard_normal((n_years, n_days)).T)


def clearness_of_drawn(
    monthly_clearness: Sequence[float], drawn: Floats, memory: float | Floats = MODEL.day_memory
) -> Floats:
    """`daily_clearness` of the numbers that `drawn_days` drew."""
    _check_monthly(monthly_clearness)
    return _remembering(np.asarray(monthly_clearness, dtype=np.float64)[MONTH_OF_DAY], drawn.copy(), memory)


def clearness_of_days(
    day_means: Floats, n_years: int, rng: np.random.Generator, memory: float | Floats = MODEL.day_memory
) -> Floats:
    """Like `daily_clearness`, for the mean clearness of each day, shape (n,); returns shape (n_years, n)."""
    return _remembering(day_means, drawn_days(n_years, len(day_means), rng), memory)


def _remembering(day_means: Floats, drawn: Floats, memory: float | Floats) -> Floats:
    """Clearness (n_years, n_days) of drawn numbers (n_days, n_years), whose place it takes."""
    n_years = drawn.shape[1]
    kept = np.broadcast_to(np.asarray(memory, dtype=np.float64), (n_years,))
    drawn[1:] *= np.sqrt(1 - kept**2)
    part = np.empty(n_years)
    for before, day in pairwise(list(drawn)):
        np.multiply(before, kept, part)
        np.add(part, day, day)
    step = max(1, AT_ONCE // n_years)
    for first in range(0, len(drawn), step):
        some = slice(first, first + step)
        drawn[some] = _clearness_at(_normal_share(drawn[some]), day_means[some, None])
    return drawn.T


def twilight_mean_log(
    clearness: Floats, rng: np.random.Generator, spread_log: float = MODEL.evening_spread_log10
) -> Floats:
    """Draw the mean attenuation [log10] of one twilight for each day's clearness, same shape."""
    ratio = np.clip(clearness / CLEAR_DAY_CLEARNESS, 0.03, 1.1)
    spread = spread_log * rng.standard_normal(clearness.shape)
    drawn: Floats = MEAN_AT_CLEAR_LOG + MEAN_PER_DECADE * np.log10(ratio) + spread
    return drawn


def minute_wander(
    n_min: int, n_columns: int, rng: np.random.Generator, spread_log: float = MODEL.minute_spread_log10
) -> Light:
    """Wandering of the attenuation [log10] about its mean, minute by minute.

    Returns shape (n_min, n_columns): each column is one twilight, independent of the others, stationary from
      its first minute, with standard deviation `spread_log` and memories of 35 and 1.5 min.
    """
    return wander_of_drawn(drawn_minutes(n_min, n_columns, rng), spread_log)


def drawn_minutes(n_min: int, n_columns: int, rng: np.random.Generator) -> Light:
    """Nearly normal numbers (n_min, n_columns), mean 0 and standard deviation 1: what `wander_of_drawn` walks by.

    Each is one of 65,536 equally likely values, the medians of as many equally likely parts of a normal distribution,
    widened by 1e-5 to a standard deviation of 1. A word of 64 random bits names four. Exact normal numbers take six
    times as long, a third of all the time of a weather year. What differs from them: no value lies beyond 4.325, where
    a normal distribution has 1 in 65,500; the fourth moment is 2.9992, not 3, the sixth 14.972, not 15. A distribution
    function steps by 2**-16 at each value and is nowhere farther than 1.1e-5 from the normal one.
    """
    n = n_min * n_columns
    words = rng.integers(0, 2**64, -(-n // 4), dtype=np.uint64)
    # A word's lowest bits come first, whatever the processor's order of bytes.
    parts = words.astype("<u8", copy=False).view("<u2")[:n]
    return _medians_of_parts().take(parts).reshape(n_min, n_columns)


@functools.cache
def _medians_of_parts() -> Light:
    from statistics import NormalDist  # loaded where it is used: numpy has no inverse of the normal distribution

    # None lies nearer than 1e-12 of its size to where its 24 bits round the other way: every processor has the same.
    inverse = NormalDist().inv_cdf
    lower = [inverse((part + 0.5) / PARTS_OF_NORMAL) for part in range(PARTS_OF_NORMAL // 2)]
    every = np.array([*lower, *(-median for median in reversed(lower))])
    return np.asarray(every / every.std(), dtype=np.float32)


def wander_of_drawn(wander: Light, spread_log: float = MODEL.minute_spread_log10) -> Light:
    """`minute_wander` of normal numbers (n_min, n_columns) of mean 0 and standard deviation 1, whose place it takes."""
    n_min, n_columns = wander.shape
    slow, quick = math.exp(-1 / SLOW_MEMORY_MIN), math.exp(-1 / QUICK_MEMORY_MIN)
    first, second = slow + quick, -slow * quick
    next_door = first / (1 - second)  # correlation of neighbouring minutes
    fresh = spread_log * math.sqrt((1 + second) * ((1 - second) ** 2 - first**2) / (1 - second))
    if n_min:
        wander[0] *= np.float32(spread_log)
    if n_min > 1:
        wander[1] *= np.float32(spread_log * math.sqrt(1 - next_door**2))
        wander[1] += np.float32(next_door) * wander[0]
    wander[2:] *= np.float32(fresh)
    # Rows of factors, not two numbers, and rows taken apart once: a third of the time goes into numpy's calls.
    of_one, of_two = (np.full(n_columns, factor, dtype=np.float32) for factor in (first, second))
    one, two = np.empty_like(of_one), np.empty_like(of_two)
    rows = list(wander)
    for before, last, row in zip(rows, rows[1:], rows[2:], strict=False):
        np.multiply(last, of_one, one)
        np.add(row, one, row)
        np.multiply(before, of_two, two)
        np.add(row, two, row)
    return wander


def _clearness_at(share: Floats, mean: Floats) -> Floats:
    """Clearness below which `share` of the days lie, for the mean clearness of their month."""
    most = 0.6313 + 0.267 * mean - 11.9 * (mean - 0.75) ** 8
    xi = (most - LEAST_CLEARNESS) / (most - mean)
    gamma = -1.498 + (1.184 * xi - 27.182 * np.exp(-1.5 * xi)) / (most - LEAST_CLEARNESS)
    gamma = np.where(np.abs(gamma) < 1e-6, 1e-6, gamma)
    low, high = np.exp(gamma * LEAST_CLEARNESS), np.exp(gamma * most)
    found = (1 - share) * low
    found += share * high
    np.log(found, found)
    found /= gamma
    return found


def _normal_share(z: Floats) -> Floats:
    """Share of a normal distribution below `z`; Abramowitz & Stegun 1964, 26.2.17, error below 7.5e-8."""
    t = np.abs(z)
    t *= 0.2316419
    t += 1
    np.divide(1, t, t)
    tail = t * 1.330274429
    for factor in (-1.821255978, 1.781477937, -0.356563782, 0.319381530):
        tail += factor
        tail *= t
    weight = z * z
    weight /= -2
    np.exp(weight, weight)
    weight /= math.sqrt(2 * math.pi)
    tail *= weight
    return np.where(z >= 0, 1 - tail, tail)


def _check_monthly(monthly_clearness: Sequence[float]) -> None:
    if len(monthly_clearness) != 12 or not all(0.1 <= value <= 0.8 for value in monthly_clearness):
        raise RangeError(f"monthly clearness needs twelve values from 0.1 to 0.8, got {list(monthly_clearness)}")


Ints = NDArray[np.int64]

# Storms, snow and dirt: assumed, no published source.
STORM_CENTRE_MIN, STORM_CENTRE_SPREAD_MIN = 16.5 * 60, 2.5 * 60
STORM_TYPICAL_MIN, STORM_SPREAD_LN, STORM_LEAST_MIN, STORM_MOST_MIN = 40.0, 0.5, 10.0, 180.0
STORM_DEPTH_LOG, STORM_EDGE_MIN = (0.4, 1.1), 8.0
SNOW_MEAN_MIN, SNOW_LEAST_MIN, SNOW_MOST_MIN = 18 * 60.0, 60.0, 4 * 1440.0
SNOW_RAMP_MIN, SNOW_DEPTH_LOG = (10.0, 120.0), (0.8, 2.2)
WINTER_DAYS = 90.0
DIRT_DAYS = 40
MOST_SET = 16  # settings of the clock drawn for a year; more often than that they repeat
DRIFT_MIN_A_DAY = 86_400e-6 / 60.0  # of one part in a million


def _all_equal(some: Iterable[NDArray[Any]], others: Iterable[NDArray[Any]]) -> bool:
    return all(np.array_equal(one, other) for one, other in zip(some, others, strict=True))


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

    def same(self, other: "Covers") -> bool:
        """Whether both are the same snow."""
        return _all_equal(vars(self).values(), vars(other).values())

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
    sky_z: dict[bool, Floats]  # cell's sky over the birds', evenings (True) and mornings, in standard deviations
    clock_fast_min: Floats  # how fast the clock runs ahead

    @property
    def n_years(self) -> int:
        """How many years the block holds."""
        return len(self.evening_log)

    def same_sky(self, other: "WeatherYears", evening: bool) -> bool:
        """Whether the evenings, or the mornings, of both have the same means and storms."""
        mean, its = (w.evening_log if evening else w.morning_log for w in (self, other))
        return np.array_equal(mean, its) and _all_equal(vars(self.storms).values(), vars(other.storms).values())

    def same_cell(self, other: "WeatherYears") -> bool:
        """Whether cell, dirt and clock of both are the same."""
        own, its = ([w.dirt_log, w.cell_z, *w.sky_z.values(), w.clock_fast_min] for w in (self, other))
        return _all_equal(own, its)


def draw_years(
    climate: Climate,
    months: Ints,
    n_years: int,
    rng: np.random.Generator,
    model: Model = MODEL,
    drift_ppm: float = 0.0,
) -> WeatherYears:
    """Draw a block of weather years for days that lie in `months` (n_days,), January 0.

    drift_ppm   most that the clock gains or loses [parts in a million]
    Each kind of thing has random numbers of its own, so that another value of one input leaves the rest as it was.
    """
    n_days = len(months)
    days, evenings, mornings, storms, covers, dirt, cells, skies, clock = rng.spawn(9)
    means = np.clip(np.asarray(climate.monthly_clearness) * model.clearness_factor, 0.1, 0.8)[months]
    clearness = clearness_of_days(means, n_years, days, model.day_memory)
    phase = dirt.integers(0, DIRT_DAYS, (n_years, 1))
    return WeatherYears(
        evening_log=twilight_mean_log(clearness, evenings, model.evening_spread_log10),
        morning_log=twilight_mean_log(clearness, mornings, model.evening_spread_log10),
        storms=_draw_storms(climate, months, n_years, storms, model.storm_share),
        covers=_draw_covers(climate, months, n_years, covers, model.snow_share),
        dirt_log=-model.dirt_log10 * ((np.arange(n_days) + phase) % DIRT_DAYS) / DIRT_DAYS,
        cell_z=cells.standard_normal(n_years),
        sky_z={evening: skies.standard_normal((n_years, n_days)) for evening in (True, False)},
        clock_fast_min=_draw_clock(n_years, n_days, clock, model, drift_ppm),
    )


def _draw_clock(n_years: int, n_days: int, rng: np.random.Generator, model: Model, drift_ppm: float) -> Floats:
    """How fast the clock is each day [min]: set wrong by a little now and then, drifting one way between."""
    since_start = np.arange(n_days) + rng.random((n_years, 1)) * model.clock_set_every_days
    turn = np.floor(since_start / model.clock_set_every_days).astype(np.int64)
    since_set = since_start - turn * model.clock_set_every_days
    wrong = model.clock_set_min * rng.standard_normal((n_years, MOST_SET))
    rate = rng.uniform(-1.0, 1.0, (n_years, 1)) * drift_ppm * DRIFT_MIN_A_DAY
    fast: Floats = np.take_along_axis(wrong, turn % MOST_SET, axis=1) + rate * since_set
    return fast


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
        {True: still, False: still},
        still,
    )


def _draw_storms(climate: Climate, months: Ints, n_years: int, rng: np.random.Generator, share: float) -> Storms:
    a_day = share * np.asarray(climate.storms_a_month)[months] / 30.4
    column = np.flatnonzero(rng.random((n_years, len(months))) < a_day)
    length = np.exp(np.log(STORM_TYPICAL_MIN) + STORM_SPREAD_LN * rng.standard_normal(len(column)))
    return Storms(
        column,
        STORM_CENTRE_MIN + STORM_CENTRE_SPREAD_MIN * rng.standard_normal(len(column)),
        np.clip(length, STORM_LEAST_MIN, STORM_MOST_MIN),
        rng.uniform(*STORM_DEPTH_LOG, len(column)),
    )


def _draw_covers(climate: Climate, months: Ints, n_years: int, rng: np.random.Generator, share: float) -> Covers:
    a_day = share * climate.snowfalls_a_winter / WINTER_DAYS * np.isin(months, climate.winter_months)
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
