"""Rows of tests/authorities, and times read from them."""

from __future__ import annotations

import csv
import datetime as dt
from pathlib import Path

from sunsched.base.civil_time import day_number

FOLDER = Path(__file__).parent.parent / "authorities"


def rows(name: str) -> list[dict[str, str]]:
    """All rows of one file."""
    with (FOLDER / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def utc_min(text: str) -> float:
    """An ISO time with Z as minutes since 1970-01-01T00:00Z."""
    moment = dt.datetime.fromisoformat(text)
    assert moment.utcoffset() == dt.timedelta(0)
    return (moment - dt.datetime(1970, 1, 1, tzinfo=dt.UTC)).total_seconds() / 60.0


def day_of(text: str) -> int:
    """An ISO date as a day number."""
    return day_number(dt.date.fromisoformat(text))
