"""The whole folder of one configuration: the program, the README for the bench and the wiring picture."""

from __future__ import annotations

import os
from pathlib import Path

from sunsched.base.civil_time import date_of
from sunsched.emit.stamp import plan_sha256
from sunsched.job import firmware_folder
from sunsched.job.bench import Bench, bench_of
from sunsched.job.chip.flash_tables import LAST_YEAR, YEARS, FlashTables, flash_tables
from sunsched.job.pipeline import Built
from sunsched.job.renewal.program import MadeProgram
from sunsched.report.bench.readme import PICTURE, readme
from sunsched.report.bench.wiring_picture import wiring_picture
from sunsched.report.pictures.picture_file import origin_of, picture


def renewed(work: Built, folder: Path, name: str) -> MadeProgram:
    """The folder for a renewal: its files by name, and the plan's digest of each year in it.

    Raises ConfigError and CheckError as `bench_of` does.
    """
    bench = bench_of(work, name)
    first = date_of(work.plan.first_day).year
    made = flash_tables(work.configuration, range(first, min(first + YEARS, LAST_YEAR + 1)), name=name)
    files = folder_of(bench, made, folder, name)
    digests = {date_of(plan.first_day).year: plan_sha256(plan) for plan in made.plans}
    return MadeProgram({path.name: content for path, content in files.items()}, digests)


def folder_of(bench: Bench, made: FlashTables, folder: Path, name: str = "") -> dict[Path, bytes]:
    """Every file of the folder with its bytes.

    made   the tables that are compiled in; name   the configuration's file
    """
    options = ("--force",) if bench.overridden else ()
    files = firmware_folder.files_of(bench.work, made, folder, name, options)
    command = firmware_folder.command_of(made, folder, name, options)
    config = os.path.basename(name) or "CONFIG"
    files[folder / "README.md"] = readme(bench, command, config, (made.first_year, made.last_year)).encode(
        "ascii", "replace"
    )
    files[folder / PICTURE] = picture(wiring_picture(bench), ".svg", origin_of("firmware"))
    return files
