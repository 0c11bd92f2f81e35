"""`today`'s work: whether the door is to be up or down at an instant, its next move and why, and when to look.

What the plan wants of the door, not what the door does: nothing here talks to the chip.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Literal

import numpy as np

from sunsched.base.civil_time import DAY_MIN, day_number, zone_of
from sunsched.base.errors import UsageError
from sunsched.base.years import FIRST_YEAR, LAST_YEAR
from sunsched.config.configuration import Configuration
from sunsched.controller.door_window import TRIES_MIN, evening_windows, morning_windows
from sunsched.job import pipeline
from sunsched.job.clock import civil_utc_min
from sunsched.plan.planning import kept_rows
from sunsched.plan.reasons import Reason
from sunsched.plan.year import NO_MINUTE, YearPlan

# A few days decide most questions in a hundredth of a year's time; a door that stays down for months needs more.
_NEAR_DAYS, _FAR_DAYS = 3, 400
UP: Literal["up"] = "up"
DOWN: Literal["down"] = "down"
_FIRST_DAY, _LAST_DAY = day_number(dt.date(FIRST_YEAR, 1, 1)), day_number(dt.date(LAST_YEAR, 12, 31))


@dataclass(frozen=True, slots=True)
class Move:
    """A planned move of the door.

    utc_min   the planned minute [utc_min]
    from_utc_min, until_utc_min   between which the light cell may place it; both `utc_min` by the clock alone
    look_utc_min   when to look: after the last of these, the door's travel and its tries
    """

    to: Literal["up", "down"]
    utc_min: float
    from_utc_min: float
    until_utc_min: float
    look_utc_min: float
    reason: Reason

    @property
    def by_cell(self) -> bool:
        """Whether the light cell may place it."""
        return self.from_utc_min < self.until_utc_min


@dataclass(frozen=True, slots=True)
class HutNow:
    """A hut at an instant.

    last, next   the planned moves before and after it; None where none is planned within reach
    stays_down   why no move is planned on days between the two; '' where there is no such day
    """

    configuration: Configuration
    now_utc_min: float
    last: Move | None
    next: Move | None
    stays_down: str

    @property
    def door(self) -> Literal["up", "down"]:
        """What the plan wants now, by the planned minute."""
        return "down" if self.last is None else self.last.to

    @property
    def look(self) -> Move | None:
        """The move after which to look next: the last one while its look is still to come; None on days without."""
        if self.last is not None and self.last.look_utc_min > self.now_utc_min:
            return self.last
        return None if self.stays_down else self.next


def instant_of(configuration: Configuration, text: str) -> dt.datetime:
    """The aware moment of '2027-03-28 18:20', civil time at the hut, or of one with Z or an offset, '...T16:20Z'.

    Raises UsageError with what was wanted.
    """
    try:
        moment = dt.datetime.fromisoformat(text)
    except ValueError:
        raise UsageError(f"--at is '{text}'; wanted a date and time such as '2027-03-28 18:20'") from None
    if moment.tzinfo is not None:
        return moment
    utc_min = civil_utc_min(zone_of(configuration.site.zone), f"{moment:%Y-%m-%d %H:%M:%S}", "--at")
    return dt.datetime.fromtimestamp(utc_min * 60, dt.UTC)


def hut_now(configuration: Configuration, now: dt.datetime, name: str = "") -> HutNow:
    """The hut at `now`, an aware moment. Raises ConfigError when the days around it cannot be planned, UsageError
    for a moment outside the years in which the Sun is known."""
    now_utc_min = now.timestamp() / 60
    day = int(now_utc_min // DAY_MIN)
    if not _FIRST_DAY <= day <= _LAST_DAY:
        raise UsageError(f"the moment is {now:%Y-%m-%d}; wanted one of the years {FIRST_YEAR} to {LAST_YEAR}")
    found = _around(configuration, now_utc_min, day, _NEAR_DAYS, name)
    return found if found.next is not None else _around(configuration, now_utc_min, day, _FAR_DAYS, name)


def _around(configuration: Configuration, now_utc_min: float, day: int, days_ahead: int, name: str) -> HutNow:
    first = max(day - _NEAR_DAYS, _FIRST_DAY)
    plan = pipeline.span_of(configuration, first, min(day + days_ahead, _LAST_DAY) - first + 1, name)
    moves = _moves(plan, configuration)
    before = [entry for entry in moves if entry[1].utc_min <= now_utc_min]
    after = [entry for entry in moves if entry[1].utc_min > now_utc_min]
    last, coming = before[-1] if before else None, after[0] if after else None
    # Days that are over say nothing of what is to come: from the one whose noon is not yet half a day ago.
    noons = plan.utc_min(plan.noon_min)
    still_to_come = noons + DAY_MIN / 2 > now_utc_min
    until = coming[0] if coming is not None else plan.n_days
    rows = np.flatnonzero(still_to_come & (plan.open_min == NO_MINUTE) & (np.arange(plan.n_days) < until))
    why = _stays_down(plan, configuration, int(rows[0])) if len(rows) and (last is None or last[1].to == "down") else ""
    return HutNow(configuration, now_utc_min, last and last[1], coming and coming[1], why)


def _moves(plan: YearPlan, configuration: Configuration) -> list[tuple[int, Move]]:
    """Every move of a plan with its row, in time."""
    mornings = morning_windows(plan, configuration.rules)
    evenings = evening_windows(plan, configuration.rules)
    found = []
    for to, planned, window, reasons in (
        (UP, plan.open_min, mornings, plan.open_reason),
        (DOWN, plan.close_min, evenings, plan.close_reason),
    ):
        at, first, last = (plan.utc_min(minutes.astype(np.int16)) for minutes in (planned, *window))
        # A look comes after the planned minute too: the cell may fail, and the door go by the clock.
        look = np.fmax(at, last) + TRIES_MIN
        for row in np.flatnonzero(plan.open_min != NO_MINUTE).tolist():
            times = float(at[row]), float(first[row]), float(last[row]), float(look[row])
            found.append((row, Move(to, *times, Reason(reasons[row]))))
    return sorted(found, key=lambda entry: entry[1].utc_min)


def _stays_down(plan: YearPlan, configuration: Configuration, row: int) -> str:
    if plan.open_reason[row] != Reason.KEPT_IN:
        return "no twilight"
    day = plan.days[row : row + 1]
    return next((entry.why for entry in configuration.rules.kept_in if kept_rows(entry, day).any()), "kept in")
