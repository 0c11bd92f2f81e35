"""Rows of a recorded light log, read from text: time and value of each, and what is wrong with the others.

Nothing here opens a file. Blocks of lines are read with numpy at once; a block with a bad row is halved until the
row stands alone, so that one bad row costs a few look-ups and is named by its number. The door's own log, as its
program writes it over the serial line (sunsched/controller/LOG.md), is read here too.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sunsched.base import inputs
from sunsched.base.civil_time import day_number
from sunsched.base.errors import LogError

TIME_WORDS = ("timestamp", "datetime", "date", "time", "zeit", "datum")
LUX_WORDS = ("lux", "lx", "illuminance")
COUNT_WORDS = ("counts", "count", "adc", "raw")
EPOCH_DIGITS = 9  # seconds since 1970 have nine digits or more from March 1973 on
_SUFFIX = re.compile(r"(?:[.,]\d+)?\s?(Z|UTC|[+-]\d\d:?\d\d)?", re.IGNORECASE)
_DOTTED = re.compile(r"\d\d\.\d\d\.\d{4}\b")
_SLASHED = re.compile(r"\d{1,4}/\d{1,2}/\d{1,4}")
_NUMBER = re.compile(r"[+-]?(\d+([.,]\d*)?|[.,]\d+)([eE][+-]?\d+)?")


@dataclass(frozen=True)
class RowLayout:
    """How the rows are laid out; columns count from 0."""

    delimiter: str
    columns: int
    time_column: int
    hour_column: int | None  # where date and time of day stand apart
    value_column: int
    unit: str | None  # "lux", "counts" or not said
    utc_in_heading: bool
    heading_rows: int
    decimal_comma: bool


@dataclass(frozen=True)
class Block:
    """Rows read: minutes since 1970 by the log's own clock (UTC where `zoned`), values and row numbers."""

    log_min: NDArray[np.float64]
    value: NDArray[np.float64]
    row: NDArray[np.int64]
    zoned: bool
    bad: tuple[tuple[int, str], ...]


class _BadRowError(Exception):
    """A row in the block cannot be read; the text says why."""


def _words(cell: str) -> list[str]:
    return re.split(r"[^a-z0-9]+", cell.lower())


def _has(cell: str, words: Sequence[str]) -> bool:
    return any(word in words for word in _words(cell))


def split(line: str, delimiter: str) -> list[str]:
    """The cells of one line, quotes taken off, blanks at either end as well."""
    if '"' in line:
        try:
            return [cell.strip() for cell in next(inputs.csv_rows([line], delimiter))]
        except ValueError:
            pass  # quoted nonsense: its cells are judged as they stand
    return [cell.strip() for cell in line.split(delimiter)]


def _delimiter(lines: Sequence[str]) -> str:
    for candidate in ("\t", ";"):
        if all(candidate in line for line in lines):
            return candidate
    return ","


def _is_time(text: str) -> bool:
    return bool(re.match(r"\d{4}-\d\d-\d\d", text) or _DOTTED.match(text) or _SLASHED.match(text)) or (_is_epoch(text))


def _is_epoch(text: str) -> bool:
    return text.isascii() and text.isdigit() and EPOCH_DIGITS <= len(text) <= inputs.MOST_DIGITS


def _named_value(heading: Sequence[str], column: str | None, row: int) -> int:
    if column is not None:
        if column not in heading:
            raise LogError(f"row {row}: no column '{column}'; wanted one of {', '.join(heading)}")
        return heading.index(column)
    for words in (LUX_WORDS, COUNT_WORDS, ("light", "value", "reading", "helligkeit")):
        found = [number for number, cell in enumerate(heading) if _has(cell, words)]
        if len(found) > 1:
            raise LogError(f"row {row}: several columns of light ({', '.join(heading)}); name one with --column")
        if found:
            return found[0]
    raise LogError(f"row {row}: no column of light among '{', '.join(heading)}'; wanted lux or counts in a heading")


def _named_times(heading: Sequence[str], row: int) -> tuple[int, int | None]:
    found = [number for number, cell in enumerate(heading) if _has(cell, TIME_WORDS)]
    if not found:
        raise LogError(f"row {row}: no column of time among '{', '.join(heading)}'; wanted time in a heading")
    dates = [number for number in found if _has(heading[number], ("date", "datum"))]
    hours = [number for number in found if number not in dates]
    if dates and hours:
        return dates[0], hours[0]
    return found[0], None


def row_layout(lines: Sequence[str], first_row: int, column: str | None = None) -> RowLayout:
    """Find out how rows are laid out from the first few (no remarks, none empty), the heading included.

    column  the heading of the column to read, where there are several. Raises LogError naming the row: no heading
    that can be understood, columns swapped, or a layout that cannot be told.
    """
    delimiter = _delimiter(lines)
    heading = split(lines[0], delimiter)
    headed = not any(_NUMBER.fullmatch(cell) or _is_time(cell) for cell in heading)
    data = lines[1:] if headed else lines
    if not data:
        raise LogError(f"row {first_row}: a heading and no row of data")
    cells, row = split(data[0], delimiter), first_row + int(headed)
    every = [cell for line in data for cell in split(line, delimiter)]
    comma = delimiter != "," and any(re.fullmatch(r"[+-]?\d+,\d+", cell) for cell in every)
    if headed:
        time_column, hour_column = _named_times(heading, first_row)
        value_column = _named_value(heading, column, first_row)
    elif len(cells) in (2, 3):
        time_column, hour_column, value_column = 0, 1 if len(cells) == 3 else None, len(cells) - 1
        if hour_column is not None and not re.match(r"\d\d:\d\d", cells[1]):
            raise LogError(
                f"row {row}: three columns and no heading ({data[0].strip()!r}): a decimal comma, or a "
                "column too many? Wanted time and value, with points or with ';' between columns"
            )
    else:
        raise LogError(f"row {row}: {len(cells)} column(s) and no heading; wanted time and value")
    both = max(value_column, time_column) < len(cells)
    if both and _is_time(cells[value_column]) and not _is_time(cells[time_column]):
        raise LogError(
            f"row {row}: '{cells[time_column]}' where the time and '{cells[value_column]}' where the "
            "light should stand: the columns are swapped"
        )
    name = heading[value_column] if headed else ""
    unit = "lux" if _has(name, LUX_WORDS) else "counts" if _has(name, COUNT_WORDS) else None
    utc = headed and any(_has(heading[number], ("utc", "gmt")) for number in (time_column, hour_column or 0))
    return RowLayout(
        delimiter,
        len(heading if headed else cells),
        time_column,
        hour_column,
        value_column,
        unit,
        utc,
        int(headed),
        comma,
    )


def _offset_min(suffix: str) -> int | None:
    match = _SUFFIX.fullmatch(suffix)
    if not match:
        raise _BadRowError(f"'{suffix}' after the time")
    zone = match[1]
    if zone is None:
        return None
    if zone.upper() in ("Z", "UTC"):
        return 0
    minutes = int(zone[1:3]) * 60 + int(zone[-2:])
    return -minutes if zone[0] == "-" else minutes


def _iso(text: str) -> str:
    if _DOTTED.match(text):
        return f"{text[6:10]}-{text[3:5]}-{text[0:2]}{text[10:]}"
    if _SLASHED.match(text):
        raise _BadRowError(f"time '{text}': day or month first? wanted a date such as 2027-03-01")
    return text


def _minutes(texts: list[str]) -> tuple[NDArray[np.float64], bool]:
    """Minutes since 1970 of each text, and whether they are UTC."""
    if _is_epoch(texts[0]) and all(_is_epoch(text) for text in texts):
        seconds = np.array([int(text[:10] if len(text) >= 13 else text) for text in texts], dtype=np.float64)
        return _of_known_years(seconds / 60.0, texts), True
    if texts[0][4:5] != "-":
        texts = [_iso(text) for text in texts]
    ends = [19 if text[16:17] == ":" else 16 for text in texts]
    bases = [text[:end] for text, end in zip(texts, ends, strict=True)]
    suffixes = [text[end:] for text, end in zip(texts, ends, strict=True)]
    codes = np.array(bases, dtype="U19").view(np.uint32).reshape(len(bases), 19)
    # numpy takes "2027" and "12" for years: the punctuation must stand where a full time has it
    marks = (codes[:, 4] == 45) & (codes[:, 7] == 45) & (codes[:, 13] == 58) & np.isin(codes[:, 10], (32, 84, 116))
    if not marks.all():
        raise _BadRowError(f"time '{texts[int(np.argmin(marks))]}'; wanted such as 2027-03-01 17:58")
    try:
        stamps = np.array([base.replace("t", "T") for base in bases], dtype="datetime64[s]")
    except ValueError as error:
        raise _BadRowError(f"time '{texts[0]}'; wanted such as 2027-03-01 17:58") from error
    offsets = {suffix: _offset_min(suffix) for suffix in set(suffixes)}
    zoned = None not in offsets.values()
    if not zoned and any(offset is not None for offset in offsets.values()):
        raise _BadRowError("some times with an offset from UTC and some without")
    minutes = stamps.astype(np.int64) / 60.0
    if zoned:
        minutes -= np.array([offsets[suffix] for suffix in suffixes], dtype=np.float64)
    return _of_known_years(minutes, texts), zoned


# Nobody logged light before, and the Sun is not known after; a year outside is a damaged digit.
_FIRST_MIN, _END_MIN = 0.0, (2100 - 1970) * 365.25 * 1440


def _of_known_years(minutes: NDArray[np.float64], texts: list[str]) -> NDArray[np.float64]:
    odd = (minutes < _FIRST_MIN) | (minutes >= _END_MIN)
    if odd.any():
        raise _BadRowError(f"time '{texts[int(np.argmax(odd))]}'; wanted a year of 1970 to 2099")
    return minutes


def _values(texts: list[str], decimal_comma: bool) -> NDArray[np.float64]:
    if decimal_comma:
        texts = [text.replace(",", ".") for text in texts]
    try:
        values = np.array(texts, dtype="S32").astype(np.float64)
    except ValueError as error:
        raise _BadRowError(f"light '{texts[0]}'; wanted a number") from error
    if not np.isfinite(values).all() or (values < 0).any():
        raise _BadRowError(f"light '{texts[0]}'; wanted a number, 0 or more")
    return values


def _read(lines: Sequence[str], rows: NDArray[np.int64], layout: RowLayout) -> Block:
    plain = not any('"' in line for line in lines)  # three times as fast as taking quotes off that are not there
    cells = [line.split(layout.delimiter) if plain else split(line, layout.delimiter) for line in lines]
    for found in cells:
        if len(found) != layout.columns:
            hint = ": a decimal comma?" if layout.delimiter == "," and len(found) == layout.columns + 1 else ""
            raise _BadRowError(f"{len(found)} columns where the first row has {layout.columns}{hint}")
    times = [found[layout.time_column].strip() for found in cells]
    if layout.hour_column is not None:
        times = [f"{date} {found[layout.hour_column].strip()}" for date, found in zip(times, cells, strict=True)]
    minutes, zoned = _minutes(times)
    values = _values([found[layout.value_column].strip() for found in cells], layout.decimal_comma)
    return Block(minutes, values, rows, zoned or layout.utc_in_heading, ())


def parse_block(lines: Sequence[str], rows: NDArray[np.int64], layout: RowLayout, bad_limit: int = 1000) -> Block:
    """Read a block of lines (no remarks, none empty); `rows` are their numbers in the file.

    Rows that cannot be read are left out and listed in `bad` with the reason, at most `bad_limit` of them: beyond
    that LogError, for the file is no such log.
    """
    bad: list[tuple[int, str]] = []
    parts: list[Block] = []
    pending = [(0, len(lines))]
    while pending:
        first, end = pending.pop()
        try:
            parts.append(_read(lines[first:end], rows[first:end], layout))
        except _BadRowError as error:
            if end - first == 1:
                bad.append((int(rows[first]), str(error)))
                if len(bad) > bad_limit:
                    raise LogError(f"row {bad[0][0]}: {bad[0][1]}; and over {bad_limit} more such rows") from error
                continue
            middle = (first + end) // 2
            pending += [(middle, end), (first, middle)]
    zoned = {part.zoned for part in parts}
    if len(zoned) > 1:
        raise LogError(f"rows {rows[0]} to {rows[-1]}: some times with an offset from UTC and some without")
    joined = (np.concatenate([getattr(part, name) for part in parts] or [np.zeros(0)]) for name in ("log_min", "value"))
    log_min, value = joined
    row = np.concatenate([part.row for part in parts] or [np.zeros(0, np.int64)])
    return Block(log_min, value, row, zoned == {True}, tuple(sorted(bad)))


CHIP_HEADING = "date,time,event,counts,door,move,reason,alarms"
COLUMNS = CHIP_HEADING.count(",") + 1
EVENTS = ("start", "quarter", "move", "ended", "alarm", "clock", "table")
CHIP_TOP_COUNT = 1023
_CHIP_TIME = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2} [0-9]{2}:[0-9]{2}:[0-9]{2}")


def is_chip_log(lines: Sequence[str]) -> bool:
    """True when some of the first lines are the door's: its heading, or a row with one of its events.

    A terminal that was opened late has saved neither remarks nor heading, and half a line before the first whole one.
    """
    for line in lines:
        cells = line.strip().split(",")
        if line.strip() == CHIP_HEADING or (len(cells) == COLUMNS and cells[2] in EVENTS):
            return True
    return False


class ChipMove(NamedTuple):
    """A change of what the door is wanted to do: when [minutes by the chip's clock], `raise` or `lower`, and why."""

    row: int
    chip_min: float
    move: str
    reason: str


class ChipEvent(NamedTuple):
    """One dated row of the door's log: its time [minutes by the chip's clock], and the row's words as they stand."""

    row: int
    chip_min: float
    event: str
    door: str
    move: str
    reason: str
    alarms: tuple[str, ...]


@dataclass
class ChipRecord:
    """What the door's log says beside the light."""

    site: str | None = None
    chip_offset_min: int | None = None
    starts: int = 0
    dateless_rows: int = 0
    events: list[ChipEvent] = field(default_factory=list)
    moves: list[ChipMove] = field(default_factory=list)
    clock_sets: list[tuple[int, float]] = field(default_factory=list)
    alarms: dict[str, int] = field(default_factory=dict)


class ChipRows:
    """Reads the lines of a door's log in order; `record` fills up on the way."""

    def __init__(self, remarks: list[str]) -> None:
        self.record = ChipRecord()
        for line in remarks:
            self._remark(line)

    def block(self, lines: list[str], first_row: int) -> Block:
        """The light in these lines as a block: minutes by the chip's clock, counts, row numbers, damaged rows."""
        minutes: list[float] = []
        counts: list[float] = []
        rows: list[int] = []
        bad: list[tuple[int, str]] = []
        for row, line in enumerate(lines, first_row):
            text = line.strip()
            if not text or text == CHIP_HEADING:
                continue
            if text[0] == "#":
                self._remark(text)
                continue
            try:
                found = self._row(text, row)
            except ValueError as error:
                bad.append((row, str(error)))
                continue
            if found is not None:
                minutes.append(found[0])
                counts.append(found[1])
                rows.append(row)
        return Block(_floats(minutes), _floats(counts), np.array(rows, dtype=np.int64), False, tuple(bad))

    def _remark(self, line: str) -> None:
        words = line.lstrip("# ").strip().split(" ", 1)
        if len(words) != 2:
            return
        if words[0] == "site":
            self.record.site = words[1]
        elif words[0] == "chip_offset_min":
            self.record.chip_offset_min = inputs.whole(words[1], -1440, 1440)

    def _row(self, text: str, row: int) -> tuple[float, int] | None:
        cells = text.split(",")
        if len(cells) != COLUMNS:
            raise ValueError(f"{len(cells)} columns; wanted {COLUMNS}")
        date, time, event, number, door, move, reason, alarms = cells
        if event not in EVENTS:
            raise ValueError(f"event '{event}'; wanted one of {', '.join(EVENTS)}")
        # What the door kept in its memory has no light beside it.
        counts = inputs.whole(number, 0, CHIP_TOP_COUNT) if number else None
        if number and counts is None:
            raise ValueError(f"counts '{number[:40]}'; wanted 0 to {CHIP_TOP_COUNT}")
        self.record.starts += event == "start"
        if not date or not time:
            self.record.dateless_rows += 1
            return None
        chip_min = _chip_min(date, time)
        standing = tuple(filter(None, alarms.split("+")))
        self.record.events.append(ChipEvent(row, chip_min, event, door, move, reason, standing))
        if event == "move":
            self.record.moves.append(ChipMove(row, chip_min, move, reason))
        elif event == "clock":
            self.record.clock_sets.append((row, chip_min))
        elif event == "alarm":
            for word in standing:
                self.record.alarms[word] = self.record.alarms.get(word, 0) + 1
        return None if counts is None else (chip_min, counts)


def _floats(values: list[float]) -> NDArray[np.float64]:
    return np.array(values, dtype=np.float64)


def _chip_min(date: str, time: str) -> float:
    try:
        # strptime takes six times as long, and fromisoformat takes other forms than the door writes.
        if _CHIP_TIME.fullmatch(f"{date} {time}") is None:
            raise ValueError
        stamp = dt.datetime.fromisoformat(f"{date} {time}")
    except ValueError:
        raise ValueError(f"time '{date} {time}'; wanted such as 2027-03-01 17:58:41") from None
    if not 1970 <= stamp.year < 2100:
        raise ValueError(f"the year {stamp.year}; wanted 1970 to 2099")
    return day_number(stamp.date()) * 1440 + stamp.hour * 60 + stamp.minute + stamp.second / 60
