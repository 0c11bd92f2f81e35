"""One day with every step that led to its two minutes, or the days of a month with what decided them."""

from __future__ import annotations

import calendar
import datetime as dt
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sunsched.base.civil_time import DAY_MIN, clock_text, date_of, day_number, iso_utc, year_days, zone_of
from sunsched.config.configuration import Configuration
from sunsched.job import pipeline
from sunsched.plan.reasons import WORDS
from sunsched.plan.year import NO_MINUTE, YearPlan


def day_steps(configuration: Configuration, date: dt.date, name: str = "") -> dict[str, Any]:
    """The steps and the result of one day as plain data; the same code as the year's table."""
    return planned_day(configuration, date, name)[1]


def planned_day(configuration: Configuration, date: dt.date, name: str = "") -> tuple[YearPlan, dict[str, Any]]:
    """The plan of the date's year, and what `day_steps` says of the date."""
    c = configuration
    first_day, n_days = year_days(date.year)
    row = day_number(date) - first_day
    found: list[tuple[str, str, str, float]] = []

    def note(side: str, step: str, rows: NDArray[np.bool_], times: NDArray[np.float64], detail: str) -> None:
        if rows[row]:
            found.append((side, step, detail, float(times[row])))

    plan = pipeline.span_of(c, first_day, n_days, name, note)
    steps = [
        {"side": side, "step": step, "detail": detail, **_moment(plan, row, at)} for side, step, detail, at in found
    ]
    return plan, {
        "date": date.isoformat(),
        "site": c.site.name,
        "zone": c.site.zone,
        "tzdata": plan.tzdata,
        "utc_offset_min": int(plan.civil_offset_min[row]),
        "solar_noon": _moment(plan, row, float(plan.utc_min(plan.noon_min)[row])),
        "steps": steps,
        "open": _result(plan, row, plan.open_min, plan.open_reason),
        "close": _result(plan, row, plan.close_min, plan.close_reason),
    }


def month_days(configuration: Configuration, year: int, month: int, name: str = "") -> dict[str, Any]:
    """The days of a month with opening and closing as plain data, cut from the year's plan."""
    plan = pipeline.plan_of(configuration, year, name)
    first = plan.row(dt.date(year, month, 1))
    rows = range(first, first + calendar.monthrange(year, month)[1])
    days = [
        {
            "date": date_of(plan.first_day + row).isoformat(),
            "open": _result(plan, row, plan.open_min, plan.open_reason),
            "close": _result(plan, row, plan.close_min, plan.close_reason),
        }
        for row in rows
    ]
    site = configuration.site
    return {"month": f"{year}-{month:02d}", "site": site.name, "zone": site.zone, "tzdata": plan.tzdata, "days": days}


def civil_date(configuration: Configuration, moment: dt.datetime) -> dt.date:
    """The date on the site's civil clocks at an aware moment."""
    utc_min = moment.timestamp() / 60
    offset_min = int(zone_of(configuration.site.zone).utc_offset_min(np.array([utc_min]))[0])
    return date_of(int((utc_min + offset_min) // DAY_MIN))


def _moment(plan: YearPlan, row: int, utc_min: float) -> dict[str, Any]:
    if np.isnan(utc_min):
        return {"utc": None, "civil": None}
    day = plan.first_day + row
    civil = utc_min + int(zone_of(plan.site.zone).utc_offset_min(np.array([utc_min]))[0])
    return {"utc": iso_utc(utc_min), "civil": _civil_text(civil - day * DAY_MIN)}


def _civil_text(minutes: float) -> str:
    """Civil time with seconds; past midnight it goes on counting, 24:20:05."""
    seconds = round(minutes * 60)
    return f"{clock_text(seconds // 60)}:{seconds % 60:02d}"


def _result(plan: YearPlan, row: int, column: NDArray[np.int16], reasons: NDArray[np.uint8]) -> dict[str, Any]:
    minute = int(column[row])
    if minute == NO_MINUTE:
        return {"min": None, "civil": None, "utc": None, "reason": WORDS[reasons[row]]}
    return {
        "min": minute,
        "civil": clock_text(round(float(plan.civil_min(column)[row]))),
        "utc": iso_utc(float(plan.utc_min(column)[row])),
        "reason": WORDS[reasons[row]],
    }
