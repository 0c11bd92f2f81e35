"""The plan as CSV, a row a day: for a spreadsheet, a neighbour, or another program."""

from __future__ import annotations

import csv
import io

import numpy as np

from sunsched.base.civil_time import WEEKDAYS, clock_text, date_of, iso_utc, weekday
from sunsched.emit.stamp import Stamp
from sunsched.plan.reasons import WORDS
from sunsched.plan.year import NO_MINUTE, YearPlan

COLUMNS = (
    *("date", "weekday", "open_civil", "close_civil", "utc_offset_min", "open_utc", "close_utc"),
    *("open_min", "close_min", "open_reason", "close_reason", "open_for_min"),
    *("tzdata", "sunsched"),
)


def text(plan: YearPlan, stamp: Stamp) -> str:
    """The plan as CSV (RFC 4180). A time past midnight goes on counting, 24:20; a day shut has empty times."""
    civil = [np.nan_to_num(plan.civil_min(column), nan=0.0) for column in (plan.open_min, plan.close_min)]
    utc = [plan.utc_min(column) for column in (plan.open_min, plan.close_min)]
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow(COLUMNS)
    weekdays = weekday(plan.days)
    for row, day in enumerate(plan.days):
        opens, closes = int(plan.open_min[row]), int(plan.close_min[row])
        down = opens == NO_MINUTE
        times = ("", "") if down else [clock_text(round(side[row])) for side in civil]
        instants = ("", "") if down else [iso_utc(side[row]) for side in utc]
        minutes = ("", "") if down else (opens, closes)
        reasons = (WORDS[plan.open_reason[row]], WORDS[plan.close_reason[row]])
        head = (date_of(int(day)).isoformat(), WEEKDAYS[weekdays[row]], *times)
        tail = ("" if down else closes - opens, stamp.tzdata, stamp.version)
        writer.writerow((*head, int(plan.civil_offset_min[row]), *instants, *minutes, *reasons, *tail))
    return out.getvalue()
