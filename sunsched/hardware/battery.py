"""Charge in and out of the battery, day by day, as plain sums on plain numbers.

Charge in Ah, currents in mA. Everything broadcasts: a year is (n_days,), many years (n_years, n_days), and
an input that differs from year to year (n_years, 1).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sunsched.base.errors import RangeError
from sunsched.hardware.spread import Number

Array = NDArray[np.float64]

HOURS_A_DAY = 24.0
MONTHS_A_YEAR, DAYS_A_YEAR = 12.0, 365.25
REFILL_DAYS = 30
# Share of the capacity at 20 C that a cold battery gives: typical VRLA datasheet, C/20, from memory.
COLD_C = (-20.0, 0.0, 20.0)
COLD_SHARE = (0.60, 0.85, 1.00)


def cold_share(temperature_c: ArrayLike) -> Array:
    """Share of the rated capacity left at `temperature_c` [deg C]: straight lines, level beyond -20 and 20.

    Source: typical sealed lead-acid datasheet at the 20-hour rate, from memory.
    """
    return np.asarray(np.interp(np.asarray(temperature_c, dtype=np.float64), COLD_C, COLD_SHARE))


def standing_ah_per_day(current_ma: Number, hours: Number = HOURS_A_DAY) -> Number:
    """Charge that `current_ma` takes in `hours` [Ah]."""
    return current_ma * hours / 1000.0


def board_ah_per_day(sleep_ma: Number, awake_ma: Number, awake_min_per_day: Number) -> Number:
    """Charge the board takes in a day [Ah], asleep but for `awake_min_per_day`."""
    awake_h = awake_min_per_day / 60.0
    return standing_ah_per_day(sleep_ma, HOURS_A_DAY - awake_h) + standing_ah_per_day(awake_ma, awake_h)


def self_discharge_share_per_day(share_month: Number) -> Number:
    """Share of the charge held that is lost in a day, from the share lost in a month."""
    return 1.0 - np.power(np.subtract(1.0, share_month), MONTHS_A_YEAR / DAYS_A_YEAR)


def usable_ah(capacity_ah: Number, usable_share: Number, cold: Number) -> Number:
    """Charge that may be taken out before the depth limit, in the cold [Ah]."""
    return capacity_ah * usable_share * cold


def autonomy_days(usable: Number, used_ah_per_day: Number) -> Number:
    """Days from full to the limit without any Sun; infinite where nothing is used."""
    with np.errstate(divide="ignore"):
        return np.divide(usable, used_ah_per_day)


def panel_ah(panel_w: Number, irradiation_kwh: Number, panel_yield: Number, volts: Number) -> Number:
    """Charge offered by the panel in a day [Ah]: W x kWh/m2 (hours at 1 kW/m2) x yield / V."""
    return panel_w * irradiation_kwh * panel_yield / volts


@dataclass(frozen=True)
class ChargeYear:
    """Charge of each day [Ah], shape (n_years, n_days), in the order of the calendar.

    start and end are the charge held at the day's beginning and end; on every day
    end = start + panel - overflow - used - self_discharge + unmet.
    unmet is what the door's electronics asked for and an empty battery could not give.
    """

    start: Array
    panel: Array
    overflow: Array
    used: Array
    self_discharge: Array
    unmet: Array
    end: Array


def charge_year(
    panel: ArrayLike,
    used_ah: ArrayLike,
    capacity_ah: ArrayLike,
    self_discharge_share_day: ArrayLike,
    start_row: int = 0,
    start_missing_ah: ArrayLike = 0.0,
) -> ChargeYear:
    """Follow the charge through each year, from full on `start_row` round the calendar to the day before it.

    panel   charge offered each day [Ah], (n_years, n_days); the rest (n_years, 1) or single numbers,
    used_ah also (n_years, n_days). Starting at midsummer keeps a whole winter in one run.
    Temperature does not enter: cold hides charge and gives it back, so it belongs to the limit, not to the
    balance. What is used goes on being used below the limits until nothing is held.
    Raises RangeError for a row outside the year.
    """
    offered = np.atleast_2d(np.asarray(panel, dtype=np.float64))
    n_years, n_days = offered.shape
    if not 0 <= start_row < n_days:
        raise RangeError(f"start_row is {start_row!r}; wanted 0 to {n_days - 1}")
    wanted = np.broadcast_to(np.asarray(used_ah, dtype=np.float64), offered.shape)
    full = np.broadcast_to(np.asarray(capacity_ah, dtype=np.float64), (n_years, 1))[:, 0]
    leak = np.broadcast_to(np.asarray(self_discharge_share_day, dtype=np.float64), (n_years, 1))[:, 0]
    missing = np.broadcast_to(np.asarray(start_missing_ah, dtype=np.float64), (n_years, 1))[:, 0]
    start, overflow, lost, unmet, end = (np.empty_like(offered) for _ in range(5))
    held = np.maximum(0.0, full - missing)
    for row in (*range(start_row, n_days), *range(start_row)):
        start[:, row], lost[:, row] = held, held * leak
        after = held - lost[:, row] - wanted[:, row] + offered[:, row]
        held = np.clip(after, 0.0, full)
        overflow[:, row], unmet[:, row] = np.maximum(0.0, after - full), np.maximum(0.0, -after)
        end[:, row] = held
    return ChargeYear(start, offered, overflow, wanted.copy(), lost, unmet, end)


def longest_runs(days: NDArray[np.bool_], start_row: int = 0) -> NDArray[np.int64]:
    """Longest run of true days in each year, followed from `start_row` round the calendar, shape (n_years,)."""
    rolled = np.roll(days, -start_row, axis=1)
    longest = np.zeros(rolled.shape[0], dtype=np.int64)
    running = np.zeros_like(longest)
    for row in range(rolled.shape[1]):
        running = np.where(rolled[:, row], running + 1, 0)
        longest = np.maximum(longest, running)
    return longest


@dataclass(frozen=True)
class Winter:
    """What each year came to, shape (n_years,).

    over_limit_days   days that ended with more taken out than the depth limit allows at that cold
    flat_days         days that ended with nothing left at that cold: the door stops
    longest_flat_run  of those, the longest run
    longest_unfilled_run   longest run of days in which the battery was never full
    lowest_ah, lowest_row  least charge held, and the row of that day
    refilled          full at least once in the last 30 days of the run
    """

    over_limit_days: NDArray[np.int64]
    flat_days: NDArray[np.int64]
    longest_flat_run: NDArray[np.int64]
    longest_unfilled_run: NDArray[np.int64]
    lowest_ah: Array
    lowest_row: NDArray[np.int64]
    refilled: NDArray[np.bool_]


def winter(
    year: ChargeYear, capacity_ah: ArrayLike, usable_share: ArrayLike, cold: ArrayLike, start_row: int = 0
) -> Winter:
    """Judge each year of `year` against the limits; `cold` is the share left by the cold, as `usable_ah` takes it.

    The capacity lost to cold is out of reach, not gone: taken out = capacity - held, limit = capacity x
    usable_share x cold, flat = capacity x cold.
    """
    capacity = np.broadcast_to(np.asarray(capacity_ah, dtype=np.float64), (year.end.shape[0], 1))
    taken = capacity - year.end
    slack = 1e-9 * capacity  # rounding of a day's sums
    flat = taken >= capacity * np.asarray(cold) - slack
    full = year.end >= capacity - slack
    last_rows = np.arange(start_row - REFILL_DAYS, start_row) % year.end.shape[1]
    return Winter(
        over_limit_days=(taken > usable_ah(capacity, np.asarray(usable_share), np.asarray(cold)) + slack).sum(1),
        flat_days=flat.sum(axis=1),
        longest_flat_run=longest_runs(flat, start_row),
        longest_unfilled_run=longest_runs(~full, start_row),
        lowest_ah=year.end.min(axis=1),
        lowest_row=year.end.argmin(axis=1),
        refilled=np.asarray(full[:, last_rows].any(axis=1)),
    )


def chance_with_limits(n_hits: int, n_years: int) -> tuple[float, float, float]:
    """Chance per winter from `n_hits` of `n_years`, with its 95 % limits.

    Source: Wilson 1927, J. Am. Stat. Assoc. 22, 209: score interval.
    """
    z, share = 1.96, n_hits / n_years
    middle = (share + z * z / (2 * n_years)) / (1 + z * z / n_years)
    half = z / (1 + z * z / n_years) * np.sqrt(share * (1 - share) / n_years + z * z / (4 * n_years**2))
    return share, max(0.0, float(middle - half)), min(1.0, float(middle + half))
