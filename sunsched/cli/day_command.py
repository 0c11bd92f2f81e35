"""`day`: every step that led to one day's two minutes."""

from __future__ import annotations

import datetime as dt
import re
from typing import Annotated

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
        from sunsched.report.text.day import day_text, month_text

        console.data(day_text(result) if month is None else month_text(result))
