"""`day`: every step that led to one day's two minutes."""

from __future__ import annotations

import datetime as dt
import re
from typing import Annotated, Any

import typer

from sunsched.cli import console
from sunsched.cli.options import AsJson, ConfigPath, parsed_date

_WANTED = "a date such as 2027-03-28, today, tomorrow, or a month such as 2027-06"
_FROM_TODAY = {"today": 0, "tomorrow": 1, "yesterday": -1}


def day(
    config: ConfigPath,
    date: Annotated[
        str,
        typer.Argument(
            metavar="[DATE]", help="A date such as 2027-03-28, today, tomorrow, or a month such as 2027-06."
        ),
    ] = "today",
    as_json: AsJson = False,
) -> None:
    """Show a day's moments and every step that led to its opening and closing; of a month, its days."""
    from sunsched.cli.configuration import configuration_in
    from sunsched.job.one_day import civil_date, day_steps, month_days

    configuration = configuration_in(config)
    month = re.fullmatch(r"(\d{4})-(0[1-9]|1[0-2])", date)
    if month is not None:
        first = parsed_date(f"{date}-01", _WANTED)
        result = month_days(configuration, first.year, first.month, config)
    elif date in _FROM_TODAY:
        today = civil_date(configuration, dt.datetime.now(dt.UTC))
        result = day_steps(configuration, today + dt.timedelta(days=_FROM_TODAY[date]), config)
    else:
        result = day_steps(configuration, parsed_date(date, _WANTED), config)
    if as_json:
        console.data_json(result)
    else:
        console.data(_text(result) if month is None else _month_text(result))


def _month_text(month: dict[str, Any]) -> str:
    from sunsched.base.civil_time import WEEKDAY_NAMES

    rows = []
    for entry in month["days"]:
        opened, closed = entry["open"], entry["close"]
        weekday = WEEKDAY_NAMES[dt.date.fromisoformat(entry["date"]).weekday()]
        times = opened["civil"] or "-", closed["civil"] or "-"
        rows.append((entry["date"], weekday, times[0], times[1], opened["reason"], closed["reason"]))
    head = ("date", "", "opens", "closes", "opening by", "closing by")
    line = f"{month['site']}, {month['month']}, civil time of {month['zone']} (tzdata {month['tzdata']})"
    return f"{line}\n\n{console.table(head, rows, words=(0, 1, 4, 5))}"


def _text(day: dict[str, Any]) -> str:
    offset_h = day["utc_offset_min"] / 60
    lines = [
        f"{day['site']}, {day['date']}, {day['zone']} (UTC{offset_h:+g} h, tzdata {day['tzdata']})",
        f"solar noon {day['solar_noon']['civil']}",
        "",
    ]
    for side, result in (("morning", day["open"]), ("evening", day["close"])):
        steps = [step for step in day["steps"] if step["side"] == side]
        rows = [(step["step"], step["civil"] or "-", step["utc"] or "-", step["detail"]) for step in steps]
        lines.append(console.table((side, "civil time", "UTC", ""), rows, words=(0, 3)))
        word = "opens" if side == "morning" else "closes"
        if result["min"] is None:
            lines.append(f"the door stays down: {result['reason']}\n")
        else:
            minute = f"chip minute {result['min']}"
            lines.append(f"{word} {result['civil']} ({minute}), rounded up; reason: {result['reason']}\n")
    return "\n".join(lines)
