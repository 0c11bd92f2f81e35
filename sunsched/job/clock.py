"""The `clock` command's work: how long the chip's clock keeps the door within an error, and a noted reading judged."""

from __future__ import annotations

import datetime as dt
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from sunsched.base import cautions
from sunsched.base.civil_time import DAY_MIN, Zone, date_of, day_number, zone_of
from sunsched.base.errors import UsageError
from sunsched.base.rounding import printed_values
from sunsched.config.configuration import Configuration
from sunsched.hardware import clock_reach as sums


@dataclass(frozen=True)
class Kind:
    """One kind of clock at the stated error."""

    name: str
    worst_ppm: float
    s_per_day: float
    reset_days: int | None
    how_read: str
    source: str


@dataclass(frozen=True)
class SetLine:
    """The serial line that sets the chip's clock, and the civil second at which to send it.

    civil   the civil date and time at which Enter is pressed
    utc_offset_min   of the clock that the chip keeps [minutes]
    """

    line: str
    civil: str
    utc_offset_min: int


@dataclass(frozen=True)
class ClockReport:
    """Everything `clock` reports; `noted` and `reset_due` are None unless a reading was given."""

    source: str
    error_min: float
    reach: sums.ClockReach | None
    temperature_range_c: tuple[float, float] | None
    yearly_ppm: float
    kinds: tuple[Kind, ...]
    noted: sums.NotedReading | None
    reset_due: str | None
    set_line: SetLine | None = None

    def plain(self) -> dict[str, Any]:
        """The report as plain values, for JSON."""
        return {**printed_values(asdict(self)), "cautions": list(cautions.CLOCK)}


@dataclass(frozen=True)
class Reading:
    """A reading of the chip's clock as noted, the true civil time then, and when the clock was last set (civil)."""

    noted: str
    true: str
    last_set: str | None = None


def clock_of(
    configuration: Configuration,
    error_min: float,
    temperature_range_c: tuple[float, float],
    reading: Reading | None,
) -> ClockReport:
    """The clock's reach within `error_min` [minutes]; raises UsageError for a reading that cannot be understood.

    temperature_range_c   coldest and hottest the board gets; counts only for a bare crystal
    """
    clock = configuration.clock
    kinds = tuple(_kind(kind, error_min, temperature_range_c) for kind in sums.CLOCK_KINDS)
    yearly = sums.greatest_ppm(error_min, sums.DAYS_A_YEAR)
    if clock.source == "none":
        if reading is not None:
            raise UsageError('clock.source is "none": there is no clock to read')
        return ClockReport(clock.source, error_min, None, None, yearly, kinds, None, None)
    bare = clock.source == "crystal"
    reach = sums.clock_reach(error_min, clock.drift_ppm, *(temperature_range_c if bare else ()))
    noted, due = (None, None) if reading is None else _noted(configuration, error_min, reach, reading)
    return ClockReport(clock.source, error_min, reach, temperature_range_c if bare else None, yearly, kinds, noted, due)


def set_line_of(configuration: Configuration, civil: str) -> SetLine:
    """The serial line `t YYYY-MM-DD HH:MM:SS` for a civil moment such as '2027-06-01 18:00'.

    Raises UsageError for a time that cannot be understood or that the chip's calendar does not hold.
    """
    zone = zone_of(configuration.site.zone)
    utc_min = civil_utc_min(zone, civil, "--at")
    offset = chip_offset_min(configuration, zone, utc_min)
    chip_s, civil_s = (
        round((utc_min + minutes) * 60) for minutes in (offset, float(zone.utc_offset_min(np.array([utc_min]))[0]))
    )
    chip, said = (dt.datetime(1970, 1, 1) + dt.timedelta(seconds=seconds) for seconds in (chip_s, civil_s))
    if not 2000 <= chip.year <= 2099:
        raise UsageError(f"--at is '{civil}'; the chip's calendar runs from 2000 to 2099")
    return SetLine(f"t {chip:%Y-%m-%d %H:%M:%S}", f"{said:%Y-%m-%d %H:%M:%S}", round(offset))


def soon(configuration: Configuration, now: dt.datetime) -> str:
    """The civil time of the first whole minute that is at least a minute after `now`, an aware moment."""
    utc_min = int(now.timestamp() // 60) + 2
    offset = int(zone_of(configuration.site.zone).utc_offset_min(np.array([float(utc_min)]))[0])
    return f"{dt.datetime(1970, 1, 1) + dt.timedelta(minutes=utc_min + offset):%Y-%m-%d %H:%M}"


def chip_offset_min(configuration: Configuration, zone: Zone, utc_min: float) -> float:
    """What the chip's clock shows minus UTC at a moment [minutes]."""
    keeps = configuration.chip.keeps
    if keeps == "civil":
        return float(zone.utc_offset_min(np.array([utc_min]))[0])
    if keeps == "utc":
        return 0.0
    year = dt.date(date_of(int(utc_min // DAY_MIN)).year, 1, 1)
    return float(zone.standard_offset_min(day_number(year), 365))


def _kind(kind: sums.ClockKind, error_min: float, temperature_range_c: tuple[float, float]) -> Kind:
    reach = sums.clock_reach(error_min, kind.worst_ppm, *(temperature_range_c if kind.temperature else ()))
    worst_ppm = max(reach.fast_ppm, -reach.slow_ppm)
    return Kind(kind.name, worst_ppm, reach.worst_s_per_day, reach.reset_days, kind.how_read, kind.source)


def _noted(
    configuration: Configuration, error_min: float, reach: sums.ClockReach, reading: Reading
) -> tuple[sums.NotedReading, str | None]:
    zone = zone_of(configuration.site.zone)
    true = civil_utc_min(zone, reading.true, "--true")
    noted = chip_utc_min(configuration, zone, reading.noted, true)
    last_set = None if reading.last_set is None else civil_utc_min(zone, reading.last_set, "--set")
    worst_ppm = max(reach.fast_ppm, -reach.slow_ppm)
    if last_set is not None and last_set >= true:
        raise UsageError(f"--set is '{reading.last_set}', not before --true '{reading.true}'")
    found = sums.noted_reading(noted, true, error_min, worst_ppm, last_set)
    due = None
    if found.days_left is not None:
        due = date_of(int(true // DAY_MIN) + found.days_left).isoformat()
    return found, due


def chip_utc_min(configuration: Configuration, zone: Zone, text: str, near_utc_min: float) -> float:
    """The moment [utc_min] that a chip's clock means by `text`, near a known moment."""
    return _local_min(text, "--noted") - chip_offset_min(configuration, zone, near_utc_min)


def civil_utc_min(zone: Zone, text: str, option: str) -> float:
    """The moment [utc_min] of a civil date and time in the site's zone."""
    local = _local_min(text, option)
    day = int(local // DAY_MIN)
    whole = int((local - day * DAY_MIN) // 1)
    return float(zone.utc_min_of(np.array([day]), whole)[0]) + local % 1


def _local_min(text: str, option: str) -> float:
    for form in ("%Y-%m-%d %H:%M:%S", "%Y-%m-%d %H:%M", "%Y-%m-%dT%H:%M:%S", "%Y-%m-%dT%H:%M"):
        try:
            stamp = dt.datetime.strptime(text, form)
        except ValueError:
            continue
        return day_number(stamp.date()) * DAY_MIN + stamp.hour * 60 + stamp.minute + stamp.second / 60
    raise UsageError(f"{option} is '{text}'; wanted a date and time such as '2027-06-01 12:03:20'")
