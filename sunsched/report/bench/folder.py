"""The whole folder of one configuration: the program, the README for the bench and the wiring picture."""

from __future__ import annotations

import os
from pathlib import Path

from sunsched.base.civil_time import date_of
from sunsched.emit.stamp import plan_sha256
from sunsched.job import firmware_folder
from sunsched.job.bench import Bench, bench_of
from sunsched.job.pipeline import Built
from sunsched.job.renewal.program import MadeProgram
from sunsched.report.bench.readme import PICTURE, readme
from sunsched.report.bench.wiring_picture import wiring_picture
from sunsched.report.pictures.picture_file import origin_of, picture


def renewed(work: Built, folder: Path, name: str) -> MadeProgram:
    """The folder for a renewal: its files by name, and the plan's digest of each year in it.

    Raises ConfigError and CheckError as `bench_of` does.
    """
    year = date_of(work.plan.first_day).year
    files = folder_of(bench_of(work, name), year, folder, name)
    return MadeProgram({path.name: content for path, content in files.items()}, {year: plan_sha256(work.plan)})


def folder_of(bench: Bench, year: int, folder: Path, name: str = "") -> dict[Path, bytes]:
    """Every file of the folder with its bytes; `name` is the configuration's file."""
    options = ("--force",) if bench.overridden else ()
    files = firmware_folder.files_of(bench.work, year, folder, name, options)
    command = firmware_folder.command_of(year, folder, name, options)
    config = os.path.basename(name) or "CONFIG"
    files[folder / "README.md"] = readme(bench, command, config, (year, year)).encode("ascii", "replace")
    files[folder / PICTURE] = picture(wiring_picture(bench), ".svg", origin_of("firmware"))
    return files
