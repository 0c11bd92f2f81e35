"""`twilight`: sunrise, sunset and twilights of a year, without any rule."""

from __future__ import annotations

from typing import Annotated

import typer

from sunsched.cli import console
from sunsched.cli.options import AsJson, ConfigPath, Year, wanted_year


def twilight(
    config: ConfigPath,
    year: Year = None,
    depression: Annotated[
        list[float] | None,
        typer.Option("--depression", min=-10, max=18, help="A further angle below the horizon [degrees]; repeats."),
    ] = None,
    only: Annotated[bool, typer.Option("--only", help="Only the angles of --depression.")] = False,
    as_json: AsJson = False,
) -> None:
    """List when the Sun rises, sets and passes civil, nautical and astronomical twilight, in UTC."""
    from sunsched.base.errors import UsageError
    from sunsched.cli.configuration import configuration_in
    from sunsched.job.sun_list import NAMED_DEPRESSIONS_DEG, sun_list

    if only and not depression:
        raise UsageError("--only needs at least one --depression")
    angles = [*(() if only else NAMED_DEPRESSIONS_DEG), *(depression or ())]
    rows = sun_list(configuration_in(config).site, wanted_year(year), angles)
    if as_json:
        console.data_json(rows)
        return
    head = ("date", "depression", "morning (UTC)", "evening (UTC)")
    console.data(
        console.table(
            head,
            (
                (
                    row["date"],
                    f"{row['depression_deg']:g}",
                    row["morning_utc"] or row["morning_state"].replace("_", " "),
                    row["evening_utc"] or row["evening_state"].replace("_", " "),
                )
                for row in rows
            ),
        )
    )
