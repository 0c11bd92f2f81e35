"""A recorded light log: read as a stream, kept as one value a minute by the log's own clock.

The only module of this floor that opens files. What is odd about the log (bad rows, gaps, steps of its clock,
saturation) is gathered with row numbers; nothing is put right in silence.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import BinaryIO, NamedTuple

import numpy as np
from numpy.typing import NDArray

from sunsched.base import inputs
from sunsched.base.errors import LogError
from sunsched.study.log_rows import Block, ChipRecord, ChipRows, RowLayout, is_chip_log, parse_block, row_layout

DAY_MIN = 1440
BLOCK_BYTES = 1 << 20
LONGEST_ROW = 10_000
LARGEST_BYTES = 40_000_000  # two and a half years of a row every minute, five months of one every ten seconds
BAD_SHARE = 0.01  # beyond this share of bad rows the file is taken for damaged: common practice
MOST_DOOR_ROWS = 80_000  # a row every quarter of an hour for two years and more
MOST_DATES = 1_200  # each takes milliseconds through all strategies: a longer log is read a part at a time
LISTED = 20  # bad rows, gaps and steps named one by one; the rest are counted
STEPS_BACK_LIMIT = 20  # a clock set once or twice a year steps back; a file that does so more is out of order
GAP_LEAST_MIN = 60.0
GAP_INTERVALS = 6.0
CHIP_GAP_MIN = 26 * 60.0  # the door's own log says nothing between its dawn and its dusk


class Gap(NamedTuple):
    """No row between two times [minutes by the log's clock]; `row` is the first after it."""

    row: int
    from_min: float
    to_min: float


class StepBack(NamedTuple):
    """The log's clock ran backwards at `row`, from one time [minutes] to an earlier one."""

    row: int
    from_min: float
    to_min: float


@dataclass
class LightLog:
    """One value a minute (mean of the rows in it, NaN without one) for each date of the log's clock that has rows.

    days      day number -> (1440,) values in the log's unit
    zoned     the rows carry their offset from UTC: the minutes are UTC
    unit      "lux" or "counts" where the heading says so
    interval_min  usual time between rows [minutes]
    past_minute   how far into their minute the rows fall on average, 0..1
    """

    name: str
    days: dict[int, NDArray[np.float32]] = field(default_factory=dict)
    zoned: bool = False
    unit: str | None = None
    layout: RowLayout | None = None
    chip: ChipRecord | None = None
    rows: int = 0
    bad_rows: int = 0
    bad: list[tuple[int, str]] = field(default_factory=list)
    gaps: list[Gap] = field(default_factory=list)
    steps_back: list[StepBack] = field(default_factory=list)
    interval_min: float = 1.0
    past_minute: float = 0.0
    least: float = float("inf")
    greatest: float = float("-inf")
    greatest_row: int = 0
    at_greatest: int = 0
    whole: bool = True

    @property
    def saturated_share(self) -> float:
        """Share of the rows that stand at the greatest value of the log."""
        return self.at_greatest / self.rows if self.rows else 0.0

    def span(self, first_min: int, n: int) -> NDArray[np.float64]:
        """The values of `n` minutes from `first_min` [whole minutes by the log's clock], NaN where there is none."""
        found = np.full(n, np.nan)
        for day in range(first_min // DAY_MIN, (first_min + n - 1) // DAY_MIN + 1):
            values = self.days.get(day)
            if values is not None:
                start = day * DAY_MIN - first_min
                low, high = max(start, 0), min(start + DAY_MIN, n)
                found[low:high] = values[low - start : high - start]
        return found


def line_blocks(stream: BinaryIO, name: str) -> Iterator[tuple[int, list[str]]]:
    """Lines of a text stream in blocks of about a megabyte, each with the row number of its first line.

    Raises LogError for UTF-16, for bytes that no text holds and for a row of more than `LONGEST_ROW` bytes.
    """
    carry, row = b"", 1
    taken = 0
    for number, data in enumerate(iter(lambda: stream.read(BLOCK_BYTES), b"")):
        taken += len(data)
        if taken > LARGEST_BYTES:
            raise LogError(f"{name}: more than {LARGEST_BYTES} bytes; wanted a light log, a part of it at a time")
        if number == 0 and data[:2] in (b"\xff\xfe", b"\xfe\xff"):
            raise LogError(f"{name}: row 1: text in UTF-16; save the log as UTF-8 or ASCII")
        data = carry + (data.removeprefix(b"\xef\xbb\xbf") if number == 0 else data)
        body, newline, carry = data.rpartition(b"\n")
        if b"\0" in data:
            row += data[: data.index(b"\0")].count(b"\n")
            raise LogError(f"{name}: row {row}: a zero byte; not a text file, or a damaged one")
        if len(carry) > LONGEST_ROW:
            raise LogError(f"{name}: row {row + data.count(newline or bytes(1))}: longer than {LONGEST_ROW} bytes")
        if newline:
            lines = body.decode("utf-8", "replace").split("\n")
            yield row, lines
            row += len(lines)
    if carry:
        yield row, [carry.decode("utf-8", "replace")]


def _plain_rows(lines: list[str], first_row: int) -> tuple[list[str], NDArray[np.int64]]:
    """Lines that are neither empty nor remarks, with their row numbers."""
    kept = [number for number, line in enumerate(lines) if line and line[0] != "#" and not line.isspace()]
    return [lines[number] for number in kept], np.array(kept, dtype=np.int64) + first_row


class _Gathering:
    """Takes blocks in the order of the file and keeps the log's minutes, gaps and steps back."""

    def __init__(self, log: LightLog, gap_least_min: float) -> None:
        self._log = log
        self._gap_min = gap_least_min
        self._last_min: float | None = None
        self._sums: dict[int, NDArray[np.float64]] = {}
        self._numbers: dict[int, NDArray[np.int64]] = {}

    def take(self, block: Block) -> None:
        """Add the rows of a block."""
        log = self._log
        log.bad += block.bad[: max(LISTED - len(log.bad), 0)]
        log.bad_rows += len(block.bad)
        log.rows += len(block.row) + len(block.bad)
        if not len(block.row):
            return
        self._steps(block)
        self._extremes(block)
        minute = np.floor(block.log_min).astype(np.int64)
        known = log.rows - log.bad_rows
        log.past_minute += float((block.log_min - minute - log.past_minute).sum()) / known
        for day in np.unique(minute // DAY_MIN).tolist():
            inside = minute // DAY_MIN == day
            index = minute[inside] % DAY_MIN
            if day not in self._sums:
                if len(log.days) + len(self._sums) >= MOST_DATES:
                    raise LogError(f"{log.name}: more than {MOST_DATES} dates; wanted a part of the log at a time")
                self._settle({day - 1, day, day + 1})
                self._reopen(day)
            self._sums[day] += np.bincount(index, block.value[inside], DAY_MIN)
            self._numbers[day] += np.bincount(index, minlength=DAY_MIN)

    def finish(self) -> None:
        """Settle the days still open."""
        self._settle(set())

    def _reopen(self, day: int) -> None:
        kept = self._log.days.get(day)
        known = np.zeros(DAY_MIN, np.bool_) if kept is None else ~np.isnan(kept)
        self._sums[day] = np.zeros(DAY_MIN) if kept is None else np.where(known, kept, 0.0).astype(np.float64)
        self._numbers[day] = known.astype(np.int64)

    def _settle(self, stay_open: set[int]) -> None:
        for day in [day for day in self._sums if day not in stay_open]:
            numbers = self._numbers.pop(day)
            mean = np.full(DAY_MIN, np.nan)
            np.divide(self._sums.pop(day), numbers, out=mean, where=numbers > 0)
            self._log.days[day] = mean.astype(np.float32)

    def _extremes(self, block: Block) -> None:
        log, value = self._log, block.value
        top = float(value.max())
        if top > log.greatest:
            log.greatest, log.at_greatest = top, 0
            log.greatest_row = int(block.row[value.argmax()])
        log.at_greatest += int((value == log.greatest).sum())
        log.least = min(log.least, float(value.min()))
        log.whole = log.whole and bool((value == np.floor(value)).all())

    def _steps(self, block: Block) -> None:
        log = self._log
        before = block.log_min[0] if self._last_min is None else self._last_min
        times = np.concatenate([[before], block.log_min])
        step = np.diff(times)
        if self._last_min is None and len(step) > 1:
            forward = step[1:][step[1:] > 0]
            log.interval_min = float(np.median(forward)) if len(forward) else 1.0
        gap_min = max(self._gap_min, GAP_INTERVALS * log.interval_min)
        for number in np.flatnonzero((step < 0) | (step > gap_min)).tolist():
            place = (int(block.row[number]), float(times[number]), float(times[number + 1]))
            if step[number] < 0:
                log.steps_back.append(StepBack(*place))
            else:
                log.gaps.append(Gap(*place))
            if len(log.steps_back) > STEPS_BACK_LIMIT:
                raise LogError(
                    f"{log.name}: row {log.steps_back[0].row}: times run backwards here and {STEPS_BACK_LIMIT} times "
                    "more; wanted rows in the order of time, oldest first"
                )
        self._last_min = float(block.log_min[-1])


def _refuse_if_damaged(log: LightLog) -> None:
    events = log.chip.events if log.chip is not None else []
    if not log.rows - log.bad_rows and not events:
        where = f"row {log.bad[0][0]}: {log.bad[0][1]}" if log.bad else "no row of data"
        raise LogError(f"{log.name}: {where}")
    if log.bad_rows > max(1, BAD_SHARE * max(log.rows, len(events))):
        row, reason = log.bad[0]
        raise LogError(f"{log.name}: row {row}: {reason}; {log.bad_rows} of {log.rows} rows cannot be read")


def read(path: Path, column: str | None = None) -> LightLog:
    """Read a light log, or the door's own log, from `path` ("-": stdin), a megabyte at a time.

    column  heading of the column of light, where several could be meant
    Memory grows with the number of dates in the log (6 kB each), not with its rows. Raises MissingFileError, and
    LogError naming the row where the file is no such log or more than one row in a hundred cannot be read.
    """
    log = LightLog("standard input" if str(path) == "-" else str(path))
    stream = inputs.opened(path, "a light log", LARGEST_BYTES, LogError)
    try:
        _fill(log, stream, column)
    finally:
        if str(path) != "-":
            stream.close()
    _refuse_if_damaged(log)
    return log


def _fill(log: LightLog, stream: BinaryIO, column: str | None) -> None:
    gathering: _Gathering | None = None
    chip: ChipRows | None = None
    for first_row, lines in line_blocks(stream, log.name):
        if gathering is None:
            plain, rows = _plain_rows(lines, first_row)
            if not plain:
                continue
            if is_chip_log(plain[:LISTED]):
                chip = ChipRows(lines[: int(rows[0])])
                log.chip, log.unit = chip.record, "counts"
            else:
                log.layout = _with_name(log.name, plain[:LISTED], int(rows[0]), column)
                log.unit = log.layout.unit
            gathering = _Gathering(log, CHIP_GAP_MIN if chip else GAP_LEAST_MIN)
        if chip is not None:
            if first_row + len(lines) > MOST_DOOR_ROWS:
                raise LogError(f"{log.name}: more than {MOST_DOOR_ROWS} rows of the door; wanted a part at a time")
            gathering.take(chip.block(lines, first_row))
        elif log.layout is not None:
            _take_plain(log, gathering, lines, first_row)
    if gathering is not None:
        gathering.finish()
    for event in log.chip.events if log.chip is not None else []:
        # A date on which the door says what it did, and nothing of the light.
        log.days.setdefault(int(event.chip_min // DAY_MIN), np.full(DAY_MIN, np.nan, np.float32))


def _with_name(name: str, lines: list[str], row: int, column: str | None) -> RowLayout:
    try:
        return row_layout(lines, row, column)
    except LogError as error:
        raise LogError(f"{name}: {error}") from error


def _take_plain(log: LightLog, gathering: _Gathering, lines: list[str], first_row: int) -> None:
    plain, rows = _plain_rows(lines, first_row)
    if log.rows == 0 and log.layout is not None:
        plain, rows = plain[log.layout.heading_rows :], rows[log.layout.heading_rows :]
    if not plain or log.layout is None:
        return
    try:
        block = parse_block(plain, rows, log.layout)
    except LogError as error:
        raise LogError(f"{log.name}: {error}") from error
    if len(block.row):
        if log.rows > log.bad_rows and block.zoned != log.zoned:
            raise LogError(f"{log.name}: row {block.row[0]}: some times with an offset from UTC and some without")
        log.zoned = block.zoned
    gathering.take(block)
