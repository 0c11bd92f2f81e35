"""Every day of a plan as month tables in civil time, and as data for the page's script.

A letter beside each time names what decided it; the script reads a day off the year's map.
"""

from __future__ import annotations

import json
from functools import lru_cache
from itertools import groupby

import numpy as np

from sunsched.base.civil_time import MONTHS, WEEKDAY_NAMES, clock_text, date_of, weekday
from sunsched.base.package_data import package_bytes
from sunsched.plan.reasons import Reason
from sunsched.plan.year import NO_MINUTE, YearPlan
from sunsched.report.page.html import Markup, bullets, element, joined
from sunsched.report.pictures.year_map import LEFT, RIGHT, YearMap


def month_tables(plan: YearPlan) -> Markup:
    """One table a month, and the letters that occur with their meaning."""
    seen = [r for r in Reason if ((plan.open_reason == r) | (plan.close_reason == r)).any()]
    legend = bullets((joined((element("b", r.record.letter), f" {r.record.meaning}")) for r in seen), class_="legend")
    tables = [
        _month(plan, list(rows)) for _, rows in groupby(range(plan.n_days), lambda r: _year_month(plan.first_day + r))
    ]
    intro = element("p", "Civil time. The letters say what decided the opening, then the closing:")
    return joined((intro, legend, element("div", *tables, class_="months")))


def _year_month(day: int) -> tuple[int, int]:
    date = date_of(day)
    return date.year, date.month


def _month(plan: YearPlan, rows: list[int]) -> Markup:
    opens, closes = plan.civil_min(plan.open_min), plan.civil_min(plan.close_min)
    weekdays = weekday(plan.days)
    lines = []
    for row in rows:
        date, week = date_of(plan.first_day + row), int(weekdays[row])
        head = f'<th scope="row">{date.day} {WEEKDAY_NAMES[week]}</th>'
        if plan.open_min[row] == NO_MINUTE:
            why = Reason(plan.open_reason[row]).word.replace("_", " ")
            cells = f'<td colspan="3" class="down">stays down ({why})</td>'
        else:
            times = (clock_text(round(float(side[row]))) for side in (opens, closes))
            decided = (Reason(side[row]) for side in (plan.open_reason, plan.close_reason))
            why = "".join(reason.record.letter for reason in decided)
            cells = "".join(f"<td>{cell}</td>" for cell in (*times, why))
        lines.append(f"<tr{' class=sun' if week == 6 else ''}>{head}{cells}</tr>")
    date = date_of(plan.first_day + rows[0])
    caption = element("caption", f"{MONTHS[date.month - 1]} {date.year}, {_offsets(plan, rows)}")
    heads = (element("th", word, scope="col") for word in ("day", "opens", "closes", "why"))
    head = element("thead", element("tr", *heads))
    return element("table", caption, head, element("tbody", Markup("".join(lines))))


def _offsets(plan: YearPlan, rows: list[int]) -> str:
    """Civil time's offset from UTC, with the date from which another one holds."""
    offsets = plan.civil_offset_min[rows].astype(np.int64)
    words = [f"UTC{int(offsets[0]) / 60:+g} h"]
    for k in np.flatnonzero(np.diff(offsets)) + 1:
        day = date_of(plan.first_day + rows[int(k)]).day
        words.append(f"from {day} UTC{int(offsets[k]) / 60:+g} h")
    return ", ".join(words)


_WORDS = {
    "opens": "opens",
    "closes": "closes",
    "next": "next opening",
    "down": "the door stays down",
    "weekdays": WEEKDAY_NAMES,
    "months": MONTHS,
    "reasons": [reason.word.replace("_", " ") for reason in Reason],
}


@lru_cache(maxsize=1)
def script() -> str:
    """The script's text."""
    return package_bytes("sunsched.report.page", "day_reader.js").decode("utf-8")


def add_mark(year: YearMap) -> None:
    """The line and the two dots that the script moves; hidden until it does."""
    d = year.drawing
    with d.group(id="year-mark", visibility="hidden"):
        d.line(LEFT - 6, year.top, RIGHT + 6, year.top, stroke="ink", stroke_width=1.2)
        for side in ("close", "open"):
            d.add(
                "circle", id=f"year-mark-{side}", cx=LEFT, cy=year.top, r=5, fill=side, stroke="halo", stroke_width=1.6
            )


def panel() -> Markup:
    """The slider and the line of text; hidden until the script is there."""
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
    plan = year.plan
    first = date_of(plan.first_day)
    values = {
        "first": [first.year, first.month, first.day],
        "open": _minutes(plan, "open"),
        "close": _minutes(plan, "close"),
        "openWhy": plan.open_reason.tolist(),
        "closeWhy": plan.close_reason.tolist(),
        "map": {
            "from": year.nights.from_min,
            "until": year.nights.until_min,
            "left": LEFT,
            "right": RIGHT,
            "top": year.top,
            "row": year.row_height,
        },
        "words": _WORDS,
    }
    text = json.dumps(values, separators=(",", ":")).replace("<", "\\u003c")
    return Markup(f'<script type="application/json" id="reader-data">{text}</script>')


def _minutes(plan: YearPlan, side: str) -> list[int | None]:
    civil = plan.civil_min(plan.open_min if side == "open" else plan.close_min)
    return [None if np.isnan(minute) else round(float(minute)) for minute in civil]
