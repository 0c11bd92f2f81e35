"""`batch`: the tables of many sites, one row of a CSV file each."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from sunsched.cli import console
from sunsched.cli.options import AsJson, Force, Year, out_folder, wanted_year
from sunsched.emit.forms import FORMS, asked, list_words, usual


def batch(
    sites: Annotated[Path, typer.Argument(metavar="SITES.csv", help="Columns name, latitude, longitude, zone, ...")],
    config: Annotated[str, typer.Argument(metavar="CONFIG", help="The rules; its [site] is not used.")],
    out: Annotated[Path, out_folder("The folder for results.csv and the tables.")],
    jobs: Annotated[int | None, typer.Option("--jobs", min=1, max=256, help="Processes. Default: one a core.")] = None,
    year: Year = None,
    forms: Annotated[
        list[str] | None,
        typer.Option("--as", help=f"{list_words(FORMS)}; repeats. Default: {list_words(usual(), 'and')}."),
    ] = None,
    as_archive: Annotated[bool, typer.Option("--archive", help="One tables.zip in place of the folders.")] = False,
    force: Force = False,
    as_json: AsJson = False,
) -> None:
    """Work out the tables of many sites: one row each, the rules from CONFIG.

    Any other column is a key by its dotted name (evening.later_min, site.height_above_horizon_m) that replaces CONFIG's
    for its row; an empty cell replaces nothing. results.csv has a line for each row: ok with its warnings, or the error
    with its column; bad rows never stop good ones. Broken off, the same command goes on where it stopped. Ends with 0,
    or 65 when a row had an error.
    """
    import os

    from sunsched.base.errors import DamagedError
    from sunsched.job.batch.batch import RESULTS, Ask, Batch

    wanted = asked(forms or usual())
    of_year = wanted_year(year)
    processes = jobs or len(os.sched_getaffinity(0) if hasattr(os, "sched_getaffinity") else range(os.cpu_count() or 1))
    work = Batch(Ask(sites, config, out, of_year, wanted, processes, as_archive, force))
    shown = 0
    for row in console.progress(work.run(), f"tables of {of_year}", work.n_rows):
        if row.error and shown < 5:
            where = f"row {row.row}" + (f", column {row.column}" if row.column else "")
            console.warn(f"{sites}: {where}: {row.error}")
            shown += 1
    for remark in work.remarks:
        console.warn(remark)
    state = work.state
    if as_json:
        counts = {"year": of_year, "sites": state.good + state.bad, "ok": state.good, "errors": state.bad}
        console.data_json({**counts, "results": str(out / RESULTS)})
    else:
        from sunsched.report.text.answers import batch_answer

        console.data("\n".join(batch_answer(state.good, state.bad, of_year, str(out / RESULTS)).lines()))
    if state.bad:
        raise typer.Exit(DamagedError.exit_code)
