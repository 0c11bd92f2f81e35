"""Reads a table back from any of its forms, proves that it is whole, and compares it with a fresh plan.

What a chip would compile or load is proven, not only the rows: a text by the digest it carries of itself, an image by
its checksum and the checksums and the end of its Intel HEX. Texts of versions that wrote no digest are still read;
with a configuration they are made anew and compared as a whole, without one they are not called proven.
"""

from __future__ import annotations

import datetime as dt
import io
import re
from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sunsched.base import inputs, text_digest
from sunsched.base.civil_time import WEEKDAYS, clock_text, date_of, day_number, year_days
from sunsched.base.errors import DamagedError
from sunsched.config.configuration import Configuration
from sunsched.emit import csv_table, eeprom_hex, json_table
from sunsched.emit.stamp import plan_sha256, told_sha256
from sunsched.job import pipeline
from sunsched.job.compact import chip_settings
from sunsched.plan.reasons import WORDS
from sunsched.plan.year import NO_MINUTE, YearPlan
from sunsched.table import facts
from sunsched.table.framing import REVISION, crc16
from sunsched.table.image import MARK, ChipSettings, Image, of_bytes

# A number as C and we write it: plain digits, and no leading zero, which C takes for octal.
_WHOLE = r"-?(?:0|[1-9][0-9]{0,5})"
_ROW = re.compile(
    rf"^ +\{{ +({_WHOLE}|DOOR_NONE), +({_WHOLE}|DOOR_NONE) \}}[, ] /\* ([0-9]{{2}}-[0-9]{{2}}) ([A-Z][a-z]{{2}}) \*/$",
    re.MULTILINE,
)
_END = re.compile(r"\n#endif /\* (SUNSCHED_[A-Z0-9_]+_H) \*/\n\Z")
_FACTS = ("dark_expected", "light_expected", "open_by_twilight", "close_by_twilight")


def _number(text: str, name: str) -> int:
    found = re.findall(rf"^ *# *define {name}\b(?: \(?(0x[0-9A-F]{{4}}|{_WHOLE})(?=[u) ]|$))?", text, re.MULTILINE)
    if len(found) != 1 or not found[0]:
        raise DamagedError(f"the header does not define {name} once, by a plain number")
    return int(found[0], 0)


def plain_header(text: str) -> ReadTable:
    """The rows of a plain header. Raises DamagedError if their checksum, number or dates are wrong."""
    _whole_header(text)
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
    told = re.search(r"^ \* Plan      sha256 ([0-9a-f]{64})$", text, re.MULTILINE)
    offset_min = _number(text, "DOOR_UTC_OFFSET_MIN")
    return ReadTable(
        "plain header", {year: minutes.T.astype(np.int32)}, offset_min=offset_min, plan_sha256=told[1] if told else ""
    )


def _whole_header(text: str) -> None:
    """Refuse a header whose end is missing, or whose fixed C text is not ours."""
    end = _END.search(text_digest.without_digest(text))
    if end is None or f"\n#ifndef {end[1]}\n#define {end[1]}\n" not in text:
        raise DamagedError("the header has not the end that its beginning asks for: cut off, or changed")


def _minute(text: str) -> int:
    if text in ("DOOR_NONE", ""):
        return NO_MINUTE
    value = inputs.whole(text, -32767, 32767)
    if value is None:
        raise DamagedError(f"the minute '{text[:20]}', which 16 bits cannot hold")
    return value


def _whole_year(year: int, dates: Iterable[str]) -> None:
    """Refuse dates that are not every day of a year in order."""
    first, n_days = year_days(year) if 1 < year < 9998 else (0, 0)
    wanted = [date_of(first + row).isoformat() for row in range(n_days)]
    if list(dates) != wanted:
        raise DamagedError(f"its rows are not the {n_days} days of {year} in order")


def table_json(text: str) -> ReadTable:
    """The days of a JSON table. Raises DamagedError if it is no such table or its digest is wrong."""
    try:
        return _of_json(inputs.json_of(text))
    except (ValueError, KeyError, TypeError, AttributeError, IndexError, OverflowError) as error:
        raise DamagedError(f"not a whole JSON table: {type(error).__name__}: {error}") from None


def _of_json(table: dict[str, Any]) -> ReadTable:
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
    return ReadTable("JSON", {year: np.array(columns[:2], np.int32)}, None, keeps, offset, plan_sha256=digest)


def table_csv(text: str) -> ReadTable:
    """The rows of a CSV table. Each minute stands in it three times over: all must agree."""
    try:
        rows = list(inputs.csv_rows(io.StringIO(text_digest.without_digest(text), newline="")))
    except ValueError as error:
        raise DamagedError(f"not a whole CSV table: {error}") from None
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
    return ReadTable("CSV", {year: minutes.astype(np.int32)})


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


# The largest table of ours, 60 years as a header, has a third of that.
LARGEST_BYTES = 1_000_000
_ARRAY = re.compile(r"door_image\[\][^{]*\{(.*?)\};", re.DOTALL)


@dataclass(frozen=True, slots=True)
class ReadTable:
    """A table as read: what kind of file, and the minutes (2, n) of each year.

    image   None for forms that hold the plan itself (plain header, JSON, CSV)
    keeps, offset_min   of the clock; None where the form does not say
    proof   "digest" or "checksum" of all that a chip would compile or load; "" where the text carries none
    within_min   how far a minute may be from the plan, as the table was made [minutes]
    plan_sha256   the digest of the plan that a text says it was made of, "" where it does not say
    text   as read, for comparing it with a text made anew; line ends as LF
    """

    kind: str
    minutes: dict[int, NDArray[np.int32]]
    image: Image | None = None
    keeps: str | None = None
    offset_min: int | None = None
    proof: str = ""
    within_min: int = 0
    plan_sha256: str = ""
    text: str = ""


def read_file(path: str) -> ReadTable:
    """The table in a file: C header, JSON, CSV, Intel HEX or raw image, whatever its name.

    Raises MissingFileError, or DamagedError when it is none of these or not whole.
    """
    raw = inputs.read_bytes(path, "a table to read back", LARGEST_BYTES)
    try:
        return read_bytes(raw)
    except DamagedError as error:
        raise DamagedError(f"{inputs.name_of(path)}: {error}") from None


def read_bytes(raw: bytes) -> ReadTable:
    """The table in a file's bytes; see `read_file`."""
    if len(raw) > LARGEST_BYTES:
        raise DamagedError(f"{len(raw)} bytes, more than any table has")
    if raw[:1] == bytes([MARK]):
        return _of_image("raw image", of_bytes(raw))
    try:
        # As an editor of another system may save it: with CRLF, or a byte order mark.
        text = raw.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError:
        raise DamagedError("neither a table image nor text") from None
    if text.startswith(":"):
        return _of_image("Intel HEX", of_bytes(eeprom_hex.raw_of(text)))
    whole = text_digest.proven(raw)
    if whole is False:
        raise DamagedError("the digest of its text is not the one it carries: damaged, or changed since it was written")
    return replace(_of_text(text), proof="digest" if whole else "", text=text)


def _of_text(text: str) -> ReadTable:
    if text.lstrip().startswith("{"):
        return table_json(text)
    if text.startswith("date,"):
        return table_csv(text)
    if "door_image[]" in text:
        within = re.search(r"^ \* Error     at most ([0-9]{1,2}) min, ", text, re.MULTILINE)
        table = _of_image("compact header", _image_of_header(text))
        return replace(table, within_min=int(within[1]) if within else 0)
    if "door_minutes[]" in text:
        return plain_header(text)
    raise DamagedError("no table of ours: neither header, JSON, CSV, Intel HEX nor raw image")


def _of_image(kind: str, image: Image) -> ReadTable:
    years = range(image.first_year, image.first_year + image.n_years)
    try:
        minutes = {year: image.minutes(year) for year in years}
        settings = ChipSettings.of_bytes(image.settings)
    except (ValueError, IndexError) as error:
        raise DamagedError(f"the image is whole but makes no sense: {error}") from None
    within_min = settings.worst_error_min if settings is not None else 0
    return ReadTable(kind, minutes, image, image.keeps, image.offset_min, "checksum", max(within_min, 0))


def _image_of_header(text: str) -> Image:
    _whole_header(text)
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


def differences(
    table: ReadTable,
    plan_of: Callable[[int], YearPlan],
    within_min: int = 0,
    settings: ChipSettings | None = None,
) -> list[dict[str, Any]]:
    """The days on which a table and the fresh plan of a year differ by more than `within_min`, or in a fact.

    A table made with a wider error of its own is held to that. A clock, `settings` for the program that an image does
    not carry, and a plan that differs in nothing but facts and solar midnight are one entry each, without a date.
    """
    within_min = max(within_min, table.within_min)
    found = _other_settings(table, settings)
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
        if not found and table.plan_sha256 and (fresh := plan_sha256(plan)) != table.plan_sha256:
            found.append({"what": "facts or solar midnight: plan_sha256", "got": table.plan_sha256, "wanted": fresh})
    return found


def _other_settings(table: ReadTable, settings: ChipSettings | None) -> list[dict[str, Any]]:
    got = ChipSettings.of_bytes(table.image.settings) if table.image is not None else None
    if settings is None or got is None:
        return []
    return [
        {"what": key.name, "got": getattr(got, key.name), "wanted": getattr(settings, key.name)}
        for key in fields(ChipSettings)
        if key.name != "worst_error_min" and getattr(got, key.name) != getattr(settings, key.name)
    ]


def compared(
    table: ReadTable, configuration: Configuration, name: str = "", within_min: int = 0
) -> tuple[list[dict[str, Any]], str]:
    """The differences from a fresh plan, and how the whole text is proven: `digest`, `checksum`, `made anew`, or ''.

    A text without a digest is made anew, by the version and zone release that it names, and compared as a whole.
    """
    found = differences(
        table, lambda year: pipeline.plan_of(configuration, year, name), within_min, chip_settings(configuration)
    )
    if table.proof or found or table.image is not None:
        return found, table.proof
    (year,) = table.minutes
    form = {"plain header": "c", "JSON": "json", "CSV": "csv"}[table.kind]
    work = pipeline.built(configuration, year, name)
    stamp = replace(work.stamp, version=_told(_VERSIONS, table.text), tzdata=_told(_RELEASES, table.text))
    anew = pipeline.texts_of(replace(work, stamp=stamp), [form])[form].decode().replace("\r\n", "\n")
    return found, "made anew" if text_digest.without_digest(anew) == table.text else ""


# Where a header, JSON and CSV name the version and the zone release that they were made with.
_VERSIONS = re.compile(r'GENERATED by sunsched (\S+)\. |^"sunsched":"([^"]+)"|"sunsched":"([^"]+)"|,([^,\n]+)\n\Z')
_RELEASES = re.compile(r'; tzdata (\w+)$|"tzdata":"(\w+)"|,(\w+),[^,\n]+\n\Z', re.MULTILINE)


def _told(pattern: re.Pattern[str], text: str) -> str:
    found = pattern.search(text)
    return next((group for group in found.groups() if group), "") if found else ""


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


_NOT_PROVEN = "rows whole; the text beside them is not proven, for it carries no digest of itself"


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
    lines = [f"{table.kind}, {span}, {'whole' if table.proof else _NOT_PROVEN}"]
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
