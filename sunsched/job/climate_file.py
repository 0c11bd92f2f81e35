"""Reads a site's climate: twelve months of clearness, or of Sun on level ground, from a CSV file.

    month,kwh_m2_day,temperature_c        or        month,clearness
    1,0.55,1.5                                      1,0.30

temperature_c, the month's mean, may be left out. Lines that begin with # are comments. A record of measured light, an
EPW weather file or CSV, is opened here too.
"""

from __future__ import annotations

import io
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from sunsched.base import inputs
from sunsched.base.civil_time import year_days, zone_of
from sunsched.base.errors import LogError, MissingFileError, Problem
from sunsched.config.configuration import Configuration
from sunsched.hardware.solar_input import extraterrestrial_kwh, monthly_clearness, monthly_mean
from sunsched.plan.place import place_text
from sunsched.plan.site import Site
from sunsched.study.measured import MeasuredClimate, Record, measured_climate
from sunsched.study.weather_files import weather_record

LEAST_CLEARNESS, MOST_CLEARNESS = 0.1, 0.8  # what the weather can be drawn from
STAND_IN_CLEARNESS = 0.3  # for months without Sun, where it has no effect
LITTLE_SUN_KWH = 0.3  # above the air; with less in a month its clearness cannot be computed
LARGEST_BYTES = 100_000
LARGEST_RECORD_BYTES = 20_000_000  # a year of minutes has 12 MB
FAR_DEG = 1.0  # a weather station further off than this has another Sun by minutes
FORMS = "month,clearness or month,kwh_m2_day, and temperature_c if known"
# key, lowest, highest, in words
RANGES = {
    "clearness": (LEAST_CLEARNESS, MOST_CLEARNESS),
    "kwh_m2_day": (0.0, 12.0),
    "temperature_c": (-60.0, 45.0),
}


@dataclass(frozen=True)
class MonthlyClimate:
    """Mean clearness of each month, and its mean temperature [deg C] where known."""

    clearness: tuple[float, ...]
    temperature_c: tuple[float, ...] | None
    source: str


def read_climate(path: Path, latitude_deg: float) -> MonthlyClimate:
    """The climate in a CSV file, Sun on level ground turned into clearness at `latitude_deg`.

    Raises MissingFileError where the file cannot be read, LogError naming file, row, got and wanted.
    """
    name = str(path)
    data = inputs.read_bytes(path, "a CSV file of twelve months", LARGEST_BYTES, LogError)
    try:
        return climate_in(data.decode("utf-8-sig"), name, latitude_deg)
    except UnicodeDecodeError as error:
        raise _problem(name, f"byte {error.start}", "not UTF-8", "a CSV file, UTF-8 text") from None


def climate_in(text: str, name: str, latitude_deg: float) -> MonthlyClimate:
    """The climate in the text of a CSV file called `name`."""
    try:
        numbered = list(enumerate(inputs.csv_rows(text.splitlines()), start=1))
    except ValueError as error:
        raise _problem(name, "", str(error), "a CSV file of twelve months") from None
    rows = [(row, cells) for row, cells in numbered if cells and not cells[0].lstrip().startswith("#")]
    if not rows:
        raise _problem(name, "", "empty", f"a heading, {FORMS}, and twelve rows")
    head_row, head = rows[0][0], tuple(cell.strip().lower() for cell in rows[0][1])
    value_key = next((key for key in ("clearness", "kwh_m2_day") if key in head), None)
    known = {"month", "clearness", "kwh_m2_day", "temperature_c"}
    if value_key is None or "month" not in head or not set(head) <= known or len(set(head)) != len(head):
        raise _problem(name, f"row {head_row}", f"'{','.join(head)}'", f"the heading {FORMS}")
    if {"clearness", "kwh_m2_day"} <= set(head):
        raise _problem(name, f"row {head_row}", "clearness and kwh_m2_day", "one of the two")
    months = _months(rows[1:], head, name)
    values = [months[month][value_key] for month in range(1, 13)]
    warmth = tuple(months[month]["temperature_c"] for month in range(1, 13)) if "temperature_c" in head else None
    if value_key == "kwh_m2_day":
        values = _clearness_of(values, latitude_deg, name)
    return MonthlyClimate(tuple(values), warmth, Path(name).name)


def _months(rows: list[tuple[int, list[str]]], head: tuple[str, ...], name: str) -> dict[int, dict[str, float]]:
    months: dict[int, dict[str, float]] = {}
    for row, cells in rows:
        if len(cells) != len(head):
            raise _problem(name, f"row {row}", f"{len(cells)} cells", f"{len(head)}, as the heading has")
        found = {key: cell.strip() for key, cell in zip(head, cells, strict=True)}
        month = inputs.whole(found["month"], 1, 12)
        if month is None:
            raise _problem(name, f"row {row}, month", f"'{found['month'][:40]}'", "1 to 12")
        if month in months:
            raise _problem(name, f"row {row}, month", f"{month} once more", "each month once")
        months[month] = {key: _number(found[key], key, row, name) for key in head if key != "month"}
    missing = [str(month) for month in range(1, 13) if month not in months]
    if missing:
        raise _problem(name, "month", f"without {', '.join(missing)}", "all twelve months")
    return months


def _number(text: str, key: str, row: int, name: str) -> float:
    low, high = RANGES[key]
    value = inputs.decimal(text)
    if value is None or not low <= value <= high:
        raise _problem(name, f"row {row}, {key}", f"'{text[:40]}'", f"a number from {low:g} to {high:g}")
    return value


def _clearness_of(level_kwh: list[float], latitude_deg: float, name: str) -> list[float]:
    """Clearness of each month; where hardly any Sun reaches the place it has no effect and is kept in range."""
    above_kwh = monthly_mean(extraterrestrial_kwh(latitude_deg, np.arange(1, 366)))
    clearness = []
    for month, (k, above) in enumerate(
        zip(monthly_clearness(latitude_deg, level_kwh), above_kwh, strict=True), start=1
    ):
        if above < LITTLE_SUN_KWH:
            k = STAND_IN_CLEARNESS
        elif not LEAST_CLEARNESS <= k <= MOST_CLEARNESS:
            low, high = LEAST_CLEARNESS * above, MOST_CLEARNESS * above
            wanted = f"{low:.2f} to {high:.2f} kWh/m2/day at {latitude_deg:g} degrees ({above:.2f} above the air)"
            raise _problem(name, f"month {month}, kwh_m2_day", f"{level_kwh[month - 1]:g}", wanted)
        clearness.append(float(k))
    return clearness


def _problem(name: str, place: str, got: str, wanted: str) -> LogError:
    return LogError(str(Problem(name, place, got, wanted)))


def read_record(path: Path, configuration: Configuration, year: int) -> Record:
    """The record in a file, its kind by its first row; plain CSV without a zone is in the site's standard time.

    Raises MissingFileError where the file cannot be read, LogError naming row, got and wanted.
    """
    wanted = "an EPW or CSV file of measured light"
    stream = inputs.opened(path, wanted, LARGEST_RECORD_BYTES, LogError)
    with io.TextIOWrapper(stream, encoding="utf-8-sig", newline="") as lines:
        try:
            offset_min = zone_of(configuration.site.zone).standard_offset_min(*year_days(year))
            return weather_record(lines, path.name, offset_min)
        except UnicodeDecodeError as error:
            raise LogError(f"{path}: byte {error.start} is not UTF-8; wanted {wanted}") from None
        except OSError as error:
            raise MissingFileError(f"{path}: {error.strerror}; wanted {wanted}") from None


def climate_in_record(path: Path, configuration: Configuration, year: int) -> tuple[MeasuredClimate, tuple[str, ...]]:
    """Clearness, its memory and warmth from a record's days at the site, with warnings; raises as `read_record`."""
    site, record = configuration.site, read_record(path, configuration, year)
    return measured_climate(record, site.latitude_deg, site.longitude_deg), place_notes(record, site)


def place_notes(record: Record, site: Site) -> tuple[str, ...]:
    """A warning where the record says that it was made elsewhere."""
    if record.place_deg is None:
        return ()
    latitude, longitude = record.place_deg
    if abs(latitude - site.latitude_deg) <= FAR_DEG and abs(longitude - site.longitude_deg) <= FAR_DEG:
        return ()
    where = f"{place_text(latitude, longitude)}, the site at {place_text(site.latitude_deg, site.longitude_deg)}"
    return (f"{record.source} was made at {where}: its evenings are held against another Sun",)
