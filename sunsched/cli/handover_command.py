"""`handover`: the sheet for whoever looks after the flock, and the calendar."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Annotated

import typer

from sunsched.cli import console
from sunsched.cli.options import ConfigPath, Every, Force, parsed_date


def handover(
    config: ConfigPath,
    first: Annotated[str, typer.Option("--from", help="The first date, such as 2027-03-27.")],
    last: Annotated[str | None, typer.Option("--to", help="The last date; --commission alone takes a week.")] = None,
    out: Annotated[
        str | None, typer.Option("--out", "-o", help="The sheet, .html, .txt or .csv; - or nothing prints text.")
    ] = None,
    ics: Annotated[str | None, typer.Option("--ics", help="A calendar file of the same days.")] = None,
    twelve_hour: Annotated[bool, typer.Option("--twelve-hour", help="Times as 6:31 am.")] = False,
    commission: Annotated[bool, typer.Option("--commission", help="The sheet for the door's first week.")] = False,
    force: Force = False,
    every: Every = False,
) -> None:
    """Write a sheet with each day's times, when to look, what alarms mean, and what to do when nothing moves."""
    from sunsched.base.errors import UsageError
    from sunsched.config import toml_file
    from sunsched.job import files, pipeline
    from sunsched.report.sheets import sheet_file

    start = parsed_date(first)
    if last is None and not commission:
        raise UsageError("--to is missing; wanted the last date of the sheet")
    end = parsed_date(last) if last else start + dt.timedelta(days=sheet_file.FIRST_WEEK_DAYS - 1)
    sheet = sheet_file.sheet_of(toml_file.read(config), start, end, config, twelve_hour, commission)
    made: dict[Path, bytes] = {}
    if out is not None and ics is not None and Path(out) == Path(ics):
        raise UsageError(f"--out and --ics are both {out}; wanted a file for each")
    if out is not None and out != "-":
        made[Path(out)] = sheet_file.sheet_bytes(sheet, Path(out).suffix.lower())
    if ics is not None:
        made[Path(ics)] = sheet_file.calendar_bytes(sheet)
    if out == "-" or (out is None and ics is None):
        console.data(sheet_file.sheet_bytes(sheet, ".txt").decode())
    written = files.write_all(made, force) if made else []
    from sunsched.report.text.answers import written_answer

    summary = pipeline.summary_of(sheet.plan)
    then = "Print it and hang it where whoever minds the birds sees it."
    console.answer(written_answer("Sheet", sheet.plan.site.name, "", summary, sheet.warnings, then))
    for path in written:
        console.say(f"wrote {path}")
    console.warnings(sheet.warnings, every)
