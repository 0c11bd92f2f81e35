"""Reads back the forms that hold the plan itself: plain C header, JSON, CSV. Each proves that it is whole."""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
import re
from collections import Counter
from collections.abc import Iterable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sunsched.base.civil_time import WEEKDAYS, date_of, day_number, year_days
from sunsched.base.errors import DamagedError
from sunsched.emit import csv_table, json_table
from sunsched.emit.stamp import told_sha256
from sunsched.plan.reasons import WORDS
from sunsched.plan.year import NO_MINUTE
from sunsched.table.crc import crc16
from sunsched.table.revision import REVISION

# Year, minutes (2, n), what the chip keeps, its offset [minutes]; None where the form does not say.
Found = tuple[int, NDArray[np.int32], str | None, int | None]
_ROW = re.compile(r"^ +\{ +(-?\d+|DOOR_NONE), +(-?\d+|DOOR_NONE) \}[, ] /\* (\d\d-\d\d) (\w{3}) \*/$", re.MULTILINE)
_FACTS = ("dark_expected", "light_expected", "open_by_twilight", "close_by_twilight")


def _number(text: str, name: str) -> int:
    found = re.search(rf"^#define {name} \(?(0x[0-9A-F]{{4}}|-?\d+)", text, re.MULTILINE)
    if found is None:
        raise DamagedError(f"the header does not define {name}")
    return int(found[1], 0)


def plain_header(text: str) -> Found:
    """The rows of a plain header. Raises DamagedError if their checksum, number or dates are wrong."""
    if _number(text, "SUNSCHED_TABLE_REVISION") != REVISION:
        raise DamagedError(f"a header of another table revision; this software reads revision {REVISION}")
    year = _number(text, "DOOR_YEAR")
    rows = _ROW.findall(text)
    minutes = np.array([[_minute(opens), _minute(closes)] for opens, closes, _, _ in rows], np.int64).reshape(-1, 2)
    if np.abs(minutes).max(initial=0) > 32768:
        raise DamagedError("a minute that 16 bits cannot hold")
    _whole_year(year, [f"{year:04d}-{date}" for _, _, date, _ in rows])
    if _number(text, "DOOR_ROWS") != len(rows):
        raise DamagedError(f"the header has {len(rows)} rows and says {_number(text, 'DOOR_ROWS')}")
    crc, want = crc16(minutes.astype("<i2").tobytes()), _number(text, "DOOR_CHECKSUM")
    if crc != want:
        raise DamagedError(f"the checksum of the rows is 0x{crc:04X}, the header says 0x{want:04X}")
    return year, minutes.T.astype(np.int32), None, _number(text, "DOOR_UTC_OFFSET_MIN")


def _minute(text: str) -> int:
    return NO_MINUTE if text in ("DOOR_NONE", "") else int(text)


def _whole_year(year: int, dates: Iterable[str]) -> None:
    """Refuse dates that are not every day of a year in order."""
    first, n_days = year_days(year) if 1 < year < 9998 else (0, 0)
    wanted = [date_of(first + row).isoformat() for row in range(n_days)]
    if list(dates) != wanted:
        raise DamagedError(f"its rows are not the {n_days} days of {year} in order")


def table_json(text: str) -> Found:
    """The days of a JSON table. Raises DamagedError if it is no such table or its digest is wrong."""
    try:
        table = json.loads(text)
        return _of_json(table)
    except (ValueError, KeyError, TypeError, AttributeError, IndexError, OverflowError) as error:
        raise DamagedError(f"not a whole JSON table: {type(error).__name__}: {error}") from None


def _of_json(table: dict[str, Any]) -> Found:
    if (table["format"], table["revision"]) != (json_table.FORMAT, json_table.REVISION):
        raise DamagedError(f"format '{table['format']}' revision {table['revision']}; wanted {json_table.FORMAT} 1")
    days = table["days"]
    year = dt.date.fromisoformat(days[0]["date"]).year
    _whole_year(year, [day["date"] for day in days])
    if any(day[key] not in WORDS for day in days for key in ("open_reason", "close_reason")):
        raise DamagedError("a reason that is none")
    names = ("open_min", "close_min", "solar_midnight_min")
    columns = [np.array([NO_MINUTE if d[name] is None else int(d[name]) for d in days]) for name in names]
    if any(np.abs(column).max() > 32768 for column in columns):
        raise DamagedError("a minute that 16 bits cannot hold")
    flags = [np.array([d[name] is True for d in days]) for name in _FACTS]
    keeps, offset = str(table["clock"]["keeps"]), int(table["clock"]["utc_offset_min"])
    digest = told_sha256(day_number(dt.date(year, 1, 1)), keeps, offset, columns, flags)
    if digest != table["plan_sha256"]:
        raise DamagedError(f"the days' sha256 is {digest}, the table says {table['plan_sha256']}")
    return year, np.array(columns[:2], np.int32), keeps, offset


def table_csv(text: str) -> Found:
    """The rows of a CSV table. It has no checksum, but says each minute three times over: all must agree."""
    rows = list(csv.reader(io.StringIO(text, newline="")))
    if not rows or tuple(rows[0]) != csv_table.COLUMNS or any(len(row) != len(csv_table.COLUMNS) for row in rows):
        raise DamagedError("not a whole CSV table: other columns than ours")
    try:
        days = [dict(zip(csv_table.COLUMNS, row, strict=True)) for row in rows[1:]]
        year = dt.date.fromisoformat(days[0]["date"]).year
        _whole_year(year, [day["date"] for day in days])
        offsets = [_agreed(day) for day in days]
        minutes = np.array([[_minute(day[name]) for day in days] for name in ("open_min", "close_min")])
    except (ValueError, KeyError, IndexError, OverflowError) as error:
        raise DamagedError(f"not a whole CSV table: {error}") from None
    # A clock has one offset, or two with summer time. An offset that one row alone shows is a damaged row.
    for what in zip(*offsets, strict=True):
        seen = Counter(value for values in what for value in values)
        lonely = [value for value, times in seen.items() if times < 4]
        if lonely:
            raise DamagedError(f"a row whose times disagree: {lonely[0]}")
    return year, minutes.astype(np.int32), None, None


def _agreed(day: dict[str, str]) -> tuple[tuple[Any, ...], ...]:
    """What each row says of the clock, for comparing with the other rows; raises if it contradicts itself."""
    date = dt.date.fromisoformat(day["date"])
    shut = [
        day[name] == "" for name in ("open_min", "close_min", "open_utc", "close_utc", "open_civil", "open_for_min")
    ]
    if day["weekday"] != WEEKDAYS[date.weekday()] or any(day[k] not in WORDS for k in ("open_reason", "close_reason")):
        raise DamagedError(f"{day['date']}: weekday or reason is wrong")
    constant = ((day["tzdata"],) * 4, (day["sunsched"],) * 4)
    if all(shut):
        return ((), (), (), *constant)
    if any(shut) or int(day["close_min"]) - int(day["open_min"]) != int(day["open_for_min"]):
        raise DamagedError(f"{day['date']}: open_for_min is not close_min less open_min")
    chip, civil = [], []
    for side in ("open", "close"):
        instant = dt.datetime.strptime(day[f"{side}_utc"], "%Y-%m-%dT%H:%M:%SZ")
        minute = (instant - dt.datetime(date.year, date.month, date.day)).total_seconds() / 60
        hours, _, past = day[f"{side}_civil"].lstrip("-").partition(":")
        told = (int(hours) * 60 + int(past)) * (-1 if day[f"{side}_civil"].startswith("-") else 1)
        chip.append(int(day[f"{side}_min"]) - minute)
        civil.append(told - minute)
    return (tuple(chip * 2), tuple(civil * 2), (int(day["utc_offset_min"]),) * 2, *constant)
