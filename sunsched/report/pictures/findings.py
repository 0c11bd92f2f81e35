"""What a year's plan shows, in a sentence for each of the door's two moves: the titles of its pictures.

A finding is worked out from the plan's columns alone. Where it names months or dates, it holds on each of their days.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sunsched.base.civil_time import MONTH_NAMES, clock_text, date_of, weekday
from sunsched.plan.reasons import Kind
from sunsched.plan.year import NO_MINUTE, YearPlan
from sunsched.report.pictures.nights import kinds, runs_of
from sunsched.report.text.year_words import date_words, extreme

LEAST_DAYS = 7  # a shorter stretch at a limit is no finding of a year
STEADY_MIN = 45  # a moment that moves less over the year is "all year"
WEEKDAY_APART_MIN = 5  # a weekday that lies further from its week's middle is marked by itself
MOST_WEEKDAYS_APART = 3  # with more of them a week has no middle to lie apart from
MONTHS_FROM = 0.9  # whole months are named where they are at least this share of the days found, else dates
_HELD = (Kind.LIMIT, Kind.STAND_IN)


class Stretch(NamedTuple):
    """Days one after another that something else than the Sun decides alike.

    minute   the civil minute of every day that a limit holds; None where the clear sky's light decides
    first, last   rows of the plan, both included
    """

    minute: int | None
    first: int
    last: int

    @property
    def n_days(self) -> int:
        """How many days it lasts."""
        return self.last - self.first + 1


def year_findings(plan: YearPlan) -> tuple[str, ...]:
    """One sentence for the openings, one for the closings, one for the days on which the door stays down."""
    found = [sentence for side in ("open", "close") if (sentence := side_finding(plan, side))]
    down = runs_of((plan.open_min == NO_MINUTE).astype(np.int64))
    spans = [(a, b - 1) for value, a, b in down if value]
    if spans:
        found.append(_down(plan, spans))
    return tuple(found)


def side_finding(plan: YearPlan, side: str) -> str:
    """What the openings or closings do; empty where the door never moves."""
    early, late = extreme(plan, side, False), extreme(plan, side, True)
    if not early or not late:
        return ""
    verb = "Opens" if side == "open" else "Closes"
    stretch = longest_stretch(plan, side)
    if stretch is not None and stretch.minute is not None:
        without = np.all(kinds(plan, side)[stretch.first : stretch.last + 1] == Kind.STAND_IN)
        why = "no twilight, your limit" if without else "your limit"
        return f"{verb} {clock_text(stretch.minute)} {_when(plan, stretch)}: {why}"
    if stretch is not None:
        return f"{verb} by a clear sky's light {_when(plan, stretch)}: no twilight"
    civil = _civil(plan, side)
    if float(np.nanmax(civil) - np.nanmin(civil)) <= STEADY_MIN:
        return f"{verb} {early[0]} to {late[0]} all year"
    return f"{verb} {early[0]} ({early[1]}) to {late[0]} ({late[1]})"


def longest_stretch(plan: YearPlan, side: str) -> Stretch | None:
    """The longest stretch of at least LEAST_DAYS that a limit or the clear sky's light decides; None if there is none.

    Its days are whole months where those are most of it.
    """
    best = max(_stretches(plan, side), key=lambda found: found.n_days, default=None)
    if best is None or best.n_days < LEAST_DAYS:
        return None
    firsts = [row for row in range(best.first, best.last + 2) if date_of(plan.first_day + row).day == 1]
    if len(firsts) > 1 and firsts[-1] - firsts[0] >= MONTHS_FROM * best.n_days:
        return Stretch(best.minute, firsts[0], firsts[-1] - 1)
    return best


def _stretches(plan: YearPlan, side: str) -> Iterator[Stretch]:
    """Every run of days at one minute that a limit holds, and every run of days that the light decides."""
    civil, decided = _civil(plan, side), kinds(plan, side)
    minutes = np.where(np.isnan(civil), 0.0, civil).round().astype(np.int64)
    for minute, a, b in runs_of(np.where(np.isin(decided, _HELD), minutes, np.int64(NO_MINUTE))):
        if minute != NO_MINUTE:
            yield Stretch(minute, a, b - 1)
    for by_light, a, b in runs_of((decided == Kind.LIGHT).astype(np.int64)):
        if by_light:
            yield Stretch(None, a, b - 1)


def _civil(plan: YearPlan, side: str) -> NDArray[np.float64]:
    return plan.civil_min(plan.open_min if side == "open" else plan.close_min)


def _when(plan: YearPlan, stretch: Stretch) -> str:
    if stretch.first == 0 and stretch.last == plan.n_days - 1:
        return "all year" if plan.n_days >= 365 else "on all these days"
    after = stretch.last + 1
    if not all(date_of(plan.first_day + row).day == 1 for row in (stretch.first, after)):
        return f"from {date_words(plan.first_day + stretch.first)} to {date_words(plan.first_day + stretch.last)}"
    months = [MONTH_NAMES[date_of(plan.first_day + row).month - 1] for row in (stretch.first, stretch.last)]
    return f"in {months[0]}" if months[0] == months[1] else f"from {months[0]} to {months[1]}"


def _down(plan: YearPlan, spans: list[tuple[int, int]]) -> str:
    days = sum(b - a + 1 for a, b in spans)
    if len(spans) > 1:
        return f"Stays down on {days} days"
    first, last = (date_words(plan.first_day + row) for row in spans[0])
    return f"Stays down on {first}" if days == 1 else f"Stays down from {first} to {last}"


def weekdays_apart(plan: YearPlan, side: str) -> NDArray[np.bool_]:
    """Days of those weekdays that lie by themselves (n,): more than WEEKDAY_APART_MIN from the middle of their week.

    They are marked by themselves in a picture, because a line through them would be a comb. Where more weekdays
    than MOST_WEEKDAYS_APART lie apart, none is.
    """
    civil = _civil(plan, side)
    # On either side of a change of clocks a limit is steady in civil time, and the Sun is without it.
    apart = off_the_week(civil) | off_the_week(civil - plan.civil_offset_min)
    known = ~np.isnan(civil)
    days = weekday(plan.days)
    often = [day for day in range(7) if 4 * apart[days == day].sum() > known[days == day].sum()]
    if not often or len(often) > MOST_WEEKDAYS_APART:
        return np.zeros(plan.n_days, np.bool_)
    return apart & np.isin(days, often)


def off_the_week(minutes: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Days more than WEEKDAY_APART_MIN from the middle of the seven days around them (n,)."""
    padded = np.concatenate([np.full(3, np.nan), minutes, np.full(3, np.nan)])
    known = ~np.isnan(minutes)
    week = np.sort(np.lib.stride_tricks.sliding_window_view(padded, 7)[known], axis=1)  # NaN comes last
    n_known, row = 7 - np.isnan(week).sum(axis=1), np.arange(len(week))
    middle = (week[row, (n_known - 1) // 2] + week[row, n_known // 2]) / 2  # np.nanmedian takes ten times as long
    off = np.zeros(len(minutes), np.bool_)
    off[known] = np.abs(minutes[known] - middle) > WEEKDAY_APART_MIN
    return off
