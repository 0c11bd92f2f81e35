"""Reads a table back from any of its forms, proves that it is whole, and compares it with a fresh plan.

What a chip would compile or load is proven, not only the rows: a text by the digest it carries of itself, an image by
its checksum and the checksums and the end of its Intel HEX. Texts of versions that wrote no digest are still read;
with a configuration they are made anew and compared as a whole, without one they are not called proven.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sunsched.base import inputs, text_digest
from sunsched.base.civil_time import clock_text, date_of, year_days
from sunsched.base.errors import DamagedError
from sunsched.config.configuration import Configuration
from sunsched.emit import forms
from sunsched.emit.read_table import ReadTable
from sunsched.emit.stamp import plan_sha256
from sunsched.job import pipeline
from sunsched.plan.year import NO_MINUTE, YearPlan
from sunsched.table import facts
from sunsched.table.image import ChipSettings

# The largest table of ours, 60 years as a header, has a third of that.
LARGEST_BYTES = 1_000_000


def read_file(path: str) -> ReadTable:
    """The table in a file of any form, whatever its name.

    Raises MissingFileError, or DamagedError when it is none of these or not whole.
    """
    raw = inputs.read_bytes(path, "a table to read back", LARGEST_BYTES)
    try:
        return read_bytes(raw)
    except DamagedError as error:
        raise DamagedError(f"{inputs.name_of(path)}: {error}") from None


def read_bytes(raw: bytes) -> ReadTable:
    """The table in a file's bytes; see `read_file`."""
    if len(raw) > LARGEST_BYTES:
        raise DamagedError(f"{len(raw)} bytes, more than any table has")
    return forms.read_back(raw)


def differences(
    table: ReadTable,
    plan_of: Callable[[int], YearPlan],
    within_min: int = 0,
    settings: ChipSettings | None = None,
) -> list[dict[str, Any]]:
    """The days on which a table and the fresh plan of a year differ by more than `within_min`, or in a fact.

    A table made with a wider error of its own is held to that. A clock, `settings` for the program that an image does
    not carry, and a plan that differs in nothing but facts and solar midnight are one entry each, without a date.
    """
    within_min = max(within_min, table.within_min)
    found = _other_settings(table, settings)
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
        if not found and table.plan_sha256 and (fresh := plan_sha256(plan)) != table.plan_sha256:
            found.append({"what": "facts or solar midnight: plan_sha256", "got": table.plan_sha256, "wanted": fresh})
    return found


def _other_settings(table: ReadTable, settings: ChipSettings | None) -> list[dict[str, Any]]:
    got = ChipSettings.of_bytes(table.image.settings) if table.image is not None else None
    if settings is None or got is None:
        return []
    return [
        {"what": key.name, "got": getattr(got, key.name), "wanted": getattr(settings, key.name)}
        for key in fields(ChipSettings)
        if key.name != "worst_error_min" and getattr(got, key.name) != getattr(settings, key.name)
    ]


def compared(
    table: ReadTable, configuration: Configuration, name: str = "", within_min: int = 0
) -> tuple[list[dict[str, Any]], str]:
    """The differences from a fresh plan, and how the whole text is proven: `digest`, `checksum`, `made anew`, or ''.

    A text without a digest is made anew, by the version and zone release that it names, and compared as a whole.
    """
    from sunsched.job.compact import chip_settings

    found = differences(
        table, lambda year: pipeline.plan_of(configuration, year, name), within_min, chip_settings(configuration)
    )
    if table.proof or found or table.image is not None:
        return found, table.proof
    (year,) = table.minutes
    work = pipeline.built(configuration, year, name)
    stamp = work.stamp._replace(version=_told(_VERSIONS, table.text), tzdata=_told(_RELEASES, table.text))
    anew = forms.plain_file(table.form, work.plan, stamp).decode().replace("\r\n", "\n")
    return found, "made anew" if text_digest.without_digest(anew) == table.text else ""


# Where a header, JSON and CSV name the version and the zone release that they were made with.
_VERSIONS = re.compile(r'GENERATED by sunsched (\S+)\. |^"sunsched":"([^"]+)"|"sunsched":"([^"]+)"|,([^,\n]+)\n\Z')
_RELEASES = re.compile(r'; tzdata (\w+)$|"tzdata":"(\w+)"|,(\w+),[^,\n]+\n\Z', re.MULTILINE)


def _told(pattern: re.Pattern[str], text: str) -> str:
    found = pattern.search(text)
    return next((group for group in found.groups() if group), "") if found else ""


def _wrong_facts(table: ReadTable, plan: YearPlan, year: int) -> NDArray[np.bool_]:
    """Days whose facts differ; a table of many years may know fewer, never more."""
    if table.image is None:
        return np.zeros(plan.n_days, np.bool_)
    got = facts.block_facts(table.image.facts, plan.first_day, plan.n_days)
    want = plan.fact_bits | facts.unasked(plan, table.image.n_years)
    if table.image.n_years > 1:
        return np.asarray((got & ~want) != 0)
    return np.asarray(got != want)


def _value(minute: Any) -> int | None:
    return None if int(minute) == NO_MINUTE else int(minute)


_NOT_PROVEN = "rows whole; the text beside them is not proven, for it carries no digest of itself"


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
    lines = [f"{table.kind}, {span}, {'whole' if table.proof else _NOT_PROVEN}"]
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
