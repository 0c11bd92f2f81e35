"""`sunsched battery`: whether battery and panel carry the door through the winter."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from sunsched.cli import console
from sunsched.cli.advised import WriteAdvised, write_advised
from sunsched.cli.options import AsJson, ConfigPath, Every, Force, Year, wanted_year


def battery(
    config: ConfigPath,
    year: Year = None,
    climate: Annotated[
        Path | None,
        typer.Option("--climate", metavar="FILE", help="CSV: month,clearness or month,kwh_m2_day[,temperature_c]."),
    ] = None,
    weather: Annotated[
        Path | None,
        typer.Option("--weather", metavar="FILE", help="Hourly light: EPW, PVGIS or Open-Meteo CSV, or time,w_m2."),
    ] = None,
    weather_years: Annotated[
        int, typer.Option("--weather-years", min=20, max=5000, help="How many winters of model weather.")
    ] = 200,
    chart: Annotated[
        Path | None, typer.Option("--chart", metavar="FILE", help="Draw the charge held: .svg or .png.")
    ] = None,
    write: WriteAdvised = False,
    force: Force = False,
    every: Every = False,
    as_json: AsJson = False,
) -> None:
    """Follow the charge day by day, over many winters, and show what one change would do.

    Ends with 1 where a verdict fails.
    """
    from sunsched.base.errors import CheckError, UsageError
    from sunsched.cli.configuration import configuration_in
    from sunsched.hardware.parts import Battery
    from sunsched.job.drive_and_battery import battery_advice_of, battery_of, plain
    from sunsched.job.warnings import verdict_warnings
    from sunsched.report.pictures.battery import write_chart
    from sunsched.report.pictures.picture_file import checked_ending
    from sunsched.report.text.battery import battery_text

    if chart is not None:
        checked_ending(chart, "--chart")
    if climate is not None and weather is not None:
        raise UsageError("--climate and --weather: wanted one of the two")
    configuration = configuration_in(config)
    work = battery_of(configuration, wanted_year(year), config, climate, weather_years, weather)
    advice, found = battery_advice_of(configuration, work), verdict_warnings(work.sums.verdicts)
    if chart is not None:
        console.say(f"wrote {write_chart(work, chart, force)}")
    if as_json:
        console.data_json(plain(work) | {"advised": advice.plain()})
        console.warnings(found, every)
    else:
        console.data(battery_text(work, advice, found, configuration.battery or Battery(), every))
    for note in work.notes:
        console.say(f"note: {note}")
    if write:
        write_advised(config, advice)
    if any(judged.state == "fails" for judged in work.sums.verdicts):
        raise typer.Exit(CheckError.exit_code)
