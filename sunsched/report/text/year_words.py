"""A year in words: the text alternative of the year's map."""

from __future__ import annotations

import numpy as np

from sunsched.base.civil_time import MONTHS, clock_text, date_of
from sunsched.plan.year import NO_MINUTE, YearPlan
from sunsched.report.page.html import one_line


def date_words(day: int) -> str:
    """A day number as '28 Mar'."""
    date = date_of(day)
    return f"{date.day} {MONTHS[date.month - 1]}"


def extreme(plan: YearPlan, side: str, latest: bool) -> tuple[str, str] | None:
    """Civil time and date of the earliest or latest closing or opening; None when the door never moves."""
    column = plan.close_min if side == "close" else plan.open_min
    civil = plan.civil_min(column)
    if np.isnan(civil).all():
        return None
    row = int(np.nanargmax(civil) if latest else np.nanargmin(civil))
    return clock_text(round(float(civil[row]))), date_words(plan.first_day + row)


def year_description(plan: YearPlan) -> str:
    """What the map shows, for someone who cannot see it."""
    first, last = date_of(plan.first_day), date_of(plan.first_day + plan.n_days - 1)
    parts = [f"Door times at {one_line(plan.site.name, 40)} from {first} to {last}, civil time."]
    for side, word in (("open", "Opens"), ("close", "Closes")):
        early, late = extreme(plan, side, False), extreme(plan, side, True)
        if early and late:
            parts.append(f"{word} between {early[0]} ({early[1]}) and {late[0]} ({late[1]}).")
    down = int((plan.open_min == NO_MINUTE).sum())
    if down:
        parts.append(f"The door stays down on {down} days.")
    parts.append("The tables below hold every day.")
    return " ".join(parts)
