"""The program's folder as a part of a site's generation: when it is due, and what the record stores of it.

The folder `<site>_program` lies beside the site's tables and is replaced with them, as a whole. It is due where it is
missing or damaged, where the configuration or the plan of a year it holds has changed, and where a new one would reach
further than one whose years end before the days to be covered. Another version of this tool is no reason: the program
in the hut works on.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from sunsched.config.configuration import Configuration
from sunsched.job.pipeline import Built
from sunsched.job.renewal.due import Due
from sunsched.job.renewal.record import ProgramRecord, sha256

if TYPE_CHECKING:
    from sunsched.plan.year import YearPlan

NAME = "program"  # what --as takes


@dataclass(frozen=True, slots=True)
class MadeProgram:
    """A program's folder: its files by name, and the plan's digest of each year that it holds."""

    files: Mapping[str, bytes]
    digests: Mapping[int, str]


# What makes the folder of that name: the first year worked out, the folder, the configuration's file.
Maker = Callable[[Built, Path, str], MadeProgram]


def folder_name(stem: str) -> str:
    """The folder's name inside the site's, which is the sketch's name too."""
    return f"{stem}_program"


def record_of(made: MadeProgram, configuration: Configuration) -> ProgramRecord:
    """The record of a program that was made."""
    files = {name: sha256(content) for name, content in made.files.items()}
    return ProgramRecord(files, settings_sha256(configuration), made.digests)


def settings_sha256(configuration: Configuration) -> str:
    """A digest of a configuration as understood."""
    return sha256(json.dumps(configuration.as_written(), sort_keys=True, default=str).encode())


def program_due(
    folder: Path,
    record: ProgramRecord | None,
    configuration: Configuration,
    plans: Mapping[int, YearPlan],
    digests: Mapping[int, str],
) -> Due | None:
    """Why the program is due, or None. `plans` and `digests` are of the years to be covered, the first of them now."""
    if record is None:
        return Due("there is no program yet")
    wrong = [name for name, digest in record.files.items() if not _whole(folder / name, digest)]
    if wrong:
        return Due(f"{folder.name}/{', '.join(wrong)} missing, damaged or changed by hand", damaged=True)
    if record.settings_sha256 != settings_sha256(configuration):
        return Due("the configuration changed")
    moved = [year for year in plans if record.digests.get(year, digests[year]) != digests[year]]
    if moved:
        return Due(f"its plan of {moved[0]} changed with the zone rules or this tool")
    first, last = min(record.digests), max(record.digests)
    if max(plans) > last and min(plans) > first:
        return Due(f"its table ends with {last}")
    return None


def _whole(path: Path, digest: str) -> bool:
    try:
        return not path.is_symlink() and sha256(path.read_bytes()) == digest
    except OSError:
        return False
