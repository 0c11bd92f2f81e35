"""Measured weather: hourly or minute irradiance or lux, as the mean attenuation of each evening and morning.

Takes the place of the drawn means; what happens from minute to minute is still drawn, as most records are hourly. Two
forms: an EPW weather file (EnergyPlus weather format: hours end at their stamp, zone in the heading), and CSV with the
heading `time,lux` or `time,w_m2`, times as 2026-06-01T12:30 in UTC (Z), with an offset, or in the chip's standard time.
"""

import datetime as dt
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import TypeVar

import numpy as np

from sunsched.base import inputs
from sunsched.base.errors import LogError
from sunsched.hardware.solar_input import CLEARNESS_MOST, extraterrestrial_kwh
from sunsched.plan.year import YearPlan
from sunsched.sky.crossings import sun_altitude_deg
from sunsched.sky.daylight import clear_sky_lux, refraction_deg
from sunsched.study.weather import BRIGHTEST_LOG, DARKEST_LOG, Floats, Ints

LUX_PER_W_M2 = 108.0  # global irradiance: 107 to 109 lm/W (Littlefair 1988)
MINUTE_LEAST_DEG, HOUR_LEAST_DEG = 3.0, 8.0  # below, whole watts or the bend within an hour spoil the ratio
NEAR_MIN = 120.0  # the last (first) so many minutes of usable light stand for the twilight
LONG_INTERVAL_MIN = 30.0
EPW_HEAD_ROWS, EPW_FIELDS, EPW_IRRADIANCE, EPW_LUX = 8, 35, 13, 16
EPW_MISSING_IRRADIANCE, EPW_MISSING_LUX = 9999.0, 999_900.0
EPW_DRY_BULB, EPW_MISSING_C = 6, 99.9
MOST_OFF_MIN = 25.0  # the light's middle of the day lies this close to solar noon over a month or more
MOST_LUX = 200_000.0  # more than any daylight: another unit
EARLIEST_YEAR, LATEST_YEAR = 1991, 2051  # what the Sun's positions cover, with a margin
STAND_IN_CLEARNESS = 0.3
STAND_IN_YEAR = 2026  # EPW months come from many years; the Sun's path of this one serves them all


T = TypeVar("T")


@dataclass(frozen=True)
class Record:
    """A record of light: times [utc_min] (n,), global illuminance [lux] (n,), interval [min], where it was made.

    temperature_c   (n,) of the air, where the file has it
    """

    utc_min: Floats
    lux: Floats
    interval_min: float
    place_deg: tuple[float, float] | None
    source: str
    temperature_c: Floats | None = None

    @property
    def missing_share(self) -> float:
        """Share of the intervals between first and last that have no light in them."""
        wanted = (self.utc_min[-1] - self.utc_min[0]) / self.interval_min + 1
        return float(max(0.0, 1.0 - np.isfinite(self.lux).sum() / wanted))


@dataclass(frozen=True)
class MeasuredMeans:
    """Mean attenuation [log10] of each evening and morning (n_measured_years, n_days), NaN where not measured."""

    evening_log: Floats
    morning_log: Floats
    source: str

    @property
    def n_years(self) -> int:
        """How many measured years there are; weather years take them in turn."""
        return len(self.evening_log)

    @property
    def share(self) -> float:
        """Share of the twilights that were measured."""
        return float(np.isfinite(np.stack([self.evening_log, self.morning_log])).mean())


def epw_record(lines: Iterable[str], name: str) -> Record:
    """The light of an EPW file; raises LogError naming row, got and wanted."""
    try:
        rows = list(inputs.csv_rows(lines))
    except ValueError as error:
        raise LogError(f"{name}: {error}; wanted an EPW file") from None
    if len(rows) <= EPW_HEAD_ROWS or not rows[0] or rows[0][0].strip().upper() != "LOCATION":
        raise LogError(f"{name}: row 1 is not an EPW heading; wanted LOCATION, ...")
    try:
        latitude, longitude, zone_h = (_known(inputs.decimal(rows[0][k].strip()), rows[0][k]) for k in (6, 7, 8))
        if abs(latitude) > 90 or abs(longitude) > 180 or abs(zone_h) > 15:
            raise ValueError
    except (IndexError, ValueError):
        raise LogError(f"{name}: row 1 has no latitude, longitude and zone; wanted numbers in fields 7 to 9") from None
    found = [_epw_row(row, number, name) for number, row in enumerate(rows[EPW_HEAD_ROWS:], EPW_HEAD_ROWS + 1) if row]
    # PVGIS writes the light of one moment and says how long before the hour's end; others the mean of the hour.
    heading = " ".join(",".join(row) for row in rows[:EPW_HEAD_ROWS])
    stated = re.search(r"Irradiance Time Offset \(h\):\s*(-?[\d.]+)", heading)
    into_min = 60.0 * (1.0 + float(stated[1])) if stated else -30.0
    utc_min = np.array([minute for minute, _, _ in found]) - zone_h * 60 + into_min
    order = np.argsort(utc_min, kind="stable")
    lux, warm = (np.array([row[k] for row in found])[order] for k in (1, 2))
    return checked(Record(utc_min[order], lux, 60.0, (latitude, longitude), name, warm))


def _known(value: T | None, text: str) -> T:
    if value is None:
        raise ValueError(f"'{text[:40]}' is no such number")
    return value


def _epw_row(row: list[str], number: int, name: str) -> tuple[float, float, float]:
    try:
        month, day, hour = (_known(inputs.whole(row[k].strip(), 1, 31), row[k]) for k in (1, 2, 3))
        places = (EPW_IRRADIANCE, EPW_LUX, EPW_DRY_BULB)
        irradiance, lux, warm = (_known(inputs.decimal(row[k].strip()), row[k]) for k in places)
        date = dt.date(STAND_IN_YEAR, month, 28 if (month, day) == (2, 29) else day)
    except (IndexError, ValueError) as error:
        raise LogError(f"{name}: row {number}: {error}; wanted {EPW_FIELDS} fields of an hour") from None
    # Irradiance first: it is measured or modelled in every file, illuminance often only derived from it.
    light = irradiance * LUX_PER_W_M2 if 0 <= irradiance < EPW_MISSING_IRRADIANCE else lux
    known = 0 <= irradiance < EPW_MISSING_IRRADIANCE or 0 <= lux < EPW_MISSING_LUX
    return (
        (date - dt.date(1970, 1, 1)).days * 1440.0 + hour * 60,
        light if known else float("nan"),
        warm if warm < EPW_MISSING_C else float("nan"),
    )


def csv_record(lines: Iterable[str], name: str, standard_offset_min: int) -> Record:
    """The light of a CSV file `time,lux` or `time,w_m2`; times without an offset are in the chip's standard time.

    Raises LogError naming row, got and wanted; times must grow.
    """
    rows = ((n, row) for n, row in _numbered(lines, name) if row and not row[0].startswith("#"))
    number, heading = next(rows, (1, []))
    words = [word.strip().lower() for word in heading]
    if words not in (["time", "lux"], ["time", "w_m2"]):
        raise LogError(f"{name}: row {number}: the heading is '{','.join(heading)}'; wanted time,lux or time,w_m2")
    factor = LUX_PER_W_M2 if words[1] == "w_m2" else 1.0
    minutes: list[float] = []
    light: list[float] = []
    for number, row in rows:
        minute, value = _csv_row(row, number, name, standard_offset_min)
        if minutes and minute <= minutes[-1]:
            raise LogError(f"{name}: row {number}: time {row[0]} is not after the row before it; wanted growing times")
        minutes.append(minute)
        light.append(value * factor)
    if len(minutes) < 2:
        raise LogError(f"{name}: {len(minutes)} rows of light; wanted a year of them")
    interval = float(np.median(np.diff(minutes)))
    return checked(Record(np.array(minutes), np.array(light), interval, None, name))


def _numbered(lines: Iterable[str], name: str) -> Iterator[tuple[int, list[str]]]:
    number = 0
    try:
        for number, row in enumerate(inputs.csv_rows(lines), 1):
            yield number, row
    except ValueError as error:
        raise LogError(f"{name}: row {number + 1}: {error}; wanted time,lux or time,w_m2") from None


def _csv_row(row: list[str], number: int, name: str, standard_offset_min: int) -> tuple[float, float]:
    if len(row) != 2:
        raise LogError(f"{name}: row {number} has {len(row)} fields; wanted 2: time and light (decimal points)")
    try:
        time = dt.datetime.fromisoformat(row[0].strip())
    except ValueError as error:
        raise LogError(f"{name}: row {number}: {error}; wanted a time such as 2026-06-01T12:30 and a number") from None
    value = inputs.decimal(row[1].strip()) if row[1].strip() else float("nan")
    if value is None:
        raise LogError(f"{name}: row {number}: light is '{row[1][:40]}'; wanted a number, or nothing")
    if not EARLIEST_YEAR - 1 <= time.year <= LATEST_YEAR + 1:
        raise LogError(f"{name}: row {number}: the year {time.year}; wanted {EARLIEST_YEAR} to {LATEST_YEAR}")
    if value < -50:
        raise LogError(f"{name}: row {number}: light is {value:g}; wanted 0 or more, or nothing")
    offset = time.utcoffset()
    shift = standard_offset_min if offset is None else offset.total_seconds() / 60
    days = (time.date() - dt.date(1970, 1, 1)).days
    return days * 1440.0 + time.hour * 60 + time.minute + time.second / 60 - shift, max(value, 0.0)


def checked(record: Record) -> Record:
    """The record, if its years, its light and its unit can be true."""
    years = record.utc_min / 525_949.2 + 1970
    if len(years) == 0 or years.min() < EARLIEST_YEAR or years.max() > LATEST_YEAR:
        raise LogError(f"{record.source}: no light between {EARLIEST_YEAR} and {LATEST_YEAR}; wanted some there")
    if not np.isfinite(record.lux).any():
        raise LogError(f"{record.source}: every value of light is missing; wanted some")
    greatest = float(np.nanmax(record.lux))
    if greatest > MOST_LUX:
        raise LogError(f"{record.source}: the greatest light is {greatest:g} lux; wanted at most {MOST_LUX:g}")
    return record


def measured_means(record: Record, plan: YearPlan) -> MeasuredMeans:
    """The mean attenuation of each evening and morning of the record at the plan's site, by date."""
    latitude, longitude = plan.site.latitude_deg, plan.site.longitude_deg
    airless = sun_altitude_deg(record.utc_min, latitude, longitude)
    altitude = airless + refraction_deg(airless)
    _refuse_wrong_zone(record, longitude, altitude)
    long = record.interval_min >= LONG_INTERVAL_MIN
    known = (altitude >= (HOUR_LEAST_DEG if long else MINUTE_LEAST_DEG)) & np.isfinite(record.lux)
    time = record.utc_min[known] + 4.0 * longitude
    ratio = np.log10(np.maximum(record.lux[known], 1e-3) / clear_sky_lux(altitude[known]))
    cloud = np.clip(ratio, DARKEST_LOG, BRIGHTEST_LOG)
    day = np.floor(time / 1440).astype(np.int64)
    if not len(day):
        raise LogError(f"{record.source}: no light with the Sun up at this site; wanted a record of its own place")
    after_noon = time - day * 1440 > 720
    years = np.unique(day.astype("datetime64[D]").astype("datetime64[Y]").astype(np.int64))
    evening, morning = (
        _by_day(day[part], time[part], cloud[part], plan, years, last)
        for part, last in ((after_noon, True), (~after_noon, False))
    )
    return MeasuredMeans(evening, morning, record.source)


def _refuse_wrong_zone(record: Record, longitude_deg: float, altitude_deg: Floats) -> None:
    """Light whose days are centred well away from solar noon has another zone, or is of another place."""
    if record.interval_min < LONG_INTERVAL_MIN or np.ptp(record.utc_min) < 30 * 1440.0:
        return
    up = (altitude_deg > 0) & np.isfinite(record.lux)
    weight = record.lux[up]
    if not weight.sum():
        return
    by_light = (weight * ((record.utc_min[up] + 4.0 * longitude_deg) % 1440)).sum() / weight.sum()
    clear = clear_sky_lux(altitude_deg[up])
    by_sun = (clear * ((record.utc_min[up] + 4.0 * longitude_deg) % 1440)).sum() / clear.sum()
    # Held against the clear sky at the same hours: only mornings duller than afternoons move it then.
    off = float(by_light - by_sun)
    if abs(off) > MOST_OFF_MIN:
        raise LogError(
            f"{record.source}: the light's middle of the day lies {off:+.0f} min from the Sun's at this site; wanted a "
            "file of this place with its zone as the file's kind has it"
        )


def _by_day(day: Ints, time: Floats, cloud: Floats, plan: YearPlan, years: Ints, last: bool) -> Floats:
    """Mean cloud near the day's end (or its beginning), by measured year and row of the plan."""
    date = day.astype("datetime64[D]")
    year = date.astype("datetime64[Y]").astype(np.int64)
    of_plan = {_month_day(d): row for row, d in enumerate(plan.days.astype("datetime64[D]"))}
    found = np.full((len(years), plan.n_days), np.nan)
    starts = np.flatnonzero(np.diff(day, prepend=-1))
    for begin, end in zip(starts, [*starts[1:], len(day)], strict=True):
        row = of_plan.get(_month_day(date[begin]))
        if row is None:
            continue
        own = time[begin:end]
        near = own >= own[-1] - NEAR_MIN if last else own <= own[0] + NEAR_MIN
        found[np.searchsorted(years, year[begin]), row] = cloud[begin:end][near].mean()
    return found


def _month_day(date: np.datetime64) -> str:
    return str(date)[5:10]


@dataclass(frozen=True)
class MeasuredClimate:
    """Clearness of a record's days: monthly means, memory from day to day with its 95 % range, warmth where known.

    clearness, temperature_c   (12,) January to December
    """

    clearness: tuple[float, ...]
    memory: float
    memory_low: float
    memory_high: float
    temperature_c: tuple[float, ...] | None
    n_days: int
    source: str


LEAST_DAY_SHARE = 0.95  # of a day's intervals: a day with more gaps is left out
LEAST_MONTH_DAYS = 20
LITTLE_KWH = 0.3  # above the air; with less a day's clearness says little


def measured_climate(record: Record, latitude_deg: float, longitude_deg: float) -> MeasuredClimate:
    """The clearness of whole days in an hourly or finer record of light on level ground.

    Raises LogError where some month has fewer than 20 whole days with Sun.
    The memory is the correlation of neighbouring days about their month's mean; its range is Fisher's (z of the
    correlation, standard error 1 / sqrt(n - 3)).
    """
    airless = sun_altitude_deg(record.utc_min, latitude_deg, longitude_deg)
    _refuse_wrong_zone(record, longitude_deg, airless)
    local = record.utc_min + 4.0 * longitude_deg
    day = np.floor(local / 1440.0).astype(np.int64)
    days, place = np.unique(day, return_inverse=True)
    known = np.isfinite(record.lux)
    kwh = np.bincount(place, np.where(known, record.lux, 0.0)) / LUX_PER_W_M2 * record.interval_min / 60_000.0
    whole = np.bincount(place, known) >= LEAST_DAY_SHARE * 1440.0 / record.interval_min
    date = days.astype("datetime64[D]")
    month = date.astype("datetime64[M]").astype(np.int64) % 12
    of_year = (date - date.astype("datetime64[Y]")).astype(np.int64) + 1
    above = extraterrestrial_kwh(latitude_deg, of_year)
    used = whole & (above > LITTLE_KWH)
    clearness = np.where(used, np.minimum(kwh / np.maximum(above, LITTLE_KWH), CLEARNESS_MOST), np.nan)
    means = _monthly(clearness, month, above, record.source)
    left = clearness - np.array(means)[month]
    next_door = np.diff(days) == 1
    pairs = np.stack([left[:-1][next_door], left[1:][next_door]])
    pairs = pairs[:, np.isfinite(pairs).all(axis=0)]
    memory = float(np.corrcoef(pairs)[0, 1]) if pairs.shape[1] > 30 else 0.0
    reach = 1.96 / np.sqrt(max(pairs.shape[1] - 3, 1))
    low, high = (float(np.clip(np.tanh(np.arctanh(memory) + side * reach), 0.0, 0.95)) for side in (-1, 1))
    warm = None
    if record.temperature_c is not None:
        of_hour = month[place]
        warm = tuple(float(np.nanmean(record.temperature_c[of_hour == m])) for m in range(12))
    memory = min(max(memory, 0.0), 0.95)
    return MeasuredClimate(means, memory, low, high, warm, int(np.count_nonzero(used)), record.source)


def _monthly(clearness: Floats, month: Ints, above: Floats, source: str) -> tuple[float, ...]:
    means = []
    for number in range(12):
        inside = clearness[month == number]
        if not (above[month == number] > LITTLE_KWH).any() and inside.size:
            means.append(STAND_IN_CLEARNESS)  # the polar night, where clearness decides nothing
            continue
        n = int(np.isfinite(inside).sum())
        if n < LEAST_MONTH_DAYS:
            raise LogError(
                f"{source}: month {number + 1} has {n} whole days of light; wanted {LEAST_MONTH_DAYS} or more"
            )
        means.append(float(np.clip(np.nanmean(inside), 0.1, 0.8)))
    return tuple(means)
