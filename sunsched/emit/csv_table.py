"""The plan as CSV, a row a day: for a spreadsheet, a neighbour, or another program."""

from __future__ import annotations

import csv
import datetime as dt
import io
import math
from collections import Counter
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sunsched.base import inputs
from sunsched.base.civil_time import WEEKDAYS, clock_text, weekday
from sunsched.base.errors import DamagedError
from sunsched.base.text_digest import EMPTY, with_digest, without_digest
from sunsched.emit.read_table import ReadTable, refuse_beyond_16_bits, refuse_other_dates, text_of
from sunsched.emit.stamp import Stamp
from sunsched.plan.columns import plan_columns
from sunsched.plan.reasons import WORDS
from sunsched.plan.year import NO_MINUTE, YearPlan

COLUMNS = (
    *("date", "weekday", "open_civil", "close_civil", "utc_offset_min", "open_utc", "close_utc"),
    *("open_min", "close_min", "open_reason", "close_reason", "open_for_min"),
    *("tzdata", "sunsched"),
)


def text(plan: YearPlan, stamp: Stamp) -> str:
    """The plan as CSV (RFC 4180). A time past midnight goes on counting, 24:20; a day shut has empty times.

    The last row's version is followed by the digest of the whole text: RFC 4180 has no remarks.
    """
    # All columns at once: asking each day by itself took most of the time of a year's CSV.
    day = plan_columns(plan)
    columns = (
        np.datetime_as_string(day["date"]).tolist(),
        [WEEKDAYS[number] for number in weekday(plan.days).tolist()],
        _civil(day["open_civil_min"]),
        _civil(day["close_civil_min"]),
        day["utc_offset_min"].tolist(),
        _utc(day["open_utc"]),
        _utc(day["close_utc"]),
        _minutes(day["open_min"]),
        _minutes(day["close_min"]),
        day["open_reason"].tolist(),
        day["close_reason"].tolist(),
        _minutes(day["open_for_min"]),
        [stamp.tzdata] * plan.n_days,
        [*[stamp.version] * (plan.n_days - 1), f"{stamp.version} {EMPTY}"],
    )
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow(COLUMNS)
    writer.writerows(zip(*columns, strict=True))
    return with_digest(out.getvalue())


def _minutes(values: NDArray[Any]) -> list[int | str]:
    return ["" if math.isnan(value) else int(value) for value in values.tolist()]


def _civil(minutes: NDArray[Any]) -> list[str]:
    return ["" if math.isnan(minute) else clock_text(int(minute)) for minute in minutes.tolist()]


def _utc(instants: NDArray[Any]) -> list[str]:
    texts = np.datetime_as_string(instants, unit="s").tolist()
    return ["" if text == "NaT" else f"{text}Z" for text in texts]


def read(raw: bytes) -> ReadTable:
    """The rows of a CSV table. Each minute stands in it three times over: all must agree."""
    try:
        rows = list(inputs.csv_rows(io.StringIO(without_digest(text_of(raw)), newline="")))
    except ValueError as error:
        raise DamagedError(f"not a whole CSV table: {error}") from None
    if not rows or tuple(rows[0]) != COLUMNS or any(len(row) != len(COLUMNS) for row in rows):
        raise DamagedError("not a whole CSV table: other columns than ours")
    try:
        days = [dict(zip(COLUMNS, row, strict=True)) for row in rows[1:]]
        year = dt.date.fromisoformat(days[0]["date"]).year
        refuse_other_dates(year, [day["date"] for day in days])
        offsets = [_agreed(day) for day in days]
        minutes = np.array([[int(day[name] or NO_MINUTE) for day in days] for name in ("open_min", "close_min")])
        refuse_beyond_16_bits(minutes)
    except (ValueError, KeyError, IndexError, OverflowError) as error:
        raise DamagedError(f"not a whole CSV table: {error}") from None
    # A clock has one offset, or two with summer time. An offset that one row alone shows is a damaged row.
    for what in zip(*offsets, strict=True):
        seen = Counter(value for values in what for value in values)
        lonely = [value for value, times in seen.items() if times < 4]
        if lonely:
            raise DamagedError(f"a row whose times disagree: {lonely[0]}")
    return ReadTable({year: minutes.astype(np.int32)})


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
        local_min = (int(hours) * 60 + int(past)) * (-1 if day[f"{side}_civil"].startswith("-") else 1)
        chip.append(int(day[f"{side}_min"]) - minute)
        civil.append(local_min - minute)
    return (tuple(chip * 2), tuple(civil * 2), (int(day["utc_offset_min"]),) * 2, *constant)
