"""The plan as CSV, a row a day: for a spreadsheet, a neighbour, or another program."""

from __future__ import annotations

import csv
import io
import math

import numpy as np
from numpy.typing import NDArray

from sunsched.base.civil_time import WEEKDAYS, clock_text, weekday
from sunsched.base.text_digest import EMPTY, with_digest
from sunsched.emit.stamp import Stamp
from sunsched.plan.reasons import WORDS
from sunsched.plan.year import NO_MINUTE, YearPlan

COLUMNS = (
    *("date", "weekday", "open_civil", "close_civil", "utc_offset_min", "open_utc", "close_utc"),
    *("open_min", "close_min", "open_reason", "close_reason", "open_for_min"),
    *("tzdata", "sunsched"),
)


def text(plan: YearPlan, stamp: Stamp) -> str:
    """The plan as CSV (RFC 4180). A time past midnight goes on counting, 24:20; a day shut has empty times.

    The last row's version is followed by the digest of the whole text: RFC 4180 knows no remarks.
    """
    down = (plan.open_min == NO_MINUTE).tolist()
    open_for = plan.close_min.astype(np.int64) - plan.open_min
    # All columns at once: asking each day by itself took most of the time of a year's CSV.
    columns = (
        np.datetime_as_string(plan.days.astype("datetime64[D]")).tolist(),
        [WEEKDAYS[day] for day in weekday(plan.days).tolist()],
        _civil(plan, plan.open_min),
        _civil(plan, plan.close_min),
        plan.civil_offset_min.tolist(),
        _utc(plan, plan.open_min),
        _utc(plan, plan.close_min),
        _or_empty(plan.open_min.tolist(), down),
        _or_empty(plan.close_min.tolist(), down),
        [WORDS[reason] for reason in plan.open_reason.tolist()],
        [WORDS[reason] for reason in plan.close_reason.tolist()],
        _or_empty(open_for.tolist(), down),
        [stamp.tzdata] * plan.n_days,
        [*[stamp.version] * (plan.n_days - 1), f"{stamp.version} {EMPTY}"],
    )
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow(COLUMNS)
    writer.writerows(zip(*columns, strict=True))
    return with_digest(out.getvalue())


def _or_empty(values: list[int], down: list[bool]) -> list[int | str]:
    return ["" if shut else value for value, shut in zip(values, down, strict=True)]


def _civil(plan: YearPlan, minutes: NDArray[np.int16]) -> list[str]:
    return ["" if math.isnan(minute) else clock_text(round(minute)) for minute in plan.civil_min(minutes).tolist()]


def _utc(plan: YearPlan, minutes: NDArray[np.int16]) -> list[str]:
    times = plan.utc_min(minutes)
    known = ~np.isnan(times)
    seconds = np.rint(np.where(known, times, 0.0) * 60).astype("datetime64[s]")
    texts = np.datetime_as_string(seconds, unit="s").tolist()
    return [f"{text}Z" if there else "" for text, there in zip(texts, known.tolist(), strict=True)]
