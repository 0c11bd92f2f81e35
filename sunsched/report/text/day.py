"""One day's steps as plain text."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Any

from sunsched.base.civil_time import WEEKDAY_NAMES
from sunsched.report.text.answer import Block, told
from sunsched.report.text.answers import day_answer, month_answer
from sunsched.report.text.plain import columns, wrapped


def day_text(day: Mapping[str, Any]) -> str:
    """The answer, then the steps of both sides; `day` as `day --json` prints it."""
    offset_h = day["utc_offset_min"] / 60
    place = f"{day['zone']} (UTC{offset_h:+g} h, tzdata {day['tzdata']}), solar noon {day['solar_noon']['civil']}"
    sides = [_side(day, *side) for side in (("morning", "open", "opens"), ("evening", "close", "closes"))]
    return told(day_answer(day), [Block(wrapped(place, "")), *sides])


def _side(day: Mapping[str, Any], side: str, key: str, word: str) -> Block:
    result = day[key]
    rows = [(side, "civil time", "UTC", "")]
    for step in day["steps"]:
        if step["side"] == side:
            rows.append((step["step"], step["civil"] or "-", step["utc"] or "-", step["detail"]))
    if result["min"] is None:
        last = f"the door stays down: {result['reason']}"
    else:
        minute = f"chip minute {result['min']}"
        last = f"{word} {result['civil']} ({minute}), rounded up; reason: {result['reason']}"
    return Block(columns(rows, frozenset({1, 2})) + wrapped(last, ""))


def month_text(month: Mapping[str, Any]) -> str:
    """The answer, then a line for each day of a month; `month` as `day CONFIG MONTH --json` prints it."""
    rows = [("date", "", "opens", "closes", "opening by", "closing by")]
    for entry in month["days"]:
        opened, closed = entry["open"], entry["close"]
        weekday = WEEKDAY_NAMES[dt.date.fromisoformat(entry["date"]).weekday()]
        times = opened["civil"] or "-", closed["civil"] or "-"
        rows.append((entry["date"], weekday, *times, opened["reason"], closed["reason"]))
    place = f"{month['month']}, civil time of {month['zone']} (tzdata {month['tzdata']})"
    return told(month_answer(month), [Block(columns(rows, frozenset({2, 3}))), Block(wrapped(place, ""))])
