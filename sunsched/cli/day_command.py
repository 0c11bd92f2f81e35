"""`day`: every step that led to one day's two minutes."""

from __future__ import annotations

from typing import Annotated

import typer

from sunsched.cli import console
from sunsched.cli.options import AsJson, ConfigPath, parsed_date


def day(
    config: ConfigPath,
    date: Annotated[str, typer.Argument(metavar="DATE", help="The date, such as 2027-03-28.")],
    as_json: AsJson = False,
) -> None:
    """Show a day's moments and every step that led to its opening and closing."""
    from sunsched.config import toml_file
    from sunsched.job.one_day import day_steps

    wanted = parsed_date(date)
    result = day_steps(toml_file.read(config), wanted, config)
    if as_json:
        console.data_json(result)
    else:
        from sunsched.report.text.day import day_text

        console.data(day_text(result))
