"""`sunsched clock`: how long the chip's clock may run without being set."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import Annotated

import typer

from sunsched.cli import console
from sunsched.cli.options import AsJson, ConfigPath, Every


def clock(
    config: ConfigPath,
    error_min: Annotated[
        float, typer.Option("--error-min", min=0.1, max=120, help="The error the door may have [minutes].")
    ] = 2.0,
    coldest: Annotated[float, typer.Option("--coldest", min=-60, max=60, help="Coldest board [deg C].")] = -10.0,
    hottest: Annotated[float, typer.Option("--hottest", min=-60, max=90, help="Hottest board [deg C].")] = 35.0,
    noted: Annotated[
        str | None, typer.Option("--noted", help="What the chip's clock read: '2027-06-01 12:03:20', chip time.")
    ] = None,
    true: Annotated[str | None, typer.Option("--true", help="The true civil time at that reading.")] = None,
    last_set: Annotated[
        str | None, typer.Option("--set", help="When the clock was last set, civil time: gives its real rate.")
    ] = None,
    at: Annotated[
        str | None,
        typer.Option("--at", help="When the clock is to be set, civil time: '2027-06-01 18:00'. Default: in 2 min."),
    ] = None,
    every: Every = False,
    as_json: AsJson = False,
) -> None:
    """Print the line that sets the chip's clock; say how far it may drift; judge a noted reading."""
    from sunsched.base.errors import UsageError
    from sunsched.cli.configuration import configuration_in
    from sunsched.job.clock import Reading, clock_of, set_line_of, soon
    from sunsched.report.text.clock import clock_text

    if (noted is None) != (true is None) or (last_set is not None and true is None):
        raise UsageError("--noted and --true belong together; --set needs both")
    if coldest > hottest:
        raise UsageError(f"--coldest {coldest:g} is above --hottest {hottest:g}")
    reading = None if noted is None or true is None else Reading(noted, true, last_set)
    configuration = configuration_in(config)
    report = clock_of(configuration, error_min, (coldest, hottest), reading)
    report = replace(report, set_line=set_line_of(configuration, at or soon(configuration, dt.datetime.now(dt.UTC))))
    if as_json:
        console.data_json(report.plain())
    else:
        console.data(clock_text(report, every))
    if report.noted is not None and report.noted.likeness != "drift":
        console.warn(f"the noted reading is no drift: {report.noted.likeness}")
    elif report.noted is not None and report.noted.days_left == 0:
        console.warn("the clock is beyond the error allowed: set it now")
