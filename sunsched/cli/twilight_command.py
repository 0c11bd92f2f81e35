"""`twilight`: sunrise, sunset and twilights of a year, without any rule."""

from __future__ import annotations

from typing import Annotated

import typer

from sunsched.cli import console
from sunsched.cli.options import AsJson, ConfigPath, Every, Year, wanted_year


def twilight(
    config: ConfigPath,
    year: Year = None,
    depression: Annotated[
        list[float] | None,
        typer.Option("--depression", min=-10, max=18, help="A further angle below the horizon [degrees]; repeats."),
    ] = None,
    only: Annotated[bool, typer.Option("--only", help="Only the angles of --depression.")] = False,
    every: Every = False,
    as_json: AsJson = False,
) -> None:
    """List when the Sun rises, sets and passes civil, nautical and astronomical twilight, in UTC."""
    from sunsched.base.errors import UsageError
    from sunsched.cli.configuration import configuration_in
    from sunsched.job.sun_list import NAMED_DEPRESSIONS_DEG, sun_list

    if only and not depression:
        raise UsageError("--only needs at least one --depression")
    angles = [*(() if only else NAMED_DEPRESSIONS_DEG), *(depression or ())]
    configuration, year = configuration_in(config), wanted_year(year)
    rows = sun_list(configuration.site, year, angles)
    if as_json:
        console.data_json(rows)
        return
    from sunsched.report.text.twilight import twilight_text

    console.data(twilight_text(configuration.site.name, year, rows, every))
