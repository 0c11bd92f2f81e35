"""The unit and the clock of a light log, stated or worked out, and everything unusual about the log in words."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sunsched.base.civil_time import DAY_MIN, date_of, zone_of
from sunsched.base.errors import LogError, UsageError
from sunsched.config.configuration import Configuration
from sunsched.hardware.light_cell import top_count
from sunsched.hardware.parts import LightCell
from sunsched.sky.daylight import depression_of_clear_sky_lux
from sunsched.study import log_clock
from sunsched.study.light_log import LISTED, LightLog
from sunsched.study.log_clock import WRONG_MIN, ClockFound, Dark, LogClock
from sunsched.study.log_light import level_of

UNITS = ("lux", "counts")
FIRST_YEAR, LAST_YEAR = 1990, 2052
BRIGHTEST_LUX = 200_000.0  # sunlight on level ground gives 120,000 at most
SATURATED_SHARE = 0.02
CHANGE_MIN = 180.0  # a step of the log's clock this close to a change of its zone is that change
CLOCK_WORDS = '"civil", "chip", "utc" or an offset such as +01:00'


@dataclass(frozen=True)
class SettledLog:
    """A log with its unit and clock, and where each of the two is from.

    clock_from, unit_from   "stated", "in the file" or "found"
    """

    log: LightLog
    unit: str
    unit_from: str
    clock: LogClock
    clock_from: str
    found: ClockFound
    warnings: tuple[str, ...]


def settled(
    log: LightLog, configuration: Configuration, chip_offset_min: int, unit: str | None, zone: str | None
) -> SettledLog:
    """The log's unit and clock, checked against its own nights.

    Raises UsageError for an unknown word, LogError where what is stated cannot be true of this log.
    """
    cell = configuration.light_cell
    _check_dates(log)
    found_unit, unit_from, warnings = _unit(log, cell, unit)
    darks = _natural_nights(log, configuration, found_unit, chip_offset_min)
    clock, clock_from, found = _clock(log, configuration, chip_offset_min, zone, darks)
    warnings += _clock_warnings(log, configuration, clock, clock_from, found, darks)
    warnings += _row_warnings(log, clock) + _range_warnings(log, cell, found_unit)
    return SettledLog(log, found_unit, unit_from, clock, clock_from, found, tuple(warnings))


def _natural_nights(log: LightLog, configuration: Configuration, unit: str, chip_offset_min: int) -> list[Dark]:
    cell, site = configuration.light_cell, configuration.site
    darks = log_clock.nights(log, level_of(cell.dark_lux, unit, cell))
    depression_deg = depression_of_clear_sky_lux(cell.dark_lux / cell.sky_view)
    place = (site.latitude_deg, site.longitude_deg)
    return log_clock.natural(darks, *place, depression_deg, chip_offset_min)


def _check_dates(log: LightLog) -> None:
    for day in (min(log.days), max(log.days)):
        year = date_of(day).year
        if not FIRST_YEAR <= year <= LAST_YEAR:
            raise LogError(f"{log.name}: rows dated {date_of(day)}; wanted {FIRST_YEAR} to {LAST_YEAR}: a clock reset?")


def _unit(log: LightLog, cell: LightCell, stated: str | None) -> tuple[str, str, list[str]]:
    if stated is not None and stated not in UNITS:
        raise UsageError(f"--unit is '{stated}'; wanted lux or counts")
    top, warnings = top_count(cell.adc_steps), []
    unit, where = (stated, "stated") if stated else (log.unit, "in the file")
    if stated and log.unit and stated != log.unit:
        warnings.append(f"--unit says {stated}, the log's heading says {log.unit}: {stated} it is")
    if unit is None:
        unit, where = "lux" if not log.whole or log.greatest > top else "counts", "found"
        if unit == "counts":
            warnings.append(
                f"the unit is not said; whole numbers, none above {top}, are taken for counts (--unit lux if not)"
            )
    if unit == "counts" and cell.kind == "lux":
        raise LogError(f'{log.name}: a log in counts, but light_cell.kind is "lux": which counts give which lux?')
    if unit == "counts" and log.greatest > top:
        raise LogError(f"{log.name}: row {log.greatest_row}: {log.greatest:g} in a log of counts; at most {top}")
    return unit, where, warnings


def _clock(
    log: LightLog, configuration: Configuration, chip_offset_min: int, stated: str | None, darks: list[Dark]
) -> tuple[LogClock, str, ClockFound]:
    site = configuration.site
    zone, place = zone_of(site.zone), (site.latitude_deg, site.longitude_deg)
    words = {word: log_clock.named_clock(word, zone, chip_offset_min) for word in ("civil", "chip", "utc")}
    known = [clock for clock in words.values() if clock is not None]
    if stated is not None:
        named = log_clock.named_clock(stated, zone, chip_offset_min)
        if named is None:
            raise UsageError(f"--zone is '{stated}'; wanted {CLOCK_WORDS}")
        if log.zoned:
            raise UsageError("--zone, but the log's own times carry their offset from UTC")
        return named, "stated", log_clock.judged(named, darks, *place)
    if log.zoned:
        return known[2], "in the file", log_clock.judged(known[2], darks, *place)
    if log.chip is not None:
        offset = log.chip.chip_offset_min
        own = known[1] if offset is None else LogClock(f"the chip's time, {log_clock.offset_text(offset)}", offset)
        where = "of the configuration" if offset is None else "in the file"
        return own, where, log_clock.judged(own, darks, *place)
    found = log_clock.best_clock(known, darks, *place)
    return found.clock, "found", found


def _clock_warnings(
    log: LightLog,
    configuration: Configuration,
    clock: LogClock,
    clock_from: str,
    found: ClockFound,
    darks: list[Dark],
) -> list[str]:
    if not found.n_nights:
        if clock_from == "found":
            return [f"no whole natural night to find the log's clock by; {clock.name} taken (--zone states another)"]
        return []
    place = (configuration.site.latitude_deg, configuration.site.longitude_deg)
    jumped = log_clock.jumps(clock, darks, *place)
    warnings = [
        f"the log's clock jumped by {jump.by_min:+.0f} min between {_when(jump.after_min)} and"
        f" {_when(jump.before_min)} by its own time"
        for jump in jumped
    ]
    if abs(found.off_min) <= WRONG_MIN:
        return warnings
    ahead = float(np.median(log_clock.ahead_of_utc_min(darks, *place, clock.offset_min(np.zeros(1)).item())))
    fits = f"--zone {log_clock.offset_text(15 * round(ahead / 15)).removeprefix('UTC')} would fit"
    text = (
        f"by {clock.name} ({clock_from}) the middle of the log's {found.n_nights} night(s) lies"
        f" {abs(found.off_min):.0f} min {'after' if found.off_min > 0 else 'before'} solar midnight"
    )
    if log.chip is None and found.n_nights >= 2 and not jumped:
        raise LogError(f"{log.name}: {text}: a wrong zone or clock; {fits}")
    return [*warnings, f"{text}: its clock may be wrong"]


def _row_warnings(log: LightLog, clock: LogClock) -> list[str]:
    found = [f"row {row}: {reason}; left out" for row, reason in log.bad]
    if log.bad_rows > len(log.bad):
        found.append(f"{log.bad_rows - len(log.bad)} more rows could not be read and are left out")
    gaps = [gap for gap in log.gaps if gap.to_min - gap.from_min > 130 or not _zone_change(clock, gap.from_min)]
    for gap in gaps[:LISTED]:
        found.append(f"row {gap.row}: no light from {_when(gap.from_min)} to {_when(gap.to_min)}")
    if len(gaps) > LISTED:
        found.append(f"{len(gaps) - LISTED} more gaps")
    for step in log.steps_back:
        if not _zone_change(clock, step.from_min):
            back = step.from_min - step.to_min
            found.append(f"row {step.row}: times run backwards by {back:.0f} min, from {_when(step.from_min)}")
    if log.chip is not None:
        found += [f"row {row}: the clock was set to {_when(chip_min)}" for row, chip_min in log.chip.clock_sets]
        if log.chip.dateless_rows:
            found.append(f"{log.chip.dateless_rows} rows without a date: the door knew none")
    return found


def _zone_change(clock: LogClock, log_min: float) -> bool:
    if clock.zone is None:
        return False
    utc_min = log_min - float(clock.offset_min(np.array([log_min]))[0])
    return bool(clock.zone.changes(utc_min - CHANGE_MIN, utc_min + CHANGE_MIN))


def _range_warnings(log: LightLog, cell: LightCell, unit: str) -> list[str]:
    top = top_count(cell.adc_steps)
    if unit == "counts":
        if log.saturated_share >= SATURATED_SHARE and log.greatest >= top:
            return [f"{log.saturated_share:.0%} of the rows stand at the ADC's top count, {top}"]
        return []
    if log.greatest > BRIGHTEST_LUX:
        return [f"row {log.greatest_row}: {log.greatest:g} lux, brighter than sunlight: another unit or column?"]
    if log.saturated_share >= SATURATED_SHARE and log.greatest > 0:
        text = f"{log.saturated_share:.0%} of the rows stand at {log.greatest:g} lux: the sensor is full there"
        near = log.greatest < 2 * cell.light_lux
        return [text + (", too close to light_lux to judge an opening" if near else "")]
    return []


def _when(log_min: float) -> str:
    day = int(log_min // DAY_MIN)
    minute = int(log_min - day * DAY_MIN)
    return f"{date_of(day)} {minute // 60:02d}:{minute % 60:02d}"
