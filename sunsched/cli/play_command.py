"""`play`: one page on which the door's own program plays an evening."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Annotated

import typer

from sunsched.base.errors import UsageError
from sunsched.cli import console
from sunsched.cli.options import ConfigPath, Force, Year, parsed_date, wanted_year


def play(
    config: ConfigPath,
    date: Annotated[
        str | None, typer.Option("--date", metavar="DATE", help="The evening, such as 2027-03-28. Default: today.")
    ] = None,
    year: Year = None,
    language: Annotated[str, typer.Option("--language", help="The page's words: en or de.")] = "en",
    out: Annotated[str, typer.Option("--out", "-o", help="The page, an HTML file, or - for stdout.")] = "evening.html",
    force: Force = False,
) -> None:
    """Write one page on which the door's program plays any evening of a year: weather, faults and clock at a button."""
    from sunsched.cli.configuration import configuration_in
    from sunsched.job import files
    from sunsched.job.one_day import day_steps
    from sunsched.report.play import page
    from sunsched.report.text.answers import play_answer

    if language not in page.LANGUAGES:
        raise UsageError(f"--language is '{language}'; wanted {' or '.join(page.LANGUAGES)}")
    evening = None if date is None else parsed_date(date)
    if evening is not None and year is not None and evening.year != year:
        raise UsageError(f"--date is {evening} and --year is {year}; wanted a date of that year")
    if year is None:
        year = wanted_year(None) if evening is None else evening.year
    if evening is None:
        evening = page.default_date(year, dt.date.today())
    configuration = configuration_in(config)
    content = page.play_html(configuration, year, evening, config, language).encode()
    if out == "-":
        console.data_bytes(content)
        return
    written = files.write_all({Path(out): content}, force)
    then = f"Open {out} in a browser and press {page.words(language)['run']['play']}; it needs no connection."
    console.answer(play_answer(day_steps(configuration, evening, config), then))
    for path in written:
        console.say(f"wrote {path}")
    for line in console.folded(page.words(language)["cautions"]["said"][0]):
        console.note(line)
