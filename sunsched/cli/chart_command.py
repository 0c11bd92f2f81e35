"""`chart`: the year as a picture."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from sunsched.cli import console
from sunsched.cli.options import ConfigPath, Force, Year, wanted_year


def chart(
    config: ConfigPath,
    out: Annotated[str, typer.Option("--out", "-o", help="The picture, .svg or .png; - writes SVG to stdout.")],
    year: Year = None,
    force: Force = False,
) -> None:
    """Draw the year as a map of nights: date against hour, noon to noon, with the door's two lines."""
    from sunsched.cli.configuration import configuration_in
    from sunsched.job import files, pipeline
    from sunsched.report.page import report_file
    from sunsched.report.pictures.picture_file import checked_ending

    ending = ".svg" if out == "-" else checked_ending(out, "--out")
    year = wanted_year(year)
    work = pipeline.built(configuration_in(config), year, config)
    content = report_file.chart_of(work, ending)
    if out == "-":
        console.data_bytes(content)
        return
    written = files.write_all({Path(out): content}, force)
    from sunsched.report.text.answers import written_answer

    summary = pipeline.summary_of(work.plan)
    then = "Look at its edges: a strip marks the days that the Sun does not decide."
    console.answer(written_answer("The year", work.plan.site.name, str(year), summary, (), then))
    for path in written:
        console.say(f"wrote {path}")
