"""`sunsched replay`: a recorded light log run through light alone, clock alone, and both."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from sunsched.cli import console
from sunsched.cli.options import AsJson, ConfigPath, Every, Force


def replay(
    config: ConfigPath,
    log: Annotated[str, typer.Argument(metavar="LOG", help="A CSV of time and lux or counts, the door's log, or -.")],
    unit: Annotated[str | None, typer.Option("--unit", help="lux or counts, where the log does not say.")] = None,
    zone: Annotated[
        str | None, typer.Option("--zone", help="What the log's clock keeps: civil, chip, utc or such as +01:00.")
    ] = None,
    column: Annotated[str | None, typer.Option("--column", help="Heading of the column of light.")] = None,
    chart: Annotated[
        Path | None, typer.Option("--chart", metavar="FILE", help="Draw the evenings: .svg or .png.")
    ] = None,
    every: Every = False,
    as_json: AsJson = False,
    force: Force = False,
) -> None:
    """Show what each way of deciding would have done on the log's own evenings and mornings, and the cell's offset."""
    from sunsched.base.errors import UsageError
    from sunsched.cli.configuration import configuration_in
    from sunsched.job.logs.replay import replay_of
    from sunsched.report.pictures.picture_file import checked_ending
    from sunsched.report.pictures.replay import replay_chart
    from sunsched.report.text.replay import replay_text

    if config == "-" and log == "-":
        raise UsageError("CONFIG and LOG are both -; only one of them can be standard input")
    ending = "" if chart is None else checked_ending(chart, "--chart")
    configuration = configuration_in(config)
    result = replay_of(configuration, Path(log), config, unit, zone, column)
    for text in result.warnings:
        console.warn(text)
    if chart is not None:
        from sunsched.job.files import write_all

        write_all({chart: replay_chart(result, configuration.site.name, ending)}, force)
        console.say(f"wrote {chart}")
    if as_json:
        console.data_json(result.plain())
    else:
        console.data(replay_text(result, every))
