"""The plan as CSV, a row a day: for a spreadsheet, a neighbour, or another program."""

from __future__ import annotations

import csv
import io
import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sunsched.base.civil_time import WEEKDAYS, clock_text, weekday
from sunsched.emit.stamp import Stamp
from sunsched.plan.columns import plan_columns
from sunsched.plan.year import YearPlan

COLUMNS = (
    *("date", "weekday", "open_civil", "close_civil", "utc_offset_min", "open_utc", "close_utc"),
    *("open_min", "close_min", "open_reason", "close_reason", "open_for_min"),
    *("tzdata", "sunsched"),
)


def text(plan: YearPlan, stamp: Stamp) -> str:
    """The plan as CSV (RFC 4180). A time past midnight goes on counting, 24:20; a day shut has empty times."""
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
        [stamp.version] * plan.n_days,
    )
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow(COLUMNS)
    writer.writerows(zip(*columns, strict=True))
    return out.getvalue()


def _minutes(values: NDArray[Any]) -> list[int | str]:
    return ["" if math.isnan(value) else int(value) for value in values.tolist()]


def _civil(minutes: NDArray[Any]) -> list[str]:
    return ["" if math.isnan(minute) else clock_text(int(minute)) for minute in minutes.tolist()]


def _utc(instants: NDArray[Any]) -> list[str]:
    texts = np.datetime_as_string(instants, unit="s").tolist()
    return ["" if text == "NaT" else f"{text}Z" for text in texts]
