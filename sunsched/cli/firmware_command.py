"""`firmware`: the whole program for the chip, as a folder that compiles as it is."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Annotated

import typer

from sunsched.base.years import FIRST_YEAR, LAST_YEAR
from sunsched.cli import console
from sunsched.cli.options import AsJson, ConfigPath, Every, Force, out_folder, parsed_years


def firmware(
    config: ConfigPath,
    out: Annotated[Path, out_folder("The program's folder; made if it is not there.")],
    year: Annotated[
        int | None,
        typer.Option("--year", min=FIRST_YEAR, max=LAST_YEAR, help="The first of 21 years. Default: this year."),
    ] = None,
    years: Annotated[str | None, typer.Option("--years", help="The years, such as 2027..2047.", metavar="A..B")] = None,
    worst_error: Annotated[
        int, typer.Option("--worst-error", min=0, max=10, help="How far a minute may be from the plan [minutes].")
    ] = 1,
    force: Force = False,
    every: Every = False,
    as_json: AsJson = False,
) -> None:
    """Write the door program's folder, with a README for the bench and a wiring picture; whole or not at all.

    It drives a motor: without the machine's own keys, or where `drive` says FAILS, it is written with --force only.
    """
    from sunsched.config import toml_file
    from sunsched.job import files, pipeline
    from sunsched.job.bench import bench_of
    from sunsched.job.chip import flash_tables
    from sunsched.job.warnings import all_warnings
    from sunsched.report.bench.folder import folder_of

    span = _years(year, years)
    work = pipeline.built(toml_file.read(config), span[0], config)
    bench = bench_of(work, config, force)
    made = flash_tables.flash_tables(work.configuration, span, worst_error, config, console.status)
    warnings = all_warnings(work.configuration, work.plan)
    console.status("")
    texts = folder_of(bench, made, out, config)
    written = files.write_all(texts, force)
    verdicts = {"forced": list(bench.overridden), "in_doubt": [doubt.name for doubt in bench.in_doubt]}
    if as_json:
        tables = {"tables": len(made.tables), "table_bytes": made.n_bytes, "worst_error_min": made.worst_error_min}
        written_files = {"files": [str(path) for path in written], "warnings": [warned.text for warned in warnings]}
        console.data_json(written_files | {"years": [span[0], span[-1]]} | tables | verdicts)
    else:
        from sunsched.report.text.answer import Block, told
        from sunsched.report.text.answers import firmware_answer
        from sunsched.report.text.plain import wrapped

        years_words = f"{span[0]} to {span[-1]}"
        names = "\n".join(f"wrote {path}" for path in written)
        blocks = [Block(wrapped(flash_tables.words(made), "")), Block(names, f"the names of its {len(written)} files")]
        console.data(told(firmware_answer(str(out), years_words, warnings, bench.overridden), blocks, every))
        if len(made.tables) > 1:
            console.say(flash_tables.one_table_instead(made, work.configuration))
    console.warnings(warnings, every)
    for passed_over in bench.overridden:
        console.folded_warning(f"forced: {passed_over}")
    caution = (
        f"a motor follows this program: read {out / 'README.md'}, isolate power before clearing a jam, "
        "look at birds and door every day"
    )
    console.folded_warning(caution)


def _years(year: int | None, years: str | None) -> tuple[int, ...]:
    """The years asked for: 21 from `year` or this year on, as far as the Sun is known."""
    from sunsched.base.errors import UsageError
    from sunsched.job.chip.flash_tables import YEARS

    if year is not None and years is not None:
        raise UsageError("give --year 2027 for 21 years from it on, or --years 2027..2030")
    if years is not None:
        span = parsed_years(years)
        if span[0] < 2000:
            raise UsageError(f"--years is '{years}'; a chip's table holds years from 2000 on")
        return span
    first = year or dt.date.today().year
    return tuple(range(max(first, 2000), min(first + YEARS - 1, LAST_YEAR) + 1))
