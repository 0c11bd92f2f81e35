"""Reads a table back from any of its forms, proves that it is whole, and compares it with a fresh plan."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sunsched.base.civil_time import clock_text, date_of, year_days
from sunsched.base.errors import DamagedError, MissingFileError
from sunsched.emit import forms
from sunsched.emit.read_table import ReadTable
from sunsched.plan.year import NO_MINUTE, YearPlan
from sunsched.table import facts

_LARGEST_BYTES = 4_000_000


def read_file(path: str) -> ReadTable:
    """The table in a file of any form, whatever its name.

    Raises MissingFileError, or DamagedError when it is none of these or not whole.
    """
    try:
        raw = Path(path).read_bytes()
    except OSError as error:
        raise MissingFileError(f"{path}: {error.strerror}; wanted a table to read back") from None
    try:
        return read_bytes(raw)
    except DamagedError as error:
        raise DamagedError(f"{path}: {error}") from None


def read_bytes(raw: bytes) -> ReadTable:
    """The table in a file's bytes; see `read_file`."""
    if len(raw) > _LARGEST_BYTES:
        raise DamagedError(f"{len(raw)} bytes, more than any table has")
    return forms.read_back(raw)


def differences(table: ReadTable, plan_of: Callable[[int], YearPlan], within_min: int = 0) -> list[dict[str, Any]]:
    """The days on which a table and the fresh plan of a year differ by more than `within_min`, or in a fact.

    A clock that differs is one entry without a date.
    """
    found: list[dict[str, Any]] = []
    for year, minutes in table.minutes.items():
        plan = plan_of(year)
        want = np.array([plan.open_min, plan.close_min], np.int32)
        clock = (plan.chip.keeps, plan.chip_offset_min)
        for got, wanted, what in zip((table.keeps, table.offset_min), clock, ("keeps", "utc_offset_min"), strict=True):
            if got is not None and got != wanted and not any(entry.get("what") == what for entry in found):
                found.append({"what": what, "got": got, "wanted": wanted})
        off = (np.abs(minutes - want) > within_min) | ((minutes == NO_MINUTE) != (want == NO_MINUTE))
        wrong_fact = _wrong_facts(table, plan, year)
        for row in np.flatnonzero(off.any(axis=0) | wrong_fact):
            entry: dict[str, Any] = {"date": date_of(plan.first_day + int(row)).isoformat()}
            for side, word in ((0, "open_min"), (1, "close_min")):
                if off[side, row]:
                    entry[word] = {"got": _value(minutes[side, row]), "wanted": _value(want[side, row])}
            if wrong_fact[row]:
                entry["facts"] = "differ"
            found.append(entry)
    return found


def _wrong_facts(table: ReadTable, plan: YearPlan, year: int) -> NDArray[np.bool_]:
    """Days whose facts differ; a table of many years may know fewer, never more."""
    if table.image is None:
        return np.zeros(plan.n_days, np.bool_)
    got = facts.block_facts(table.image.facts, plan.first_day, plan.n_days)
    want = plan.fact_bits
    if table.image.n_years > 1:
        return np.asarray((got & ~want) != 0)
    return np.asarray(got != want)


def _value(minute: Any) -> int | None:
    return None if int(minute) == NO_MINUTE else int(minute)


def days_of(table: ReadTable) -> list[dict[str, Any]]:
    """Every day of every year as plain data."""
    return [
        {
            "date": date_of(year_days(year)[0] + row).isoformat(),
            "open_min": _value(minutes[0, row]),
            "close_min": _value(minutes[1, row]),
        }
        for year, minutes in table.minutes.items()
        for row in range(minutes.shape[1])
    ]


def words_of(table: ReadTable) -> str:
    """What was read, in a few lines: kind, layout, years, and the first day of each month of the first year."""
    years = list(table.minutes)
    span = f"{years[0]}" if len(years) == 1 else f"{years[0]} to {years[-1]}"
    lines = [f"{table.kind}, {span}, whole"]
    if table.image is not None:
        image = table.image
        lines.append(
            f"layout {image.layout.name}: {len(image.data)} bytes of minutes, {len(image.rules)} rules beside them"
        )
    if table.keeps is not None:
        lines.append(f"clock: {table.keeps}, UTC{table.offset_min or 0:+d} min without summer time")
    minutes = table.minutes[years[0]]
    first = year_days(years[0])[0]
    for month in range(1, 13):
        row = (np.datetime64(f"{years[0]}-{month:02d}-01") - np.datetime64(f"{years[0]}-01-01")).astype(int)
        opens, closes = (
            "stays down" if minutes[side, row] == NO_MINUTE else clock_text(int(minutes[side, row])) for side in (0, 1)
        )
        lines.append(f"  {date_of(first + int(row))}  {opens}  {closes}  chip time")
    return "\n".join(lines)
