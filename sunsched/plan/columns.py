"""A plan as plain columns for a data frame, a plot or another program, without the project's own encodings."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from sunsched.plan.reasons import WORDS
from sunsched.plan.year import NO_MINUTE, YearPlan

Columns = dict[str, NDArray[Any]]


def plan_columns(plan: YearPlan) -> Columns:
    """Every day of a plan as columns, each of shape (n,), one row for each date.

    date   datetime64[D]
    open_civil_min, close_civil_min   civil time [minutes after midnight of the date]; may pass 1439
    utc_offset_min   civil time minus UTC at solar noon [minutes]
    open_utc, close_utc   datetime64[s]
    open_min, close_min   the chip's clock [minutes after its midnight of the date]
    open_reason, close_reason   words; what decided the minute
    open_for_min   how long the door is up [minutes]
    On a day when the door stays down minutes are NaN and times NaT.
    """
    opens, closes = (_or_nan(minutes) for minutes in (plan.open_min, plan.close_min))
    words = np.array(WORDS)
    return {
        "date": plan.days.astype("datetime64[D]"),
        "open_civil_min": np.rint(plan.civil_min(plan.open_min)),
        "close_civil_min": np.rint(plan.civil_min(plan.close_min)),
        "utc_offset_min": plan.civil_offset_min.copy(),
        "open_utc": _instants(plan, plan.open_min),
        "close_utc": _instants(plan, plan.close_min),
        "open_min": opens,
        "close_min": closes,
        "open_reason": words[plan.open_reason],
        "close_reason": words[plan.close_reason],
        "open_for_min": closes - opens,
    }


def _or_nan(minutes: NDArray[np.int16]) -> NDArray[np.float64]:
    return np.where(minutes == NO_MINUTE, np.nan, minutes.astype(np.float64))


def _instants(plan: YearPlan, minutes: NDArray[np.int16]) -> NDArray[np.datetime64]:
    times = plan.utc_min(minutes)
    known = ~np.isnan(times)
    seconds = np.rint(np.where(known, times, 0.0) * 60).astype("datetime64[s]")
    return np.where(known, seconds, np.datetime64("NaT", "s"))
