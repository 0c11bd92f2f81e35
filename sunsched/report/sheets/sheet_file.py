"""The handover and commissioning sheets and the calendar: configuration and dates in, files out."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from typing import TypeVar

from sunsched import __version__
from sunsched.base.civil_time import day_number
from sunsched.base.errors import UsageError
from sunsched.base.warned import Warned, by_harm
from sunsched.config.configuration import Configuration
from sunsched.emit.stamp import Stamp, command_line, plan_sha256
from sunsched.job import pipeline
from sunsched.job.warnings import all_warnings
from sunsched.report.page.html import one_line
from sunsched.report.sheets import calendar, handover, several_huts

Sheet = TypeVar("Sheet")
MOST_DAYS = 366
FIRST_WEEK_DAYS = 7
FORMS = {".html": handover.html, ".txt": handover.text, ".csv": handover.csv_text}
ROUND_FORMS = {".html": several_huts.html, ".txt": several_huts.text, ".csv": several_huts.csv_text}


def sheet_of(
    configuration: Configuration,
    first: dt.date,
    last: dt.date,
    name: str = "",
    twelve_hour: bool = False,
    commission: bool = False,
) -> handover.Handover:
    """The sheet of a span of dates, both included. Raises UsageError for a span that is empty or beyond a year."""
    n_days = day_number(last) - day_number(first) + 1
    if not 1 <= n_days <= MOST_DAYS:
        raise UsageError(f"--from {first} --to {last} is {n_days} days; wanted 1 to {MOST_DAYS}")
    c = configuration
    plan = pipeline.span_of(c, day_number(first), n_days, name)
    command = command_line("handover", name, "--from", str(first), "--to", str(last))
    stamp = Stamp(__version__, command, plan.tzdata, plan_sha256(plan))
    flock = c.flock if "birds" in c.flock.model_fields_set else None  # a default is nobody's flock
    return handover.Handover(
        plan,
        c.rules,
        c.light_cell,
        flock,
        stamp,
        c.motor,
        c.spool,
        twelve_hour=twelve_hour,
        commission=commission,
        warnings=all_warnings(c, plan),
    )


def sheet_bytes(sheet: handover.Handover, ending: str) -> bytes:
    """The sheet as `.html`, `.txt` or `.csv`."""
    return _form(FORMS, ending)(sheet).encode()


def sheets_bytes(sheets: Sequence[handover.Handover], ending: str) -> bytes:
    """The sheet of one hut, or one sheet for several, as `.html`, `.txt` or `.csv`."""
    if len(sheets) == 1:
        return sheet_bytes(sheets[0], ending)
    return _form(ROUND_FORMS, ending)(several_huts.Round(tuple(sheets))).encode()


def warnings_of(sheets: Sequence[handover.Handover]) -> tuple[Warned, ...]:
    """The warnings of all sheets, each with its hut's name where there are several."""
    if len(sheets) == 1:
        return sheets[0].warnings
    return by_harm(
        warned._replace(text=f"{one_line(sheet.plan.site.name, 60)}: {warned.text}")
        for sheet in sheets
        for warned in sheet.warnings
    )


def _form(forms: Mapping[str, Callable[[Sheet], str]], ending: str) -> Callable[[Sheet], str]:
    if ending not in forms:
        raise UsageError(f"a sheet's file ends in '{ending}'; wanted one of {', '.join(forms)}")
    return forms[ending]


def calendar_bytes(sheet: handover.Handover) -> bytes:
    """The calendar of the same days."""
    return calendar.text(sheet.plan, sheet.rules, sheet.words, sheet.twelve_hour)
