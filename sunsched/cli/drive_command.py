"""`sunsched drive`: whether the motor, spool and cord will do the work."""

from __future__ import annotations

import typer

from sunsched.cli import console
from sunsched.cli.options import AsJson, ConfigPath, Every


def drive(config: ConfigPath, every: Every = False, as_json: AsJson = False) -> None:
    """Work out travel, cut-offs, cord, force and current, with the spread of what was given.

    Ends with 1 where a verdict fails.
    """
    from sunsched.base.errors import CheckError
    from sunsched.config import toml_file
    from sunsched.job.drive_and_battery import drive_of
    from sunsched.job.warnings import verdict_warnings
    from sunsched.report.text.drive import drive_text

    sums = drive_of(toml_file.read(config), config)
    if as_json:
        console.data_json(sums.plain())
    else:
        console.data(drive_text(sums))
    console.warnings(verdict_warnings(sums.verdicts), every)
    if any(judged.state == "fails" for judged in sums.verdicts):
        raise typer.Exit(CheckError.exit_code)
