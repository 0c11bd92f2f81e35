"""`firmware`: the whole program for the chip, as a folder that compiles as it is."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from sunsched.cli import console
from sunsched.cli.options import AsJson, ConfigPath, Force, Year


def firmware(
    config: ConfigPath,
    year: Year,
    out: Annotated[Path, typer.Option("--out", help="The program's folder; made if it is not there.")],
    force: Force = False,
    as_json: AsJson = False,
) -> None:
    """Write the door program's folder, with a README for the bench and a wiring picture; whole or not at all.

    It drives a motor: without the machine's own keys, or where `drive` says FAILS, it is written with --force only.
    """
    from sunsched.config import toml_file
    from sunsched.job import files, pipeline
    from sunsched.job.bench import bench_of
    from sunsched.report.bench.folder import folder_of

    work = pipeline.built(toml_file.read(config), year, config)
    bench = bench_of(work, config, force)
    texts = folder_of(bench, year, out, config)
    written = files.write_all(texts, force)
    told = {"forced": list(bench.overridden), "in_doubt": [doubt.name for doubt in bench.in_doubt]}
    if as_json:
        console.data_json({"files": [str(path) for path in written], "warnings": list(work.plan.warnings)} | told)
    else:
        console.data("\n".join(f"wrote {path}" for path in written))
    for warning in work.plan.warnings:
        console.warn(warning)
    for passed_over in bench.overridden:
        console.warn(f"forced: {passed_over}")
    for doubt in bench.in_doubt:
        console.warn(f"{doubt.name}: IN DOUBT, turned by {', '.join(doubt.decided_by) or 'several inputs together'}")
    console.warn(
        f"a motor follows this program: read {out / 'README.md'}, isolate power before clearing a jam, "
        "look at birds and door every day"
    )
