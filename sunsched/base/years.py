"""The years that can be asked for, and which one is meant when none is named. Loads nothing: help texts read it."""

from __future__ import annotations

import datetime as dt

FIRST_YEAR, LAST_YEAR = 1990, 2052  # for which the Sun is known
_COMING_FROM_MONTH = 11


def coming_year(today: dt.date) -> int:
    """The year of the days to come: today's, from 1 November on the next, whose table is wanted before it begins."""
    year = today.year + (today.month >= _COMING_FROM_MONTH)
    return min(max(year, FIRST_YEAR), LAST_YEAR)
