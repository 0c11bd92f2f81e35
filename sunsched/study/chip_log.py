"""The door's own log, as its program writes it over the serial line (sunsched/controller/LOG.md)."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sunsched.base.civil_time import day_number
from sunsched.study.log_rows import Block

CHIP_HEADING = "date,time,event,counts,door,move,reason,alarms"
COLUMNS = CHIP_HEADING.count(",") + 1
EVENTS = ("start", "quarter", "move", "ended", "alarm", "clock", "table")
CHIP_TOP_COUNT = 1023


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


@dataclass
class ChipRecord:
    """What the door's log says beside the light."""

    site: str | None = None
    chip_offset_min: int | None = None
    starts: int = 0
    dateless_rows: int = 0
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
            offset = int(words[1]) if words[1].lstrip("-").isdigit() else None
            self.record.chip_offset_min = offset

    def _row(self, text: str, row: int) -> tuple[float, int] | None:
        cells = text.split(",")
        if len(cells) != COLUMNS:
            raise ValueError(f"{len(cells)} columns; wanted {COLUMNS}")
        date, time, event, number, _door, move, reason, alarms = cells
        if event not in EVENTS:
            raise ValueError(f"event '{event}'; wanted one of {', '.join(EVENTS)}")
        if not number.isdigit() or int(number) > CHIP_TOP_COUNT:
            raise ValueError(f"counts '{number}'; wanted 0 to {CHIP_TOP_COUNT}")
        self.record.starts += event == "start"
        if not date or not time:
            self.record.dateless_rows += 1
            return None
        chip_min = _chip_min(date, time)
        if event == "move":
            self.record.moves.append(ChipMove(row, chip_min, move, reason))
        elif event == "clock":
            self.record.clock_sets.append((row, chip_min))
        elif event == "alarm":
            for word in filter(None, alarms.split("+")):
                self.record.alarms[word] = self.record.alarms.get(word, 0) + 1
        return chip_min, int(number)


def _floats(values: list[float]) -> NDArray[np.float64]:
    return np.array(values, dtype=np.float64)


def _chip_min(date: str, time: str) -> float:
    try:
        stamp = dt.datetime.strptime(f"{date} {time}", "%Y-%m-%d %H:%M:%S")
    except ValueError:
        raise ValueError(f"time '{date} {time}'; wanted such as 2027-03-01 17:58:41") from None
    return day_number(stamp.date()) * 1440 + stamp.hour * 60 + stamp.minute + stamp.second / 60
