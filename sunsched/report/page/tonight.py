"""The card at the top of the page: tonight's window, when to look, and when the door opens again.

The page's script fills it from the plan's days and from the date on the browser's clock, in the site's own zone: the
file's bytes are the same whenever it is opened. The same script reads a day off the year's map. Without it the card is
not shown, and the month tables hold every day.
"""

from __future__ import annotations

import json
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sunsched.base.civil_time import MONTHS, WEEKDAY_NAMES, date_of
from sunsched.base.package_data import package_bytes
from sunsched.controller.door_window import TRIES_MIN
from sunsched.plan.reasons import Reason
from sunsched.plan.year import YearPlan
from sunsched.report.page.html import Markup, element
from sunsched.report.pictures.year_map import LEFT, RIGHT, YearMap
from sunsched.report.sheets.days import day_notes, door_days
from sunsched.report.sheets.words import ENGLISH


@lru_cache(maxsize=1)
def script() -> str:
    """The script's text."""
    return package_bytes("sunsched.report.page", "tonight.js").decode("utf-8")


def card(plan: YearPlan) -> Markup:
    """The card, hidden until the script has filled it."""
    first, last = date_of(plan.first_day), date_of(plan.first_day + plan.n_days - 1)
    day_before = element("button", "Day before", id="day-before", type="button")
    date = Markup(f'<input type="date" id="day-date" min="{first}" max="{last}" required>')
    day_after = element("button", "Day after", id="day-after", type="button")
    today = element("button", "Today", id="day-today", type="button")
    return element(
        "section",
        element("h2", "Tonight", id="tonight-h"),
        element("p", id="tonight-now", class_="now"),
        element("div", id="tonight-text", role="status"),
        element("p", element("label", "Date", for_="day-date"), date, day_before, day_after, today, class_="pick"),
        id="tonight",
        class_="card",
        aria_labelledby="tonight-h",
        hidden="",
    )


def panel() -> Markup:
    """The slider beside the map and its line of text; hidden until the script is there."""
    return element(
        "div",
        element("label", "Any day: slide, use the arrow keys, or point at the map", for_="reader-day"),
        Markup('<input type="range" id="reader-day" min="0" max="364" value="0">'),
        element("output", "", id="reader-text", for_="reader-day"),
        id="reader",
        class_="reader",
        hidden="",
    )


def data(year: YearMap) -> Markup:
    """The plan's days for the script, as JSON that no text can break out of."""
    text = json.dumps(values(year), separators=(",", ":")).replace("<", "\\u003c")
    return Markup(f'<script type="application/json" id="reader-data">{text}</script>')


def values(year: YearMap) -> dict[str, Any]:
    """The plan's days as plain values, and where the map draws them."""
    plan = year.plan
    first, days = date_of(plan.first_day), door_days(plan, year.rules)
    columns = {f"open{name}": column for name, column in zip(_ENDS, days.opens, strict=True)}
    columns |= {f"close{name}": column for name, column in zip(_ENDS, days.closes, strict=True)}
    return {
        "first": [first.year, first.month, first.day],
        "zone": plan.site.zone,
        "tries": TRIES_MIN,
        **{name: _whole(column) for name, column in columns.items()},
        "look": _whole(days.look_min),
        "openWhy": plan.open_reason.tolist(),
        "closeWhy": plan.close_reason.tolist(),
        "notes": {row: "; ".join(notes) for row, notes in day_notes(plan, year.rules, ENGLISH).items()},
        "map": {
            "from": year.nights.from_min,
            "until": year.nights.until_min,
            "left": LEFT,
            "right": RIGHT,
            "top": year.top,
            "row": year.row_height,
        },
        "weekdays": WEEKDAY_NAMES,
        "months": MONTHS,
        "reasons": [reason.record.said for reason in Reason],
    }


_ENDS = ("First", "", "Last")


def _whole(column: NDArray[np.float64]) -> list[int | None]:
    return [None if np.isnan(minute) else int(minute) for minute in column]
