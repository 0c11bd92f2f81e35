"""Weather files as keepers can get them, read as records of light: PVGIS CSV, Open-Meteo CSV, EPW, or plain CSV.

PVGIS (European Commission, Joint Research Centre): "Name: value" lines, one line of column names, hours in UTC as
YYYYMMDD:HHMM, remarks at the end. Hourly series give the light at the stamp, on the plane asked for: only slope 0 is
level ground. Typical years give G(h) and how many hours after the stamp it holds.
Open-Meteo: a row of names of the place, a row of its values with utc_offset_seconds, an empty row, then columns with
their units in brackets; hourly radiation is the mean of the hour before its stamp [from memory].
EPW: hours end at their stamp, the zone stands in the heading [measured.py].
What is missing is left out; another unit, a tilted plane or times that run backwards are refused by row.
"""

from __future__ import annotations

import csv
import datetime as dt
import re
from collections.abc import Iterable, Sequence
from itertools import pairwise

import numpy as np

from sunsched.base.errors import LogError
from sunsched.study.measured import (
    LUX_PER_W_M2,
    STAND_IN_YEAR,
    Record,
    checked,
    csv_record,
    epw_record,
)

EPOCH = dt.date(1970, 1, 1)
PVGIS_STAMP = re.compile(r"(\d{4})(\d\d)(\d\d):(\d\d)(\d\d)")
OPEN_METEO_LIGHT = {"shortwave_radiation": 30.0, "shortwave_radiation_instant": 0.0}  # minutes before the stamp
W_M2 = ("w/m²", "w/m2", "wm-2")
MOST_W_M2 = 1600.0  # more than any sky gives level ground within an hour: another unit
LEAST_W_M2 = -20.0  # instruments read a little below 0 at night


def weather_record(lines: Iterable[str], name: str, standard_offset_min: int) -> Record:
    """The light of a weather file of any of the four kinds, recognised by its first row.

    standard_offset_min   of the site: what plain CSV times without an offset mean
    Raises LogError naming row, got and wanted.
    """
    rows = [line.rstrip("\r\n").lstrip("\ufeff") for line in lines]
    first = next((row for row in rows if row.strip()), "").lower()
    if first.startswith("location,"):
        return epw_record((row + "\n" for row in rows), name)
    if first.startswith("latitude (decimal degrees)"):
        return pvgis_record(rows, name)
    if first.startswith("latitude,longitude"):
        return open_meteo_record(rows, name)
    return csv_record((row + "\n" for row in rows), name, standard_offset_min)


def pvgis_record(rows: Sequence[str], name: str) -> Record:
    """The light of a PVGIS hourly series of level ground, or of a PVGIS typical year."""
    heading: dict[str, float] = {}
    at = 0
    for at, row in enumerate(rows):  # noqa: B007
        if row.lower().startswith(("time,", "time(utc),")):
            break
        match = re.match(r"([^:]+):\s*(-?[\d.]+)", row)
        if match:
            heading[match[1].strip().lower()] = float(match[2])
    else:
        raise LogError(f"{name}: no row of column names; wanted one that begins with time")
    columns = [word.strip() for word in rows[at].split(",")]
    light = _pvgis_light(columns, heading, name, at + 1)
    warmth = columns.index("T2m") if "T2m" in columns else None
    offset_min = 60.0 * heading.get("irradiance time offset (h)", 0.0)
    typical = "G(h)" in columns
    minutes: list[float] = []
    watts: list[float] = []
    warm: list[float] = []
    for number, row in enumerate(rows[at + 1 :], at + 2):
        match = PVGIS_STAMP.match(row)
        if match is None:
            if minutes and not row.strip():
                break  # what follows explains the columns
            raise LogError(f"{name}: row {number}: '{row[:30]}'; wanted a time such as 20160101:0010")
        cells = row.split(",")
        if len(cells) != len(columns):
            raise LogError(f"{name}: row {number} has {len(cells)} fields; wanted {len(columns)}")
        minutes.append(_pvgis_minute(match, typical, name, number))
        watts.append(sum(_number(cells[k], name, number) for k in light))
        warm.append(_number(cells[warmth], name, number) if warmth is not None else float("nan"))
    place = heading.get("latitude (decimal degrees)"), heading.get("longitude (decimal degrees)")
    known = None if None in place else (float(place[0] or 0.0), float(place[1] or 0.0))
    return _record(np.array(minutes) + offset_min, watts, warm, known, name, at + 2)


def _pvgis_light(columns: Sequence[str], heading: dict[str, float], name: str, number: int) -> list[int]:
    """Which columns add up to the light on level ground."""
    if "G(h)" in columns:
        return [columns.index("G(h)")]
    parts = ["G(i)"] if "G(i)" in columns else ["Gb(i)", "Gd(i)", "Gr(i)"]
    if not set(parts) <= set(columns):
        raise LogError(f"{name}: row {number}: no light in '{','.join(columns)}'; wanted G(i), or Gb(i),Gd(i),Gr(i)")
    slope = heading.get("slope")
    if slope is None or slope != 0.0:
        got = "not stated" if slope is None else f"{slope:g} deg"
        raise LogError(f"{name}: the plane's slope is {got}; wanted slope 0, the light on level ground")
    return [columns.index(part) for part in parts]


def _pvgis_minute(match: re.Match[str], typical: bool, name: str, number: int) -> float:
    year, month, day, hour, minute = (int(part) for part in match.groups())
    if typical:  # its months come from many years; the Sun's path of one serves them all
        year, day = STAND_IN_YEAR, 28 if (month, day) == (2, 29) else day
    try:
        date = dt.date(year, month, day)
    except ValueError as error:
        raise LogError(f"{name}: row {number}: {error}; wanted a date") from None
    return (date - EPOCH).days * 1440.0 + hour * 60 + minute


def open_meteo_record(rows: Sequence[str], name: str) -> Record:
    """The light of an Open-Meteo hourly CSV file."""
    table = list(csv.reader(rows))
    place = dict(zip(table[0], table[1] if len(table) > 1 else [], strict=False))
    try:
        latitude, longitude = float(place["latitude"]), float(place["longitude"])
        shift = float(place["utc_offset_seconds"]) / 60.0
    except (KeyError, ValueError):
        raise LogError(
            f"{name}: row 2 has no latitude, longitude and utc_offset_seconds; wanted the place's values there"
        ) from None
    at = next((n for n, row in enumerate(table) if row and row[0] == "time"), None)
    if at is None:
        raise LogError(f"{name}: no row of column names; wanted one that begins with time")
    found = [_named(column) for column in table[at]]
    light = next((k for k, (key, _) in enumerate(found) if key in OPEN_METEO_LIGHT), None)
    if light is None:
        raise LogError(f"{name}: row {at + 1}: no column shortwave_radiation; wanted it, in W/m2")
    if found[light][1] not in W_M2:
        raise LogError(f"{name}: row {at + 1}: {found[light][0]} is in '{found[light][1]}'; wanted W/m2")
    warmth = next((k for k, one in enumerate(found) if one == ("temperature_2m", "°c")), None)
    before = OPEN_METEO_LIGHT[found[light][0]]
    minutes: list[float] = []
    watts: list[float] = []
    warm: list[float] = []
    for number, row in enumerate(table[at + 1 :], at + 2):
        if not row:
            break
        minutes.append(_iso_minute(row[0], name, number) - shift - before)
        watts.append(_number(row[light], name, number))
        warm.append(_number(row[warmth], name, number) if warmth is not None else float("nan"))
    return _record(np.array(minutes), watts, warm, (latitude, longitude), name, at + 2)


def _named(column: str) -> tuple[str, str]:
    match = re.fullmatch(r"\s*(\w+)\s*(?:\((.*)\))?\s*", column)
    return (match[1], (match[2] or "").strip().lower()) if match else (column, "")


def _iso_minute(text: str, name: str, number: int) -> float:
    try:
        time = dt.datetime.fromisoformat(text.strip())
    except ValueError as error:
        raise LogError(f"{name}: row {number}: {error}; wanted a time such as 2026-06-01T12:00") from None
    return (time.date() - EPOCH).days * 1440.0 + time.hour * 60 + time.minute


def _number(text: str, name: str, number: int) -> float:
    text = text.strip()
    if text.lower() in ("", "nan", "null"):
        return float("nan")
    try:
        return float(text)
    except ValueError:
        raise LogError(f"{name}: row {number}: '{text}'; wanted a number, or nothing") from None


def _record(
    minutes: np.ndarray[tuple[int], np.dtype[np.float64]],
    watts: Sequence[float],
    warm: Sequence[float],
    place: tuple[float, float] | None,
    name: str,
    first_row: int,
) -> Record:
    if len(minutes) < 2:
        raise LogError(f"{name}: {len(minutes)} rows of light; wanted a year of them")
    for number, (before, after) in enumerate(pairwise(minutes.tolist()), first_row + 1):
        if after <= before:
            raise LogError(f"{name}: row {number}: its time is not after the row before it; wanted growing times")
    for number, value in enumerate(watts, first_row):
        if not (np.isnan(value) or LEAST_W_M2 <= value <= MOST_W_M2):
            raise LogError(f"{name}: row {number}: light is {value:g}; wanted 0 to {MOST_W_M2:g} W/m2")
    lux = np.maximum(np.array(watts), 0.0) * LUX_PER_W_M2
    interval = float(np.median(np.diff(minutes)))
    temperature = np.array(warm)
    return checked(Record(minutes, lux, interval, place, name, None if np.isnan(temperature).all() else temperature))
