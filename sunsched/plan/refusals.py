"""Years that are refused: days that nothing decides, days and nights too short to be true."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sunsched.base.civil_time import date_of
from sunsched.base.errors import ConfigError, Problem
from sunsched.plan.day import Side
from sunsched.plan.reasons import Reason
from sunsched.plan.rules import Rules
from sunsched.plan.year import NO_MINUTE, YearPlan

_MOST_NAMED = 4


def date_ranges(first_day: int, rows: NDArray[np.bool_]) -> str:
    """Rows as dates for people: '2027-05-12 to 2027-08-01', runs joined, at most four of them named."""
    index = np.flatnonzero(rows)
    runs = np.split(index, np.flatnonzero(np.diff(index) > 1) + 1)
    named = []
    for run in runs[:_MOST_NAMED]:
        first, last = date_of(first_day + int(run[0])), date_of(first_day + int(run[-1]))
        named.append(f"{first}" if first == last else f"{first} to {last}")
    if len(runs) > _MOST_NAMED:
        named.append(f"{len(runs) - _MOST_NAMED} more stretches")
    return ", ".join(named)


def refuse_undecided(morning: Side, evening: Side, first_day: int) -> None:
    """Raise ConfigError naming the dates on which nothing decides a minute."""
    problems = []
    for side, key in ((morning, "morning.no_twilight"), (evening, "evening.no_twilight")):
        undecided = np.isnan(side.time_utc_min) & (side.reason != Reason.SHUT) & (side.reason != Reason.KEPT_IN)
        if undecided.any():
            got = f"a list that decides nothing on {date_ranges(first_day, undecided)}"
            wanted = "a list that decides every day"
            hint = 'set not_before and not_after for "limit", another fallback_lux for "light", or add "shut"'
            problems.append(Problem("", key, got, wanted, hint))
    if problems:
        raise ConfigError(*problems)


def refuse_impossible(plan: YearPlan, rules: Rules) -> None:
    """Raise ConfigError when a closing comes before its opening, or a night is shorter than allowed."""
    down = plan.open_min == NO_MINUTE
    opens, closes = plan.open_min.astype(np.int64), plan.close_min.astype(np.int64)
    backwards = ~down & (closes <= opens)
    problems = []
    if backwards.any():
        got = f"at or before the opening on {date_ranges(plan.first_day, backwards)}"
        problems.append(Problem("", "evening", got, "a closing after the opening of the same day"))
    # In minutes that pass, not on the clock: a chip on civil time skips an hour in one night of the year.
    night_min = plan.utc_min(plan.open_min)[1:] - plan.utc_min(plan.close_min)[:-1]
    with np.errstate(invalid="ignore"):
        short = ~down[1:] & ~down[:-1] & (night_min < rules.warn.least_shut_min)
    if short.any() and not problems:
        nights = date_ranges(plan.first_day, np.append(short, False))
        got = f"followed by a night of {int(night_min[short].min())} min on {nights}"
        wanted = f"nights of at least warn.least_shut_min = {rules.warn.least_shut_min} min"
        problems.append(
            Problem("", "evening", got, wanted, "limit the evening with not_after or the morning with not_before")
        )
    if problems:
        raise ConfigError(*problems)
