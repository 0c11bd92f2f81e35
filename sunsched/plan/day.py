"""The rules of a day, applied to all days at once: moment, fallback, later, limits, kept-in.

Every minute is worked out as an absolute time [utc_min] and rounded up to the chip's whole
minute only at the end, because a door never moves before its moment. `trace`, if given, is
called for every step: `sunsched day` runs the same code as the year's table.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sunsched.base.civil_time import WEEKDAYS, Zone, clock_text, weekday
from sunsched.plan.moments import Moments, moment_words
from sunsched.plan.reasons import Reason, by_sun
from sunsched.plan.rules import MomentRule, evening_minute
from sunsched.sky.crossings import State

Times = NDArray[np.float64]
Days = NDArray[np.int64]
Mask = NDArray[np.bool_]
TraceFn = Callable[[str, str, Mask, Times, str], None]


@dataclass(slots=True)
class Side:
    """One side of the days, morning or evening, as it is being decided.

    civil_day   (n,) [day number] civil date at solar noon
    time_utc_min   (n,) [utc_min], NaN while undecided or when the door stays down
    sun_utc_min   (n,) [utc_min] the Sun's moment that the time stands on, NaN where none
    fell_back   (n,) the moment asked for never comes on this day
    reason   (n,) Reason of the last step that changed the time
    stood_in   (n,) the reason that stands in, where it took the place of a moment that never comes
    """

    evening: bool
    zone: Zone
    civil_day: Days
    time_utc_min: Times
    sun_utc_min: Times
    fell_back: Mask
    reason: NDArray[np.uint8]
    stood_in: NDArray[np.uint8]
    trace: TraceFn | None = None

    @classmethod
    def undecided(cls, evening: bool, zone: Zone, civil_day: Days, trace: TraceFn | None) -> Side:
        """A side before any rule."""
        nothing = np.full(len(civil_day), np.nan)
        reason = np.full(len(civil_day), Reason.TWILIGHT, np.uint8)
        return cls(evening, zone, civil_day, nothing, nothing.copy(), np.isinf(nothing), reason, reason.copy(), trace)

    def take(self, rows: Mask, times: Times, reason: Reason, detail: str) -> None:
        """Take `times` on `rows`, for `reason`, and call the trace."""
        if not rows.any():
            return
        self.time_utc_min = np.where(rows, times, self.time_utc_min)
        self.reason[rows] = reason
        if reason.stands_in:
            self.stood_in[rows] = reason
        if self.trace is not None:
            self.trace("evening" if self.evening else "morning", reason.word, rows, self.time_utc_min, detail)

    def limit_utc_min(self, civil_minute: int) -> Times:
        """A civil-time limit as absolute times, one for each day [utc_min]."""
        return self.zone.utc_min_of(self.civil_day, evening_minute(civil_minute) if self.evening else civil_minute)


def decide(side: Side, rows: Mask, rule: MomentRule, moments: Moments, season: str) -> None:
    """Apply one rule to the rows on which it holds."""
    words = moment_words(rule) + (f", season '{season}'" if season else "")
    asked = moments.asked(rule, side.evening)
    side.sun_utc_min = np.where(rows, asked.time_utc_min, side.sun_utc_min)
    side.take(rows & ~np.isnan(asked.time_utc_min), asked.time_utc_min, Reason.TWILIGHT, words)
    never = rows & np.isnan(asked.time_utc_min)
    side.fell_back |= never
    if never.any():
        _fall_back(side, never, rule, asked.state, moments)
    _later(side, rows, rule)
    _limits(side, rows, rule)


def _fall_back(side: Side, never: Mask, rule: MomentRule, state: NDArray[np.int8], moments: Moments) -> None:
    """What decides on days when the Sun never reaches the angle, in the order of `no_twilight`."""
    for word in rule.no_twilight:
        left = never & np.isnan(side.time_utc_min) & (side.reason != Reason.SHUT)
        if not left.any():
            return
        if word == "light":
            times = moments.light(rule, side.evening).time_utc_min
            lit = left & ~np.isnan(times)
            side.sun_utc_min = np.where(lit, times, side.sun_utc_min)
            side.take(lit, times, Reason.LIGHT, f"no twilight: clear sky passes {rule.fallback_lux:g} lux")
        elif word == "limit":
            _run_to_limit(side, left, rule, state)
        else:
            side.take(left, np.full(len(left), np.nan), Reason.SHUT, "no twilight: the door stays down")


def _run_to_limit(side: Side, left: Mask, rule: MomentRule, state: NDArray[np.int8]) -> None:
    # As nights shorten, dawn runs towards not_before and dusk towards not_after; in the polar night the other way.
    towards_before = State.ALWAYS_BELOW if side.evening else State.ALWAYS_ABOVE
    for limit, name in ((rule.not_before, "not_before"), (rule.not_after, "not_after")):
        if limit is not None:
            rows = left & ((state == towards_before) == (name == "not_before"))
            words = f"no twilight: {name} {clock_text(limit)}"
            side.take(rows, side.limit_utc_min(limit), Reason.LIMIT, words)


def _later(side: Side, rows: Mask, rule: MomentRule) -> None:
    """Minutes later, then the weekday's; they shift the Sun's moments, never a limit that stands in for one."""
    sun = rows & by_sun(side.reason)
    if rule.later_min:
        side.take(sun, side.time_utc_min + rule.later_min, Reason.LATER, f"{rule.later_min:+d} min")
    shifts = np.array(rule.weekday_later_min.minutes())
    if shifts.any():
        of_day = shifts[weekday(side.civil_day)]
        rows = sun & (of_day != 0)
        words = ", ".join(f"{shift:+d} min on {day}" for day, shift in zip(WEEKDAYS, shifts, strict=True) if shift)
        side.take(rows, side.time_utc_min + of_day, Reason.WEEKDAY, words)


def _limits(side: Side, rows: Mask, rule: MomentRule) -> None:
    """Not before and not after, in civil time."""
    if rule.not_before is not None:
        limit = side.limit_utc_min(rule.not_before)
        side.take(rows & (side.time_utc_min < limit), limit, Reason.NOT_BEFORE, clock_text(rule.not_before))
    if rule.not_after is not None:
        limit = side.limit_utc_min(rule.not_after)
        side.take(rows & (side.time_utc_min > limit), limit, Reason.NOT_AFTER, clock_text(rule.not_after))


def stay_down(sides: tuple[Side, Side], rows: Mask, reason: Reason, detail: str) -> None:
    """The door stays down all day: both sides lose their time, unless they have lost it for that reason already."""
    for side in sides:
        side.take(rows & (side.reason != reason), np.full(len(rows), np.nan), reason, detail)
