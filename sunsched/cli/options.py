"""Arguments that several commands share, said once."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Annotated

import typer

from sunsched.base.errors import UsageError

ConfigPath = Annotated[str, typer.Argument(metavar="CONFIG", help="The configuration, a TOML file, or - for stdin.")]
Year = Annotated[int, typer.Option("--year", min=1990, max=2052, help="The calendar year.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print JSON for programs.")]
Force = Annotated[bool, typer.Option("--force", help="Replace files that this tool did not write.")]
OutFolder = Annotated[Path, typer.Option("--out", help="The folder to write into.")]


def parsed_date(text: str) -> dt.date:
    """A date given as 2027-03-28; raises UsageError with what was wanted."""
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        raise UsageError(f"the date is '{text}'; wanted a date such as 2027-03-28") from None
