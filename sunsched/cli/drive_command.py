"""`sunsched drive`: whether the motor, spool and cord will do the work."""

from __future__ import annotations

import typer

from sunsched.cli import console
from sunsched.cli.advised import WriteAdvised, write_advised
from sunsched.cli.options import AsJson, ConfigPath, Every


def drive(config: ConfigPath, write: WriteAdvised = False, every: Every = False, as_json: AsJson = False) -> None:
    """Work out travel, cut-offs, cord, force and current, with the spread of what was given.

    Ends with 1 where a verdict fails.
    """
    from sunsched.base.errors import CheckError
    from sunsched.cli.configuration import configuration_in
    from sunsched.job.drive_and_battery import drive_advice_of, drive_of, sections_of
    from sunsched.job.warnings import verdict_warnings
    from sunsched.report.text.drive import drive_text

    configuration = configuration_in(config)
    sums, advice = drive_of(configuration, config), drive_advice_of(configuration, config)
    found = verdict_warnings(sums.verdicts)
    if as_json:
        console.data_json(sums.plain() | {"advised": advice.plain()})
        console.warnings(found, every)
    else:
        console.data(drive_text(sums, advice, found, sections_of(configuration), every))
    if write:
        write_advised(config, advice)
    if any(judged.state == "fails" for judged in sums.verdicts):
        raise typer.Exit(CheckError.exit_code)
