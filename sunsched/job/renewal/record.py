"""The record of a site's renewals: renewal.json beside the tables.

Digests show a table that was damaged or changed by hand. The next year is compared with the stored moments of the Sun.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sunsched.base import inputs
from sunsched.base.civil_time import DAY_MIN
from sunsched.base.errors import SunschedError
from sunsched.plan.year import YearPlan

NAME = "renewal.json"
FORMAT, REVISION = "sunsched-renewal", 1
LARGEST_BYTES = 5_000_000  # of a record or a table; a year takes 10 kB of a record


@dataclass(frozen=True, slots=True)
class Year:
    """One year's tables: the SHA-256 of each file, and the Sun's moments asked for.

    dawn_min, dusk_min   (365 or 366) [minutes after UTC midnight of the row's date], NaN where there is none
    """

    files: Mapping[str, str]
    plan_sha256: str
    dawn_min: NDArray[np.float64]
    dusk_min: NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class ProgramRecord:
    """The record of a program: SHA-256 of its files and of its settings, the digest of each year's plan."""

    files: Mapping[str, str]
    settings_sha256: str
    digests: Mapping[int, str]

    def plain(self) -> dict[str, Any]:
        """Plain values, for the record."""
        digests = {str(year): digest for year, digest in sorted(self.digests.items())}
        return {"files": dict(sorted(self.files.items())), "settings_sha256": self.settings_sha256, "plans": digests}


@dataclass(frozen=True, slots=True)
class Record:
    """The record of a folder: how often it was replaced, for which date the last time, its years and its program."""

    generation: int
    made_for: str
    years: Mapping[int, Year]
    program: ProgramRecord | None = None


EMPTY = Record(0, "", {})


def year_of(plan: YearPlan, plan_sha256: str, files: Mapping[str, bytes]) -> Year:
    """The record of a year."""
    midnight = plan.days.astype(np.float64) * DAY_MIN
    digests = {name: sha256(content) for name, content in files.items()}
    dawn, dusk = (np.round(times - midnight, 2) for times in (plan.dawn_utc_min, plan.dusk_utc_min))
    return Year(digests, plan_sha256, dawn, dusk)


def sha256(content: bytes) -> str:
    """SHA-256 of a file's bytes."""
    return hashlib.sha256(content).hexdigest()


def text(record: Record) -> str:
    """The record as JSON, a line for each year."""
    years = ",\n".join(f'"{year}":{_line(record.years[year])}' for year in sorted(record.years))
    head = {"format": FORMAT, "revision": REVISION, "generation": record.generation, "made_for": record.made_for}
    program = "" if record.program is None else f',\n"program":{json.dumps(record.program.plain())}'
    return f'{json.dumps(head)[:-1]},"years":{{\n{years}\n}}{program}}}\n'


def _line(year: Year) -> str:
    columns = {
        key: [None if np.isnan(minute) else minute for minute in column.tolist()]
        for key, column in (("dawn_min", year.dawn_min), ("dusk_min", year.dusk_min))
    }
    said = {"files": dict(sorted(year.files.items())), "plan_sha256": year.plan_sha256, **columns}
    return json.dumps(said, separators=(",", ":"))


def read(folder: Path) -> Record | None:
    """The record of a folder, or None where there is none or it is damaged."""
    try:
        told = inputs.json_of(inputs.read_bytes(folder / NAME, "the record of renewals", LARGEST_BYTES))
        if (told["format"], told["revision"]) != (FORMAT, REVISION):
            return None
        years = {int(year): _year(said) for year, said in told["years"].items()}
        return Record(int(told["generation"]), str(told["made_for"]), years, _program(told.get("program")))
    except (SunschedError, ValueError, KeyError, TypeError, AttributeError, OverflowError):
        return None


def _year(said: Mapping[str, Any]) -> Year:
    dawn, dusk = (np.array(said[key], np.float64) for key in ("dawn_min", "dusk_min"))
    if len(dawn) not in (365, 366) or len(dawn) != len(dusk):
        raise ValueError
    files = {str(name): str(digest) for name, digest in said["files"].items()}
    # Windows takes a backslash for a folder and what stands before a colon for a drive.
    if any(set(name) & set("/\\:\0") or name in ("", ".", "..") for name in files):
        raise ValueError
    return Year(files, str(said["plan_sha256"]), dawn, dusk)


def generation_of(folder: Path) -> int | None:
    """The generation of a complete folder, None of an incomplete one."""
    record = read(folder)
    return None if record is None else record.generation


def damaged_files(folder: Path, year: Year) -> list[str]:
    """The files of a year that are missing or no longer what was written."""
    found = []
    for name, digest in year.files.items():
        path = folder / name
        try:
            whole = not path.is_symlink() and sha256(inputs.read_bytes(path, "a table", LARGEST_BYTES)) == digest
        except (OSError, SunschedError):
            whole = False
        if not whole:
            found.append(name)
    return found


def _program(told: Any) -> ProgramRecord | None:
    if told is None:
        return None
    files = {str(name): str(digest) for name, digest in told["files"].items()}
    if any("/" in name or name in ("", ".", "..") for name in files):
        raise ValueError
    return ProgramRecord(files, str(told["settings_sha256"]), {int(y): str(d) for y, d in told["plans"].items()})
