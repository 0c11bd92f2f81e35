"""`handover`: the sheet for whoever looks after the flock, and the calendar."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Annotated

import typer

from sunsched.cli import console
from sunsched.cli.options import Every, Force, parsed_date


def handover(
    configs: Annotated[
        list[str],
        typer.Argument(metavar="CONFIG", help="The configuration of each hut, a TOML file, or - for stdin."),
    ],
    first: Annotated[str, typer.Option("--from", help="The first date, such as 2027-03-27.")],
    last: Annotated[
        str | None, typer.Option("--to", help="The last date; --commission or several huts alone take a week.")
    ] = None,
    out: Annotated[
        str | None, typer.Option("--out", "-o", help="The sheet, .html, .txt or .csv; - or nothing prints text.")
    ] = None,
    ics: Annotated[str | None, typer.Option("--ics", help="A calendar file of the same days, of one hut.")] = None,
    twelve_hour: Annotated[bool, typer.Option("--twelve-hour", help="Times as 6:31 am.")] = False,
    commission: Annotated[bool, typer.Option("--commission", help="The sheet for the door's first week.")] = False,
    force: Force = False,
    every: Every = False,
) -> None:
    """Write a sheet with each day's times, when to look, what alarms mean, and what to do when nothing moves.

    Several configurations give one sheet: each date's huts in the order in which to look.
    """
    from sunsched.base.errors import UsageError
    from sunsched.config import toml_file
    from sunsched.job import files, pipeline
    from sunsched.report.sheets import sheet_file

    start, several = parsed_date(first), len(configs) > 1
    if several and (commission or ics):
        raise UsageError(f"{'--commission' if commission else '--ics'} is of one hut; wanted one configuration")
    if last is None and not commission and not several:
        raise UsageError("--to is missing; wanted the last date of the sheet")
    end = parsed_date(last) if last else start + dt.timedelta(days=sheet_file.FIRST_WEEK_DAYS - 1)
    sheets = [
        sheet_file.sheet_of(toml_file.read(config), start, end, config, twelve_hour, commission) for config in configs
    ]
    made: dict[Path, bytes] = {}
    if out is not None and ics is not None and Path(out) == Path(ics):
        raise UsageError(f"--out and --ics are both {out}; wanted a file for each")
    if out is not None and out != "-":
        made[Path(out)] = sheet_file.sheets_bytes(sheets, Path(out).suffix.lower())
    if ics is not None:
        made[Path(ics)] = sheet_file.calendar_bytes(sheets[0])
    if out == "-" or (out is None and ics is None):
        console.data(sheet_file.sheets_bytes(sheets, ".txt").decode())
    written = files.write_all(made, force) if made else []
    from sunsched.report.text.answers import sheets_answer, written_answer

    warnings, names = sheet_file.warnings_of(sheets), [sheet.plan.site.name for sheet in sheets]
    then = "Print it and hang it where whoever minds the birds sees it."
    if several:
        console.answer(sheets_answer(names, warnings, then))
    else:
        console.answer(written_answer("Sheet", names[0], "", pipeline.summary_of(sheets[0].plan), warnings, then))
    for path in written:
        console.say(f"wrote {path}")
    console.warnings(warnings, every)
