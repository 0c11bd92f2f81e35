"""What the page's script needs to read a day off the year's map: the plan's civil minutes, and words."""

from __future__ import annotations

import json
from functools import lru_cache
from importlib import resources

import numpy as np

from sunsched.base.civil_time import date_of
from sunsched.plan.reasons import Reason
from sunsched.plan.year import YearPlan
from sunsched.report.html import Markup, element
from sunsched.report.year_map import LEFT, RIGHT, TOP, YearMap
from sunsched.report.year_words import MONTHS, WEEKDAY_NAMES

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
    return resources.files("sunsched.report").joinpath("day_reader.js").read_text(encoding="utf-8")


def add_mark(year: YearMap) -> None:
    """The line and the two dots that the script moves; hidden until it does."""
    d = year.drawing
    with d.group(id="year-mark", visibility="hidden"):
        d.line(LEFT - 6, TOP, RIGHT + 6, TOP, stroke="ink", stroke_width=1.2)
        for side in ("close", "open"):
            d.add("circle", id=f"year-mark-{side}", cx=LEFT, cy=TOP, r=5, fill=side, stroke="halo", stroke_width=1.6)


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
            "top": TOP,
            "row": year.row_height,
        },
        "words": _WORDS,
    }
    text = json.dumps(values, separators=(",", ":")).replace("<", "\\u003c")
    return Markup(f'<script type="application/json" id="reader-data">{text}</script>')


def _minutes(plan: YearPlan, side: str) -> list[int | None]:
    civil = plan.civil_min(plan.open_min if side == "open" else plan.close_min)
    return [None if np.isnan(minute) else round(float(minute)) for minute in civil]
