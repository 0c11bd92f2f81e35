"""Every day of a plan as month tables in civil time, each behind one line of its own."""

from __future__ import annotations

import datetime as dt
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from sunsched.base.civil_time import MONTH_NAMES, MONTHS, WEEKDAY_NAMES, clock_text, date_of, weekday
from sunsched.plan.reasons import Reason
from sunsched.plan.year import NO_MINUTE, YearPlan
from sunsched.report.page.html import Markup, bullets, element, folded, joined


def month_tables(plan: YearPlan) -> Markup:
    """One table a month, and the short words that occur with their meaning."""
    seen = [r for r in Reason if ((plan.open_reason == r) | (plan.close_reason == r)).any()]
    legend = bullets((joined((element("b", r.record.short), f" {r.record.meaning}")) for r in seen), class_="legend")
    tables = [_month(plan, rows) for rows in _months(plan)]
    intro = element(
        "p",
        "Planned minutes, and what decided the opening / the closing. Beside a month: its earliest and latest opening, "
        "then its earliest and latest closing.",
    )
    button = element("button", "Open all months", id="months-open", type="button", hidden="")
    return joined((intro, button, element("div", *tables, class_="months"), legend))


def month_links(plan: YearPlan) -> Markup:
    """A link to each month's table."""
    dates = [date_of(plan.first_day + rows[0]) for rows in _months(plan)]
    links = (element("a", MONTHS[date.month - 1], href=f"#{_anchor(date)}") for date in dates)
    return element("nav", bullets(links), aria_label="Months", class_="months-nav")


def _months(plan: YearPlan) -> list[list[int]]:
    """The rows of each month."""
    dates = [date_of(int(day)) for day in plan.days]
    of_month = groupby(range(plan.n_days), lambda row: (dates[row].year, dates[row].month))
    return [list(rows) for _, rows in of_month]


def _anchor(date: dt.date) -> str:
    return f"month-{date:%Y-%m}"


def _month(plan: YearPlan, rows: list[int]) -> Markup:
    opens, closes = plan.civil_min(plan.open_min), plan.civil_min(plan.close_min)
    weekdays = weekday(plan.days)
    lines = []
    for row in rows:
        date, week = date_of(plan.first_day + row), int(weekdays[row])
        head = f'<th scope="row">{date.day} {WEEKDAY_NAMES[week]}</th>'
        if plan.open_min[row] == NO_MINUTE:
            why = Reason(plan.open_reason[row]).record.short
            cells = f'<td colspan="3" class="down">stays down ({why})</td>'
        else:
            times = (clock_text(round(float(side[row]))) for side in (opens, closes))
            decided = (Reason(side[row]).record.short for side in (plan.open_reason, plan.close_reason))
            why = " / ".join(dict.fromkeys(decided))
            cells = "".join(f"<td>{cell}</td>" for cell in (*times, why))
        lines.append(f"<tr{' class=sun' if week == 6 else ''}>{head}{cells}</tr>")
    date = date_of(plan.first_day + rows[0])
    caption = element("caption", f"Civil time, {_offsets(plan, rows)}")
    heads = (element("th", word, scope="col") for word in ("day", "opens", "closes", "why"))
    head = element("thead", element("tr", *heads))
    table = element("table", caption, head, element("tbody", Markup("".join(lines))))
    name = element("b", f"{MONTH_NAMES[date.month - 1]} {date.year}")
    return folded(joined((name, _between(opens[rows], closes[rows]))), table, class_="month", id=_anchor(date))


def _between(opens: NDArray[np.float64], closes: NDArray[np.float64]) -> Markup:
    """The month's earliest and latest minutes, once where they are the same, and its days without any, for its line."""
    down = int(np.isnan(opens).sum())
    if down == len(opens):
        return element("small", "stays down")
    ends = ([clock_text(round(float(end))) for end in (np.nanmin(side), np.nanmax(side))] for side in (opens, closes))
    words = ["–".join(dict.fromkeys(pair)) for pair in ends]
    if down:
        words.append(f"down on {down} {'day' if down == 1 else 'days'}")
    return element("small", ", ".join(words))


def _offsets(plan: YearPlan, rows: list[int]) -> str:
    """Civil time's offset from UTC, with the date from which another one holds."""
    offsets = plan.civil_offset_min[rows].astype(np.int64)
    words = [f"UTC{int(offsets[0]) / 60:+g} h"]
    for k in np.flatnonzero(np.diff(offsets)) + 1:
        day = date_of(plan.first_day + rows[int(k)]).day
        words.append(f"from {day} UTC{int(offsets[k]) / 60:+g} h")
    return ", ".join(words)
