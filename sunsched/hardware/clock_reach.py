"""How far a chip's clock drifts, and how long it keeps the door within a stated error."""

from __future__ import annotations

import math
from dataclasses import dataclass

from sunsched.base.errors import RangeError

SECONDS_A_DAY = 86_400.0
DAYS_A_YEAR = 365.25
PARABOLA_PPM = -0.034  # tuning fork crystal, per (deg C)^2: from memory; MAX6902 datasheet: -0.035 +- 0.005
TURNOVER_C = 25.0  # +- 5 deg C: crystal makers' datasheets
DRIFT_AT_MOST_S = 900.0  # more than a 20 ppm clock gathers in a year: by hand, 10.5 min


@dataclass(frozen=True)
class ClockKind:
    """What a kind of clock may do: worst error [ppm], either way; the figure's source and how it was read."""

    name: str
    worst_ppm: float
    temperature: bool  # a tuning fork's parabola comes on top
    source: str
    how_read: str


_DS3231 = "Maxim DS3231 datasheet 19-5170 rev 10"
_RC = "Atmel 8161D, table 28-1"
CLOCK_KINDS: tuple[ClockKind, ...] = (
    ClockKind("compensated RTC (DS3231), 0 to +40 C", 2.0, False, _DS3231, "read"),
    ClockKind("compensated RTC (DS3231), -40 to +85 C", 3.5, False, _DS3231, "read"),
    ClockKind("32.768 kHz tuning fork, 20 ppm at 25 C", 20.0, True, "Maxim MAX6902 datasheet", "read"),
    ClockKind("ceramic resonator, 0.5 %", 5_000.0, False, "common 16 MHz three-pin parts", "from memory"),
    ClockKind("ATmega328P RC, calibrated by the user, 1 %", 10_000.0, False, _RC, "read"),
    ClockKind("ATmega328P RC, as it comes, 10 %", 100_000.0, False, _RC, "read"),
)


def drift_s_per_day(ppm: float) -> float:
    """Seconds a day for a rate error of `ppm` [parts per million]: ppm x 0.0864."""
    return ppm * SECONDS_A_DAY / 1e6


def tuning_fork_ppm(temperature_c: float, parabola_ppm: float = PARABOLA_PPM, turnover_c: float = TURNOVER_C) -> float:
    """Rate error [ppm] of a 32.768 kHz tuning fork at `temperature_c` [deg C] : k (T - T0)^2.

    Always slow. Source: crystal makers' datasheets; k from memory, MAX6902 datasheet -0.035 +- 0.005 ppm/C^2.
    """
    return parabola_ppm * (temperature_c - turnover_c) ** 2


def reach_days(error_min: float, ppm: float) -> int | None:
    """Whole days that a clock of `ppm` stays within `error_min` [minutes]; None where it never leaves it.

    Raises RangeError unless `error_min` is above 0.
    """
    if not (math.isfinite(error_min) and error_min > 0):
        raise RangeError(f"error_min is {error_min!r}; wanted a number of minutes above 0")
    daily_s = abs(drift_s_per_day(ppm))
    return None if daily_s == 0 else math.floor(error_min * 60.0 / daily_s)


def greatest_ppm(error_min: float, days: float) -> float:
    """Greatest rate error [ppm] that stays within `error_min` [minutes] for `days` [days]."""
    if not (error_min > 0 and days > 0):
        raise RangeError("error_min and days: wanted numbers above 0")
    return error_min * 60.0 / days / SECONDS_A_DAY * 1e6


@dataclass(frozen=True)
class ClockReach:
    """What to expect of a clock between two settings; slow is negative. All [ppm], [s], [min], [days]."""

    fast_ppm: float
    slow_ppm: float
    worst_s_per_day: float
    worst_min_per_year: float
    reset_days: int | None


def clock_reach(
    error_min: float, drift_ppm: float, coldest_c: float | None = None, hottest_c: float | None = None
) -> ClockReach:
    """Reach of a clock whose stated error is `drift_ppm` either way.

    coldest_c, hottest_c  where given, a tuning fork's parabola at the worse of the two comes on top, on the
    slow side alone [deg C]. It is held all year: a bound, not an expectation. Raises as `reach_days` does.
    """
    temperatures = [value for value in (coldest_c, hottest_c) if value is not None]
    parabola_ppm = min((tuning_fork_ppm(value) for value in temperatures), default=0.0)
    slow_ppm, fast_ppm = -abs(drift_ppm) + parabola_ppm, abs(drift_ppm)
    worst_ppm = max(fast_ppm, -slow_ppm)
    return ClockReach(
        fast_ppm=fast_ppm,
        slow_ppm=slow_ppm,
        worst_s_per_day=drift_s_per_day(worst_ppm),
        worst_min_per_year=drift_s_per_day(worst_ppm) * DAYS_A_YEAR / 60.0,
        reset_days=reach_days(error_min, worst_ppm),
    )


@dataclass(frozen=True)
class NotedReading:
    """A reading compared with true time: its error [s], fast positive, and what the error looks like."""

    error_s: float
    likeness: str
    measured_ppm: float | None
    measured_ppm_sd: float | None
    days_left: int | None


def likeness(error_s: float) -> str:
    """Name what a clock error [s, fast positive] looks like, in plain words; drift where nothing else fits.

    Whole hours within 5 min are no drift of any quartz clock: common practice.
    """
    hours = round(error_s / 3600.0)
    if abs(error_s) < DRIFT_AT_MOST_S:
        return "drift"
    if hours == 0 or abs(error_s - hours * 3600.0) > 300:
        return "set wrong, or not set for a very long time"
    if hours % 24 == 0:
        return f"the date is wrong by {abs(hours) // 24} day(s)"
    if abs(hours) == 1:
        return "one whole hour: summer time, or the wrong zone"
    if abs(hours) == 12:
        return "twelve hours: morning taken for afternoon"
    return f"{abs(hours)} whole hours: the wrong zone"


def noted_reading(
    noted_utc_min: float,
    true_utc_min: float,
    error_min: float,
    worst_ppm: float,
    set_utc_min: float | None = None,
    reading_s: float = 1.0,
) -> NotedReading:
    """Judge a reading of the chip's clock, all moments in [minutes since 1970-01-01T00:00Z].

    set_utc_min  when the clock was last set, if known: gives the rate it really runs at, with the uncertainty
    of two readings to `reading_s` [s] each. days_left counts the days until the error may pass `error_min` at
    `worst_ppm`, 0 where it has passed already, None where the clock never gets there. Raises RangeError if
    the setting does not lie before the reading.
    """
    error_s = (noted_utc_min - true_utc_min) * 60.0
    ppm = sd = None
    if set_utc_min is not None:
        span_s = (true_utc_min - set_utc_min) * 60.0
        if span_s <= 0:
            raise RangeError("the clock was set after the reading; wanted a setting before it")
        ppm, sd = error_s / span_s * 1e6, math.sqrt(2.0) * reading_s / span_s * 1e6
    room_min = error_min - abs(error_s) / 60.0
    return NotedReading(
        error_s=error_s,
        likeness=likeness(error_s),
        measured_ppm=ppm,
        measured_ppm_sd=sd,
        days_left=0 if room_min <= 0 else reach_days(room_min, worst_ppm),
    )
