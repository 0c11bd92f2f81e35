"""The files that the page gives: those of the commands, byte for byte, made in memory."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from pathlib import Path

from sunsched.base.errors import UsageError
from sunsched.base.years import LAST_YEAR
from sunsched.config.configuration import Configuration
from sunsched.config.toml_file import parsed
from sunsched.emit.stamp import file_stem
from sunsched.job import pipeline
from sunsched.job.tables import Ask, tables
from sunsched.job.zipped import zipped
from sunsched.planner.work import Asked, changed_text
from sunsched.report.bench.folder import folder_of
from sunsched.report.page import report_file
from sunsched.report.sheets import sheet_file

# The folder in the zip, as `firmware -o door` names it.
PROGRAM_FOLDER = "door"
PROGRAM_YEARS = (1, 5, 21)


def download(asked: Asked, kind: str, n_years: int = PROGRAM_YEARS[-1]) -> tuple[str, bytes]:
    """A file's name and bytes. Raises UsageError for a kind that is none, and what its command raises."""
    if kind not in KINDS:
        raise UsageError(f"the file is '{kind}'; wanted one of {', '.join(KINDS)}")
    configuration = parsed(changed_text(asked).encode(), asked.name)
    if kind == "program":
        return _program(configuration, asked, n_years)
    return KINDS[kind](configuration, asked)


def _table(form: str, ending: str) -> Callable[[Configuration, Asked], tuple[str, bytes]]:
    def made(configuration: Configuration, asked: Asked) -> tuple[str, bytes]:
        files = tables(configuration, Ask((asked.year,), (form,)), asked.name).files
        return next((name, content) for name, content in files.items() if name.endswith(f".{ending}"))

    return made


def _sheet(configuration: Configuration, asked: Asked) -> tuple[str, bytes]:
    sheet = sheet_file.sheet_of(configuration, *_week(asked), asked.name)
    return f"{_stem(configuration, asked)}_{asked.day}.html", sheet_file.sheet_bytes(sheet, ".html")


def _calendar(configuration: Configuration, asked: Asked) -> tuple[str, bytes]:
    sheet = sheet_file.sheet_of(configuration, *_week(asked), asked.name)
    return f"{_stem(configuration, asked)}_{asked.day}.ics", sheet_file.calendar_bytes(sheet)


def _report(configuration: Configuration, asked: Asked) -> tuple[str, bytes]:
    work = pipeline.built(configuration, asked.year, asked.name)
    return f"{file_stem(work.plan)}.html", report_file.report_of(work, asked.name)


def _program(configuration: Configuration, asked: Asked, n_years: int = 1) -> tuple[str, bytes]:
    """The program's folder as a zip. Raises as `firmware` does where the machine is not described or fails."""
    from sunsched.job.bench import bench_of
    from sunsched.job.chip.flash_tables import flash_tables

    if n_years not in PROGRAM_YEARS:
        raise UsageError(f"the program's years are {n_years}; wanted one of {', '.join(map(str, PROGRAM_YEARS))}")
    years = range(asked.year, min(asked.year + n_years, LAST_YEAR + 1))
    bench = bench_of(pipeline.built(configuration, asked.year, asked.name), asked.name)
    made = flash_tables(configuration, years, name=asked.name)
    files = folder_of(bench, made, Path(PROGRAM_FOLDER), asked.name)
    return f"{PROGRAM_FOLDER}.zip", zipped(files)


def _week(asked: Asked) -> tuple[dt.date, dt.date]:
    return asked.day, asked.day + dt.timedelta(days=sheet_file.FIRST_WEEK_DAYS - 1)


def _stem(configuration: Configuration, asked: Asked) -> str:
    return file_stem(pipeline.plan_of(configuration, asked.year, asked.name)).rpartition("_")[0]


KINDS: dict[str, Callable[[Configuration, Asked], tuple[str, bytes]]] = {
    "header": _table("c", "h"),
    "hex": _table("eeprom", "hex"),
    "bin": _table("eeprom", "bin"),
    "sheet": _sheet,
    "calendar": _calendar,
    "report": _report,
    "program": _program,
}
