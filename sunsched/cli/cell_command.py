"""`sunsched cell`: what a light cell reads at the thresholds and at the year's moments."""

from __future__ import annotations

from typing import Annotated

import typer

from sunsched.cli import console
from sunsched.cli.advised import WriteAdvised, write_advised
from sunsched.cli.options import AsJson, ConfigPath, Every, Year, wanted_year


def cell(
    config: ConfigPath,
    year: Year = None,
    reads: Annotated[
        float | None,
        typer.Option("--reads", help="What it reads now, under a clear sky: counts, or lux of a digital sensor."),
    ] = None,
    at: Annotated[
        str | None, typer.Option("--at", help="When it read that: '2027-03-01 18:20', civil time at the hut.")
    ] = None,
    write: WriteAdvised = False,
    every: Every = False,
    as_json: AsJson = False,
) -> None:
    """Show thresholds as counts with their spread, the best fixed resistor, and what the cell reads through a year."""
    from sunsched.base.errors import UsageError
    from sunsched.cli.configuration import configuration_in
    from sunsched.job.cell import cell_of
    from sunsched.job.cell_readings import noted_readings
    from sunsched.report.text.cell import cell_text
    from sunsched.report.text.cell_readings import readings_text

    if (reads is None) != (at is None):
        raise UsageError("--reads and --at belong together: --reads 520 --at '2027-03-01 18:20'")
    configuration = configuration_in(config)
    found = noted_readings(configuration, reads, at, config)
    if found is not None and reads is not None:
        if as_json:
            console.data_json(found.plain())
        else:
            console.data(readings_text(found, configuration.light_cell))
        return
    report = cell_of(configuration, wanted_year(year), config)
    if as_json:
        console.data_json(report.plain() | ({} if found is None else {"calibration": found.plain()}))
        console.warnings(report.warnings, every)
    else:
        console.data(cell_text(report, every))
        if found is not None:
            console.data(readings_text(found, configuration.light_cell))
    if write:
        write_advised(config, report.advice)
