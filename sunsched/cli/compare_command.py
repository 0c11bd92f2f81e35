"""`sunsched compare`: light alone, clock alone and both over many years of weather."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from sunsched.cli import console
from sunsched.cli.options import AsJson, ConfigPath, Every, Force, Year, wanted_year

if TYPE_CHECKING:
    from sunsched.job.fault_comparison import FaultComparison


def compare(
    config: ConfigPath,
    year: Year = None,
    years: Annotated[int, typer.Option("--years", min=2, max=100_000, help="How many weather years.")] = 200,
    follow_light: Annotated[
        list[float] | None,
        typer.Option(
            "--follow-light", min=0, max=1, help="Share of the birds' habit that follows the light; repeats. [0 0.5 1]"
        ),
    ] = None,
    late: Annotated[str, typer.Option("--late", help="Civil time after which an open door is counted.")] = "23:30",
    climate: Annotated[
        Path | None,
        typer.Option("--climate", metavar="FILE", help="CSV: month,clearness or month,kwh_m2_day."),
    ] = None,
    weather: Annotated[
        Path | None,
        typer.Option(
            "--weather",
            metavar="FILE",
            help="Measured light: EPW, PVGIS or Open-Meteo CSV, or CSV time,lux or time,w_m2.",
        ),
    ] = None,
    own_log: Annotated[
        Path | None,
        typer.Option("--own-log", metavar="FILE", help="The site's own light log, or the door's: its evenings."),
    ] = None,
    nights: Annotated[
        Path | None, typer.Option("--nights", metavar="FILE", help="Last-bird-in times, as angle takes them.")
    ] = None,
    light: Annotated[
        Path | None, typer.Option("--light", metavar="FILE", help="With --nights: a light log of those evenings.")
    ] = None,
    seed: Annotated[int, typer.Option("--seed", min=0, help="Another seed draws other weather.")] = 1,
    faults: Annotated[bool, typer.Option("--faults", help="Fault nights instead of healthy years.")] = False,
    chart: Annotated[
        Path | None, typer.Option("--chart", metavar="FILE", help="Draw the trade-off: .svg or .png.")
    ] = None,
    assumptions: Annotated[
        bool, typer.Option("--assumptions", help="List what the figures rest on, with ranges and sources.")
    ] = False,
    as_csv: Annotated[bool, typer.Option("--csv", help="Print CSV, one row for each figure.")] = False,
    every: Every = False,
    as_json: AsJson = False,
    force: Force = False,
) -> None:
    """Set birds shut out against minutes open, for light alone, clock alone and both, on the same weather."""
    from sunsched.base.errors import UsageError
    from sunsched.cli.configuration import configuration_in
    from sunsched.job.climate_file import read_climate, read_record
    from sunsched.job.comparison import FOLLOW_LIGHT, assumptions_of, comparison_of, late_minute_of
    from sunsched.job.fault_comparison import fault_comparison_of
    from sunsched.job.logs.angle import angle_of
    from sunsched.job.logs.own_weather import learned_of
    from sunsched.report.pictures.comparison import chart_of, check_birds
    from sunsched.report.pictures.picture_file import checked_ending
    from sunsched.report.text.comparison import assumptions_list_text, comparison_csv, comparison_text
    from sunsched.report.text.comparison_tables import plain

    if as_csv and as_json:
        raise UsageError("--csv and --json: wanted one of the two")
    configuration = configuration_in(config)
    year = wanted_year(year)
    if assumptions:
        listed = assumptions_of(configuration)
        if as_json:
            console.data_json([one.plain() for one in listed])
        else:
            console.data(assumptions_list_text(listed))
        return
    given = None if climate is None else read_climate(climate, configuration.site.latitude_deg)
    shares = FOLLOW_LIGHT if not follow_light else tuple(dict.fromkeys(follow_light))
    if chart is not None:
        ending = checked_ending(chart, "--chart")
        check_birds(configuration)
    late_minute = late_minute_of(late)
    if faults:
        if chart is not None:
            raise UsageError("--chart and --faults: wanted one of the two")
        if weather is not None:
            raise UsageError("--weather and --faults: wanted one of the two")
        nights_of = fault_comparison_of(configuration, year, years, seed, shares, late_minute, given)
        _faults(nights_of, as_json, as_csv, every)
        return

    def tick(blocks: Iterable[int], total: int) -> Iterable[int]:
        return console.progress(blocks, "weather years", total)

    record = None if weather is None else read_record(weather, configuration, year)
    if record is not None and own_log is not None:
        raise UsageError("--weather and --own-log: wanted one of the two")
    if light is not None and nights is None:
        raise UsageError("--light without --nights: wanted the nights too")
    learned = None
    if nights is not None:
        fit = angle_of(configuration, nights, light_path=light)
        learned = learned_of(configuration, fit)
        for text in fit.warnings:
            console.warn(text)
    work = comparison_of(configuration, year, years, seed, shares, late_minute, given, record, tick, own_log, learned)
    for note in work.notes:
        console.warn(note)
    if chart is not None:
        from sunsched.job.files import write_all

        for path in write_all({chart: chart_of(work, ending)}, force):
            console.say(f"wrote {path}")
    if as_json:
        console.data_json(plain(work))
    elif as_csv:
        console.data(comparison_csv(work))
    else:
        console.data(comparison_text(work, every))


def _faults(work: FaultComparison, as_json: bool, as_csv: bool, every: bool) -> None:
    from sunsched.job.fault_comparison import plain
    from sunsched.report.text.fault_nights import fault_csv, fault_text

    if as_json:
        console.data_json(plain(work))
    else:
        console.data(fault_csv(work) if as_csv else fault_text(work, every))
