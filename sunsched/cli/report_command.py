"""`report`: the year on one page."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from sunsched.cli import console
from sunsched.cli.options import ConfigPath, Every, Force, Year, wanted_year


def report(
    config: ConfigPath,
    year: Year = None,
    out: Annotated[str, typer.Option("--out", "-o", help="The page, an HTML file, or - for stdout.")] = "report.html",
    compare: Annotated[
        bool, typer.Option("--compare", help="With light, clock and both on 100 weather years, and fault nights.")
    ] = False,
    log: Annotated[
        Path | None, typer.Option("--log", metavar="FILE", help="Your noted nights: date and time of the last bird in.")
    ] = None,
    force: Force = False,
    every: Every = False,
) -> None:
    """Write one page with the year's map, every warning, every day, the chip's settings and the cautions."""
    from sunsched.config import toml_file
    from sunsched.job import files, pipeline
    from sunsched.job.warnings import parts_of, warnings_of
    from sunsched.report.page import report_file

    year = wanted_year(year)
    work = pipeline.built(toml_file.read(config), year, config)
    more = report_file.comparison_sections(work) if compare else ()
    if log is not None:
        more = (*more, report_file.nights_of_log(work, log, config))
    parts = parts_of(work.configuration, year, config)
    warnings = warnings_of((work.plan,), parts)
    content = report_file.report_of(work, config, more, parts)
    if out == "-":
        console.data_bytes(content)
        console.warnings(warnings, every)
        return
    written = files.write_all({Path(out): content}, force)
    from sunsched.report.text.answers import written_answer

    summary = pipeline.summary_of(work.plan)
    then = f"Open {out} in a browser; it needs no connection and prints."
    console.answer(written_answer("The page", work.plan.site.name, str(year), summary, warnings, then))
    for path in written:
        console.say(f"wrote {path}")
    console.warnings(warnings, every)
