"""`sunsched drive`: whether the motor, spool and cord will do the work."""

from __future__ import annotations

from sunsched.cli import console
from sunsched.cli.options import AsJson, ConfigPath


def drive(config: ConfigPath, as_json: AsJson = False) -> None:
    """Work out travel, cut-offs, cord, force and current, with the spread of what was given."""
    from sunsched.config import toml_file
    from sunsched.job.drive_and_battery import drive_of
    from sunsched.report.text.drive import drive_text

    sums = drive_of(toml_file.read(config), config)
    if as_json:
        console.data_json(sums.plain())
    else:
        console.data(drive_text(sums))
    for judged in sums.verdicts:
        if judged.state != "holds":
            console.warn(f"{judged.name}: {judged.state}")
