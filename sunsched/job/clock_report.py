"""The `clock` command's work: how long the chip's clock keeps the door within an error, and a noted reading judged."""

from __future__ import annotations

import datetime as dt
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from sunsched.base.civil_time import DAY_MIN, Zone, date_of, day_number, zone_of
from sunsched.base.errors import UsageError
from sunsched.base.rounding import printed_values
from sunsched.config.configuration import Configuration
from sunsched.hardware import clock_reach as sums
from sunsched.hardware.figures import number
from sunsched.job.log_cautions import CLOCK_CAUTIONS
from sunsched.job.plain_text import cautions_text, columns, wrapped


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
class ClockReport:
    """Everything `clock` says; `noted` and `reset_due` are None unless a reading was given."""

    source: str
    error_min: float
    reach: sums.ClockReach | None
    temperature_range_c: tuple[float, float] | None
    yearly_ppm: float
    kinds: tuple[Kind, ...]
    noted: sums.NotedReading | None
    reset_due: str | None

    def plain(self) -> dict[str, Any]:
        """The report as plain values, for JSON."""
        return {**printed_values(asdict(self)), "cautions": list(CLOCK_CAUTIONS)}


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
    local = _local_min(text, "--noted")
    keeps = configuration.chip.keeps
    if keeps == "civil":
        return local - float(zone.utc_offset_min(np.array([near_utc_min]))[0])
    if keeps == "utc":
        return local
    year = dt.date(date_of(int(near_utc_min // DAY_MIN)).year, 1, 1)
    return local - zone.standard_offset_min(day_number(year), 365)


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


def clock_text(report: ClockReport) -> str:
    """Everything about the clock as plain text."""
    parts = [_reach_text(report)]
    if report.noted is not None:
        parts.append(_noted_text(report, report.noted))
    rows = [("KINDS OF CLOCK", "worst ppm", "s a day", "set again every, days", "figure", "source")]
    for kind in report.kinds:
        days = "never" if kind.reset_days is None else str(kind.reset_days) if kind.reset_days else "not a clock"
        rows.append(
            (f"  {kind.name}", number(kind.worst_ppm), number(kind.s_per_day), days, kind.how_read, kind.source)
        )
    note = (
        "A tuning fork runs slow away from 25 C: -0.034 ppm/C^2 (from memory; a maker's datasheet has -0.035 +- 0.005)."
        " Its row holds the coldest or hottest temperature all year: a bound, not an expectation."
    )
    parts.append(columns(rows, frozenset({1, 2, 3})) + wrapped(note, "  ") + "\n")
    parts.append(cautions_text(CLOCK_CAUTIONS))
    return "\n".join(parts)


def _reach_text(report: ClockReport) -> str:
    if report.reach is None:
        return wrapped('clock.source is "none": the light alone tells the time, nothing drifts.', "") + "\n"
    reach = report.reach
    rows = [
        ("THE CHIP'S CLOCK", ""),
        ("  error allowed", f"{number(report.error_min)} min"),
        ("  may run slow by", f"{number(-reach.slow_ppm)} ppm"),
        ("  may run fast by", f"{number(reach.fast_ppm)} ppm"),
        ("  at worst", f"{number(reach.worst_s_per_day)} s a day, {number(reach.worst_min_per_year)} min a year"),
        ("  set it again every", "never" if reach.reset_days is None else f"{reach.reset_days} days"),
        ("  for a setting a year", f"at most {number(report.yearly_ppm)} ppm"),
    ]
    if report.temperature_range_c is not None:
        low, high = report.temperature_range_c
        rows.append(("  temperature of the board", f"{low:g} to {high:g} C (assumed unless given)"))
    return columns(rows)


def _noted_text(report: ClockReport, noted: sums.NotedReading) -> str:
    side = "fast" if noted.error_s > 0 else "slow"
    rows = [
        ("THE NOTED READING", ""),
        ("  error", f"{number(abs(noted.error_s))} s {side}" if noted.error_s else "none"),
        ("  looks like", noted.likeness),
    ]
    if noted.measured_ppm is not None and noted.measured_ppm_sd is not None:
        rows.append(("  rate since it was set", f"{noted.measured_ppm:+.2f} +- {noted.measured_ppm_sd:.2f} ppm"))
    if report.reset_due is not None:
        rows.append(("  set it by", "now" if noted.days_left == 0 else report.reset_due))
    return columns(rows)
