"""Reads a record of measured light: an EPW weather file or CSV."""

from __future__ import annotations

from pathlib import Path

from sunsched.base.civil_time import year_days, zone_of
from sunsched.base.errors import LogError, MissingFileError
from sunsched.config.configuration import Configuration
from sunsched.study.measured import Record, csv_record, epw_record


def read_record(path: Path, configuration: Configuration, year: int) -> Record:
    """The record in a file; `.epw` is EPW, anything else CSV in the site's standard time unless its times say more.

    Raises MissingFileError where the file cannot be read, LogError naming row, got and wanted.
    """
    try:
        with path.open(encoding="utf-8-sig", newline="") as lines:
            if path.suffix.lower() == ".epw":
                return epw_record(lines, path.name)
            offset_min = zone_of(configuration.site.zone).standard_offset_min(*year_days(year))
            return csv_record(lines, path.name, offset_min)
    except FileNotFoundError:
        raise MissingFileError(f"{path}: there is no such file; wanted an EPW or CSV file of measured light") from None
    except UnicodeDecodeError as error:
        raise LogError(f"{path}: byte {error.start} is not UTF-8; wanted an EPW or CSV text file") from None
    except OSError as error:
        raise MissingFileError(f"{path}: {error.strerror}; wanted a readable file") from None
