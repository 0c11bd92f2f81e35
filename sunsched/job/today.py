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
from sunsched.job import pipeline
from sunsched.job.clock import civil_utc_min
from sunsched.plan.on_a_day import kept_in_on, look_delay_min, rule_on
from sunsched.plan.reasons import Reason
from sunsched.plan.year import NO_MINUTE, YearPlan

# A few days decide most questions in a hundredth of a year's time; a door that stays down for months needs more.
_NEAR_DAYS, _FAR_DAYS = 3, 400
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
    opens, closes = plan.utc_min(plan.open_min), plan.utc_min(plan.close_min)
    found = []
    for row in np.flatnonzero(plan.open_min != NO_MINUTE).tolist():
        day = plan.first_day + row
        found.append((row, _move(configuration, day, "up", float(opens[row]), Reason(plan.open_reason[row]))))
        found.append((row, _move(configuration, day, "down", float(closes[row]), Reason(plan.close_reason[row]))))
    return found


def _move(configuration: Configuration, day: int, to: Literal["up", "down"], at: float, reason: Reason) -> Move:
    evening = to == "down"
    rule = rule_on(configuration.rules, day, evening)
    look = at + look_delay_min(configuration.rules, day, evening)
    return Move(to, at, at + rule.cell_from_min, at + rule.cell_until_min, look, reason)


def _stays_down(plan: YearPlan, configuration: Configuration, row: int) -> str:
    if plan.open_reason[row] != Reason.KEPT_IN:
        return "no twilight"
    kept = kept_in_on(configuration.rules, int(plan.days[row]))
    return "kept in" if kept is None else kept.why
