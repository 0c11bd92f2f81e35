"""`today`: each hut's door now, its next move and why, and what to look for."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Any

import typer

from sunsched.cli import console
from sunsched.cli.options import AsJson


def today(
    configs: Annotated[list[str], typer.Argument(metavar="CONFIG", help="One or more configurations, or -.")],
    at: Annotated[
        str | None,
        typer.Option("--at", help="Another moment, such as '2027-03-28 18:20': civil time at each hut."),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Say for each hut whether the door is to be up or down now, when it moves next and why, and what to look for.

    It reads the configuration, not the chip: `sunsched chip state` asks the door itself. A file with a mistake is
    told and the others are answered; it ends with that mistake's code.
    """
    from sunsched.base.errors import SunschedError
    from sunsched.cli.configuration import configuration_in
    from sunsched.job.today import hut_now, instant_of
    from sunsched.report.text.today import plain, today_lines

    now = dt.datetime.now(dt.UTC)
    listed: list[dict[str, Any]] = []
    huts = []
    worst = 0
    for config in configs:
        try:
            configuration = configuration_in(config)
            hut = hut_now(configuration, now if at is None else instant_of(configuration, at), config)
        except SunschedError as error:
            console.error(str(error))
            listed.append({"file": config, "error": str(error)})
            worst = max(worst, error.exit_code)
            continue
        listed.append(plain(hut, config))
        huts.append((config, hut))
    if as_json:
        console.data_json(listed)
    for line in [] if as_json else today_lines(huts):
        console.data(line)
    if worst:
        raise typer.Exit(worst)
