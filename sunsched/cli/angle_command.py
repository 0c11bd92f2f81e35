"""`sunsched angle`: the Sun's angle that fits the nights the keeper noted."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from sunsched.cli import console
from sunsched.cli.options import AsJson, ConfigPath, Every, Force


def angle(
    config: ConfigPath,
    nights: Annotated[
        str, typer.Argument(metavar="NIGHTS", help="Date and time of the last bird in, one night a line, or -.")
    ],
    leave_out: Annotated[
        float, typer.Option("--leave-out", min=0.001, max=0.5, help="Share of nights to come that may end later.")
    ] = 0.05,
    zone: Annotated[
        str, typer.Option("--zone", help="What the list's clock keeps: civil, chip, utc or such as +01:00.")
    ] = "civil",
    light: Annotated[
        Path | None, typer.Option("--light", help="A light log of these evenings: did the birds follow it?")
    ] = None,
    write: Annotated[
        Path | None, typer.Option("--write", help="Write the whole configuration with the new angle.")
    ] = None,
    update: Annotated[
        bool, typer.Option("--update", help="NIGHTS is the door's own log, or date,time closed,birds out: propose.")
    ] = False,
    counts: Annotated[
        Path | None, typer.Option("--counts", help="With --update and the door's log: date,birds out a line.")
    ] = None,
    every: Every = False,
    as_json: AsJson = False,
    force: Force = False,
) -> None:
    """Find the angle that would have let the birds in on the nights noted, and what it costs."""
    from sunsched.base.errors import UsageError
    from sunsched.cli.configuration import ask_about_place
    from sunsched.job.logs.angle import (
        angle_of,
        configuration_and_table,
        evening_section,
        new_configuration,
        update_angle,
    )
    from sunsched.report.text.angle import angle_text, update_text

    if config == "-" and nights == "-":
        raise UsageError("CONFIG and NIGHTS are both -; only one of them can be standard input")
    configuration, table = configuration_and_table(config)
    ask_about_place(configuration, config)
    if update:
        if write is not None or light is not None:
            raise UsageError("--update proposes only; wanted it without --write and --light")
        proposed = update_angle(configuration, Path(nights), counts, leave_out, zone)
        if as_json:
            console.data_json(proposed.plain())
        else:
            section = evening_section(configuration, proposed.proposed_deg)
            console.data(update_text(proposed, leave_out, section))
        return
    fit = angle_of(configuration, Path(nights), leave_out, zone, light)
    for text in fit.warnings:
        console.warn(text)
    if write is not None:
        from sunsched.job.files import write_all

        write_all({write: new_configuration(table, fit).encode()}, force, configuration=True)
        console.say(f"wrote {write}; comments of {config} are not carried over")
    if as_json:
        console.data_json(fit.plain())
    else:
        console.data(angle_text(fit, every))
