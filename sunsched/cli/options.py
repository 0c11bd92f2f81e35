"""Arguments that several commands share."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Annotated, Any

import typer

from sunsched.base.errors import UsageError
from sunsched.base.years import FIRST_YEAR, LAST_YEAR, coming_year

ConfigPath = Annotated[str, typer.Argument(metavar="CONFIG", help="The configuration, a TOML file, or - for stdin.")]
COMING = "Default: this year, from November on the next."
Year = Annotated[int | None, typer.Option("--year", min=FIRST_YEAR, max=LAST_YEAR, help=f"The calendar year. {COMING}")]
AsJson = Annotated[bool, typer.Option("--json", help="Print JSON for programs.")]
Every = Annotated[bool, typer.Option("--all", help="Show every line: nothing is left out for a short answer.")]
Force = Annotated[bool, typer.Option("--force", help="Replace files that this tool did not write.")]


def _a_folder(out: Path) -> Path:
    if str(out) == "-":
        raise typer.BadParameter("it is '-', standard output; wanted a folder, for several files are written")
    return out


def out_folder(meaning: str) -> Any:
    """The option -o and --out of a command that writes several files."""
    return typer.Option("--out", "-o", metavar="FOLDER", callback=_a_folder, help=meaning)


def wanted_year(year: int | None) -> int:
    """The year asked for, else that of the days to come, which is then said."""
    if year is not None:
        return year
    from sunsched.cli import console

    coming = coming_year(dt.date.today())
    console.note(f"year {coming}: the days to come; --year asks for another")
    return coming


def parsed_years(text: str) -> tuple[int, ...]:
    """Years given as 2027..2047; raises UsageError with what was wanted."""
    first, _, last = text.partition("..")
    if not (first.isdigit() and last.isdigit() and FIRST_YEAR <= int(first) <= int(last) <= LAST_YEAR):
        raise UsageError(f"--years is '{text}'; wanted two years of {FIRST_YEAR} to {LAST_YEAR} such as 2027..2047")
    return tuple(range(int(first), int(last) + 1))


def parsed_date(text: str, wanted: str = "a date such as 2027-03-28") -> dt.date:
    """A date given as 2027-03-28; raises UsageError with what was `wanted`."""
    try:
        date = dt.date.fromisoformat(text)
    except ValueError:
        raise UsageError(f"the date is '{text}'; wanted {wanted}") from None
    if not FIRST_YEAR <= date.year <= LAST_YEAR:
        raise UsageError(f"the date is '{text}'; wanted one from {FIRST_YEAR}-01-01 to {LAST_YEAR}-12-31")
    return date
