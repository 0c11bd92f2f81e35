"""Reads a table back from any of its forms, proves that it is whole, and compares it with a fresh plan.

The first half reads the forms that hold the plan itself: plain C header, JSON, CSV.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
import re
from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sunsched.base.civil_time import WEEKDAYS, clock_text, date_of, day_number, year_days
from sunsched.base.errors import DamagedError, MissingFileError
from sunsched.emit import csv_table, eeprom_hex, json_table
from sunsched.emit.stamp import told_sha256
from sunsched.plan.reasons import WORDS
from sunsched.plan.year import NO_MINUTE, YearPlan
from sunsched.table import facts
from sunsched.table.framing import REVISION, crc16
from sunsched.table.image import MARK, Image, of_bytes

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


_LARGEST_BYTES = 4_000_000
_ARRAY = re.compile(r"door_image\[\][^{]*\{(.*?)\};", re.DOTALL)


@dataclass(frozen=True, slots=True)
class ReadTable:
    """A table as read: what kind of file, and the minutes (2, n) of each year.

    image   None for forms that hold the plan itself (plain header, JSON, CSV)
    keeps, offset_min   of the clock; None where the form does not say
    """

    kind: str
    minutes: dict[int, NDArray[np.int32]]
    image: Image | None = None
    keeps: str | None = None
    offset_min: int | None = None


def read_file(path: str) -> ReadTable:
    """The table in a file: C header, JSON, CSV, Intel HEX or raw image, whatever its name.

    Raises MissingFileError, or DamagedError when it is none of these or not whole.
    """
    try:
        raw = Path(path).read_bytes()
    except OSError as error:
        raise MissingFileError(f"{path}: {error.strerror}; wanted a table to read back") from None
    try:
        return read_bytes(raw)
    except DamagedError as error:
        raise DamagedError(f"{path}: {error}") from None


def read_bytes(raw: bytes) -> ReadTable:
    """The table in a file's bytes; see `read_file`."""
    if len(raw) > _LARGEST_BYTES:
        raise DamagedError(f"{len(raw)} bytes, more than any table has")
    if raw[:1] == bytes([MARK]):
        return _of_image("raw image", of_bytes(raw))
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError:
        raise DamagedError("neither a table image nor text") from None
    if text.startswith(":"):
        return _of_image("Intel HEX", of_bytes(eeprom_hex.raw_of(text)))
    if text.lstrip().startswith("{"):
        return _of_plan("JSON", table_json(text))
    if text.startswith("date,"):
        return _of_plan("CSV", table_csv(text))
    if "door_image[]" in text:
        return _of_image("compact header", _image_of_header(text))
    if "door_minutes[]" in text:
        return _of_plan("plain header", plain_header(text))
    raise DamagedError("no table of ours: neither header, JSON, CSV, Intel HEX nor raw image")


def _of_image(kind: str, image: Image) -> ReadTable:
    years = range(image.first_year, image.first_year + image.n_years)
    minutes = {year: image.minutes(year) for year in years}
    return ReadTable(kind, minutes, image, image.keeps, image.offset_min)


def _of_plan(kind: str, found: tuple[int, NDArray[np.int32], str | None, int | None]) -> ReadTable:
    year, minutes, keeps, offset_min = found
    return ReadTable(kind, {year: minutes}, None, keeps, offset_min)


def _image_of_header(text: str) -> Image:
    array = _ARRAY.search(text)
    if array is None:
        raise DamagedError("a compact header without its image")
    body = re.sub(r"/\*.*?\*/", "", array[1], flags=re.DOTALL)
    parts = [part.strip() for part in body.split(",")]
    if not all(re.fullmatch(r"0x[0-9A-F]{2}", part) for part in parts):
        raise DamagedError("the image in the header is not a list of bytes such as 0x5A")
    raw = bytes(int(part, 16) for part in parts)
    image = of_bytes(raw)
    if int.from_bytes(raw[3:5], "little") != len(raw):
        raise DamagedError(f"the header holds {len(raw)} bytes, its image says {int.from_bytes(raw[3:5], 'little')}")
    stated = re.search(r"#define SUNSCHED_CURVES_DAYS\(data\) \(\(uint8_t\)(\d+)u\)", text)
    units = re.search(r"#define SUNSCHED_CURVES_STEP\(data\) \(\(uint8_t\)(\d+)u\)", text)
    if image.layout.word in ("curves", "years"):
        told = (int(stated[1]), int(units[1])) if stated and units else None
        if told != ((image.data[0] & 31) + 1, 1 << (image.data[0] >> 5)):
            raise DamagedError("the header's SUNSCHED_CURVES_DAYS and _STEP are not those of its image")
    return image


def differences(table: ReadTable, plan_of: Callable[[int], YearPlan], within_min: int = 0) -> list[dict[str, Any]]:
    """The days on which a table and the fresh plan of a year differ by more than `within_min`, or in a fact.

    A clock that differs is one entry without a date.
    """
    found: list[dict[str, Any]] = []
    for year, minutes in table.minutes.items():
        plan = plan_of(year)
        want = np.array([plan.open_min, plan.close_min], np.int32)
        clock = (plan.chip.keeps, plan.chip_offset_min)
        for got, wanted, what in zip((table.keeps, table.offset_min), clock, ("keeps", "utc_offset_min"), strict=True):
            if got is not None and got != wanted and not any(entry.get("what") == what for entry in found):
                found.append({"what": what, "got": got, "wanted": wanted})
        off = (np.abs(minutes - want) > within_min) | ((minutes == NO_MINUTE) != (want == NO_MINUTE))
        wrong_fact = _wrong_facts(table, plan, year)
        for row in np.flatnonzero(off.any(axis=0) | wrong_fact):
            entry: dict[str, Any] = {"date": date_of(plan.first_day + int(row)).isoformat()}
            for side, word in ((0, "open_min"), (1, "close_min")):
                if off[side, row]:
                    entry[word] = {"got": _value(minutes[side, row]), "wanted": _value(want[side, row])}
            if wrong_fact[row]:
                entry["facts"] = "differ"
            found.append(entry)
    return found


def _wrong_facts(table: ReadTable, plan: YearPlan, year: int) -> NDArray[np.bool_]:
    """Days whose facts differ; a table of many years may know fewer, never more."""
    if table.image is None:
        return np.zeros(plan.n_days, np.bool_)
    got = facts.block_facts(table.image.facts, plan.first_day, plan.n_days)
    want = facts.fact_bits(plan)
    if table.image.n_years > 1:
        return np.asarray((got & ~want) != 0)
    return np.asarray(got != want)


def _value(minute: Any) -> int | None:
    return None if int(minute) == NO_MINUTE else int(minute)


def days_of(table: ReadTable) -> list[dict[str, Any]]:
    """Every day of every year as plain data."""
    return [
        {
            "date": date_of(year_days(year)[0] + row).isoformat(),
            "open_min": _value(minutes[0, row]),
            "close_min": _value(minutes[1, row]),
        }
        for year, minutes in table.minutes.items()
        for row in range(minutes.shape[1])
    ]


def words_of(table: ReadTable) -> str:
    """What was read, in a few lines: kind, layout, years, and the first day of each month of the first year."""
    years = list(table.minutes)
    span = f"{years[0]}" if len(years) == 1 else f"{years[0]} to {years[-1]}"
    lines = [f"{table.kind}, {span}, whole"]
    if table.image is not None:
        image = table.image
        lines.append(
            f"layout {image.layout.word}: {len(image.data)} bytes of minutes, {len(image.rules)} rules beside them"
        )
    if table.keeps is not None:
        lines.append(f"clock: {table.keeps}, UTC{table.offset_min or 0:+d} min without summer time")
    minutes = table.minutes[years[0]]
    first = year_days(years[0])[0]
    for month in range(1, 13):
        row = (np.datetime64(f"{years[0]}-{month:02d}-01") - np.datetime64(f"{years[0]}-01-01")).astype(int)
        opens, closes = (
            "stays down" if minutes[side, row] == NO_MINUTE else clock_text(int(minutes[side, row])) for side in (0, 1)
        )
        lines.append(f"  {date_of(first + int(row))}  {opens}  {closes}  chip time")
    return "\n".join(lines)
