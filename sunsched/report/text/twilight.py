"""The Sun's events of a year as plain text: the middle of each month, or every day."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from sunsched.report.text.answer import Block, told
from sunsched.report.text.answers import twilight_answer
from sunsched.report.text.plain import columns

MIDDLE = "15"  # day of the month
Rows = Sequence[Mapping[str, Any]]


def twilight_text(site: str, year: int, rows: Rows, every: bool = False) -> str:
    """The answer, then the rows of `twilight --json` as a table: of twelve days, or with `every` of all."""
    shown = [row for row in rows if every or row["date"].endswith(f"-{MIDDLE}")]
    blocks = [Block(_by_month(shown) if not every else _list(shown))]
    if not every:
        blocks.append(Block("\n", "every day"))
    return told(twilight_answer(site, year, rows), blocks, every)


def _list(rows: Rows) -> str:
    table = [("date", "depression", "morning (UTC)", "evening (UTC)")]
    for row in rows:
        table.append((row["date"], f"{row['depression_deg']:g}", _event(row, "morning"), _event(row, "evening")))
    return columns(table, frozenset({1, 2, 3}))


def _by_month(rows: Rows) -> str:
    """A line for each date and a pair of times for each angle, hours and minutes of UTC."""
    angles = list(dict.fromkeys(row["depression_deg"] for row in rows))
    table = [("UTC, in the middle of", *(f"{angle:g} deg" for angle in angles))]
    for date in dict.fromkeys(row["date"] for row in rows):
        of_it = {row["depression_deg"]: row for row in rows if row["date"] == date}
        table.append((date, *(_pair(of_it[angle]) for angle in angles)))
    return columns(table)


def _pair(row: Mapping[str, Any]) -> str:
    states = (row["morning_state"], row["evening_state"])
    if states[0] == states[1] != "crosses":
        return str(states[0]).replace("_", " ")
    return " ".join(row[f"{side}_utc"][11:16] if row[f"{side}_utc"] else "-" for side in ("morning", "evening"))


def _event(row: Mapping[str, Any], side: str) -> str:
    return str(row[f"{side}_utc"] or row[f"{side}_state"].replace("_", " "))
