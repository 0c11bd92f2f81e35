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
    """Write the door program's folder: main, table, decision core, pins, notes; whole or not at all."""
    from sunsched.config import toml_file
    from sunsched.job import files, firmware_folder, pipeline

    work = pipeline.built(toml_file.read(config), year, config)
    texts = firmware_folder.files_of(work, year, out, config)
    written = files.write_all(texts, force)
    if as_json:
        console.data_json({"files": [str(path) for path in written], "warnings": list(work.plan.warnings)})
    else:
        console.data("\n".join(f"wrote {path}" for path in written))
    for warning in work.plan.warnings:
        console.warn(warning)
    console.warn(
        "a motor follows this program: read the cautions in its .ino, isolate power before clearing a jam, "
        "look at birds and door every day"
    )
