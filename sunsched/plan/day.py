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
from sunsched.plan.rules import ByWeekday, MomentRule, evening_minute
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
    weekday_shift_min   (n,) [minutes] what weekday_later_min added to the Sun's moment
    swallowed   (n,) a limit of every day decides with the weekday's shift and without it: the shift changes nothing
    """

    evening: bool
    zone: Zone
    civil_day: Days
    time_utc_min: Times
    sun_utc_min: Times
    fell_back: Mask
    reason: NDArray[np.uint8]
    stood_in: NDArray[np.uint8]
    weekday_shift_min: Times
    swallowed: Mask
    trace: TraceFn | None = None

    @classmethod
    def undecided(cls, evening: bool, zone: Zone, civil_day: Days, trace: TraceFn | None) -> Side:
        """A side before any rule."""
        nothing = np.full(len(civil_day), np.nan)
        reason = np.full(len(civil_day), Reason.TWILIGHT, np.uint8)
        none = np.isinf(nothing)
        shift = np.zeros(len(civil_day))
        sun, stood_in, swallowed = nothing.copy(), reason.copy(), none.copy()
        return cls(evening, zone, civil_day, nothing, sun, none, reason, stood_in, shift, swallowed, trace)

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
    both = ((rule.not_before_by_weekday, "not_before"), (rule.not_after_by_weekday, "not_after"))
    for by_weekday, name in both:
        towards = left & ((state == towards_before) == (name == "not_before"))
        for limit, rows in _limits_by_rows(side, towards, by_weekday):
            side.take(rows, side.limit_utc_min(limit), Reason.LIMIT, f"no twilight: {name} {clock_text(limit)}")


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
        side.weekday_shift_min = np.where(rows, of_day, side.weekday_shift_min)


def _limits(side: Side, rows: Mask, rule: MomentRule) -> None:
    """Not before and not after, in civil time, each the weekday's own where it has one."""
    unshifted = side.time_utc_min - side.weekday_shift_min
    for limit, here in _limits_by_rows(side, rows, rule.not_before_by_weekday):
        at = side.limit_utc_min(limit)
        unshifted = np.where(here, np.maximum(unshifted, at), unshifted)
        side.take(here & (side.time_utc_min < at), at, Reason.NOT_BEFORE, clock_text(limit))
    for limit, here in _limits_by_rows(side, rows, rule.not_after_by_weekday):
        at = side.limit_utc_min(limit)
        unshifted = np.where(here, np.minimum(unshifted, at), unshifted)
        side.take(here & (side.time_utc_min > at), at, Reason.NOT_AFTER, clock_text(limit))
    # A keeper who gave the weekday its own limit has said what is to decide on it.
    usual = ~np.array(rule.weekdays_with_own_limit)[weekday(side.civil_day)]
    side.swallowed |= rows & usual & (side.weekday_shift_min != 0) & (side.time_utc_min == unshifted)


def _limits_by_rows(side: Side, rows: Mask, by_weekday: ByWeekday) -> list[tuple[int, Mask]]:
    """Each limit [civil minutes after midnight] with the rows on which it holds."""
    of_day = weekday(side.civil_day)
    limits = dict.fromkeys(limit for limit in by_weekday if limit is not None)
    return [(limit, rows & np.array([day == limit for day in by_weekday])[of_day]) for limit in limits]


def stay_down(sides: tuple[Side, Side], rows: Mask, reason: Reason, detail: str) -> None:
    """The door stays down all day: both sides lose their time, unless they have lost it for that reason already."""
    for side in sides:
        side.take(rows & (side.reason != reason), np.full(len(rows), np.nan), reason, detail)
