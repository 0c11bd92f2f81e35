"""`sunsched cell`: what a light cell reads at the thresholds and at the year's moments."""

from __future__ import annotations

from sunsched.cli import console
from sunsched.cli.advised import WriteAdvised, write_advised
from sunsched.cli.options import AsJson, ConfigPath, Every, Year, wanted_year


def cell(
    config: ConfigPath,
    year: Year = None,
    write: WriteAdvised = False,
    every: Every = False,
    as_json: AsJson = False,
) -> None:
    """Show thresholds as counts with their spread, the best fixed resistor, and what the cell reads through a year."""
    from sunsched.cli.configuration import configuration_in
    from sunsched.job.cell import cell_of
    from sunsched.report.text.cell import cell_text

    report = cell_of(configuration_in(config), wanted_year(year), config)
    if as_json:
        console.data_json(report.plain())
        console.warnings(report.warnings, every)
    else:
        console.data(cell_text(report, every))
    if write:
        write_advised(config, report.advice)
