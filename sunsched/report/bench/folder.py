"""The whole folder of one configuration: the program, the README for the bench and the wiring picture."""

from __future__ import annotations

import os
from pathlib import Path

from sunsched.job import firmware_folder
from sunsched.job.bench import Bench, bench_of
from sunsched.job.pipeline import Built
from sunsched.report.bench.readme import PICTURE, readme
from sunsched.report.bench.wiring_picture import wiring_picture
from sunsched.report.pictures.picture_file import origin_of, picture


def program_files(work: Built, year: int, folder: Path, name: str = "", force: bool = False) -> dict[Path, bytes]:
    """Every file of the folder with its bytes; `name` is the configuration's file.

    Raises ConfigError and CheckError as `bench_of` does, unless `force`.
    """
    return folder_of(bench_of(work, name, force), year, folder, name)


def folder_of(bench: Bench, year: int, folder: Path, name: str = "") -> dict[Path, bytes]:
    """The same for a machine that has been judged."""
    options = ("--force",) if bench.overridden else ()
    files = firmware_folder.files_of(bench.work, year, folder, name, options)
    command = firmware_folder.command_of(year, folder, name, options)
    config = os.path.basename(name) or "CONFIG"
    files[folder / "README.md"] = readme(bench, command, config, (year, year)).encode("ascii", "replace")
    files[folder / PICTURE] = picture(wiring_picture(bench), ".svg", origin_of("firmware"))
    return files
