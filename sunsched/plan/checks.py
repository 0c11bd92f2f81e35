"""Checks on a year: what refuses it, and what its keeper is warned of.

A year is refused where nothing decides a day, or where a day or a night is too short to be true.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sunsched.base.civil_time import date_of
from sunsched.base.errors import ConfigError, Problem
from sunsched.base.warned import Harm, Warned, by_harm
from sunsched.plan.day import Mask, Side
from sunsched.plan.place import doubtful_hour, doubtful_place
from sunsched.plan.reasons import Kind, Reason, kinds_of
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
        undecided = np.isnan(side.time_utc_min) & (kinds_of(side.reason) != Kind.DOWN)
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


class Touched(NamedTuple):
    """What the rules did to the days: the rows of each season and of each kept-in range, and for morning and
    evening the Reason (n,) that stood in for a moment that never comes, the rows that a weekday's shift is for, and
    those on which a limit of every day swallowed it. With it the Sun's two moments that the closing is held against,
    over a level horizon: hills hide the Sun earlier, but what the birds follow is the light of the whole sky (n,)
    [utc_min]."""

    season_rows: list[Mask]
    kept_rows: list[Mask]
    stood_in: tuple[NDArray[np.uint8], NDArray[np.uint8]]
    shifted: tuple[Mask, Mask]
    swallowed: tuple[Mask, Mask]
    sunset_utc_min: NDArray[np.float64]
    nautical_dusk_utc_min: NDArray[np.float64]

    def of(self, rows: slice) -> Touched:
        """The same for some of the rows."""
        season, kept = ([mask[rows] for mask in masks] for masks in (self.season_rows, self.kept_rows))
        stood_in, shifted, swallowed = (
            (self.stood_in[0][rows], self.stood_in[1][rows]),
            (self.shifted[0][rows], self.shifted[1][rows]),
            (self.swallowed[0][rows], self.swallowed[1][rows]),
        )
        sun = (self.sunset_utc_min[rows], self.nautical_dusk_utc_min[rows])
        return Touched(season, kept, stood_in, shifted, swallowed, *sun)


def year_warnings(plan: YearPlan, rules: Rules, touched: Touched) -> tuple[Warned, ...]:
    """Every warning about a plan, the most harmful first. A limit that the keeper wrote is no warning by itself."""
    found = [*_place(plan), *_against_the_sun(plan, touched), *_odd_days(plan, rules), *_stood_in(plan, touched)]
    return by_harm([*found, *_swallowed(plan, touched), *_untouched(plan, rules, touched)])


def _place(plan: YearPlan) -> list[Warned]:
    doubt = doubtful_place(plan.site) or doubtful_hour(plan.site, float(plan.civil_offset_min.min()) / 60)
    return [] if doubt is None else [doubt]


def _days(count: int) -> str:
    return f"{count} day" if count == 1 else f"{count} days"


def _some(plan: YearPlan, rows: NDArray[np.bool_]) -> str:
    return f"{_days(int(rows.sum()))} ({date_ranges(plan.first_day, rows)})"


_EARLY_TO_DO = (
    "Ask for a moment after sunset, or raise the evening's not_after, or lower later_min towards zero from below. "
    "Count the birds after closing on such a day before you trust it."
)
_LATE_TO_DO = (
    "Lower the evening's not_before or later_min, or ask for a smaller depression_deg. Where the limit is wanted for "
    "stragglers, weigh it against the minutes the door stands open in the dark."
)


def _against_the_sun(plan: YearPlan, touched: Touched) -> list[Warned]:
    down = plan.open_min == NO_MINUTE
    closes = plan.utc_min(plan.close_min)
    with np.errstate(invalid="ignore"):
        early = ~down & (closes < touched.sunset_utc_min)
        # Rounding up alone may pass the moment by less than a minute; that is no mistake of the keeper's.
        late = ~down & (closes >= touched.nautical_dusk_utc_min + 1)
    found = []
    if early.any():
        text = f"closes before sunset on {_some(plan, early)}: birds may still be outside"
        found.append(Warned("early closing", Harm.LIFE, text, _EARLY_TO_DO))
    if late.any():
        text = f"still open after nautical dusk on {_some(plan, late)}: the fox may be about"
        found.append(Warned("late closing", Harm.LIFE, text, _LATE_TO_DO))
    return found


def _odd_days(plan: YearPlan, rules: Rules) -> list[Warned]:
    open_for = plan.close_min.astype(np.int64) - plan.open_min
    short = (plan.open_min != NO_MINUTE) & (open_for < rules.warn.least_open_h * 60)
    if not short.any():
        return []
    text = (
        f"open for less than least_open_h = {rules.warn.least_open_h:g} h on {_some(plan, short)}, "
        f"at the least {int(open_for[short].min())} min"
    )
    to_do = (
        "Short days may be true at your latitude. See that food and water are inside, or open earlier and close "
        "later on these dates with a season entry. If it is as you want it, lower warn.least_open_h."
    )
    return [Warned("short day", Harm.DATES, text, to_do)]


_STOOD_IN_TO_DO = (
    "The Sun never reaches the angle you asked for on these dates, so the stand-in named here decides. Look at these "
    "weeks on the map; a smaller depression_deg lets the Sun decide on more of them."
)
_SHUT_TO_DO = (
    "The birds stay in on these dates: they need light, water, food and air inside. Put 'light' or 'limit' in "
    "no_twilight if the door should move."
)


def _stood_in(plan: YearPlan, touched: Touched) -> list[Warned]:
    found = []
    down = plan.open_min == NO_MINUTE
    for word, stood_in in zip(("opening", "closing"), touched.stood_in, strict=True):
        for reason in (reason for reason in Reason if reason.stands_in):
            rows = ~down & (stood_in == reason)
            if rows.any():
                text = f"no twilight for the {word} on {_some(plan, rows)}: {reason.record.instead} decides instead"
                found.append(Warned(f"no twilight, {word} by {reason.word}", Harm.DATES, text, _STOOD_IN_TO_DO))
    shut = plan.open_reason == Reason.SHUT
    if shut.any():
        text = f"no twilight on {_some(plan, shut)}: the door stays down"
        found.append(Warned("no twilight, shut", Harm.DOOR, text, _SHUT_TO_DO))
    return found


def _swallowed(plan: YearPlan, touched: Touched) -> list[Warned]:
    """A shift for some weekdays that a limit of every day undoes: the lie-in that was asked for does not come."""
    warnings = []
    up = plan.open_min != NO_MINUTE
    sides = (("morning", "opening", plan.open_reason), ("evening", "closing", plan.close_reason))
    for (section, word, reasons), shifted, swallowed in zip(sides, touched.shifted, touched.swallowed, strict=True):
        for limit in (Reason.NOT_BEFORE, Reason.NOT_AFTER):
            rows = np.flatnonzero(swallowed & (reasons == limit))
            if len(rows):
                days = _days(int((up & shifted).sum()))
                first, last = (date_of(plan.first_day + int(row)) for row in (rows[0], rows[-1]))
                text = (
                    f"{section}.weekday_later_min does nothing on {len(rows)} of its {days}, first on {first}, "
                    f"last on {last}: {limit.word} decides the {word} with it and without it"
                )
                to_do = f"{section}.weekday_{limit.word} gives a weekday a limit of its own."
                warnings.append(Warned(f"weekday shift undone, {word} by {limit.word}", Harm.DATES, text, to_do))
    return warnings


def _untouched(plan: YearPlan, rules: Rules, touched: Touched) -> list[Warned]:
    # A span shorter than a year leaves most seasons out; that is no mistake.
    if plan.n_days < 365:
        return []
    to_do = "The season's dates miss this year. Correct from and to, or take the entry out."
    found = [
        Warned(f"season '{season.name}'", Harm.DATES, f"season '{season.name}' touches no day", to_do)
        for season, rows in zip(rules.season, touched.season_rows, strict=True)
        if not rows.any()
    ]
    to_do = (
        "These dates lie outside this year: nothing to do if they are past or still to come; write them without a year "
        "if they hold every year."
    )
    for kept, rows in zip(rules.kept_in, touched.kept_rows, strict=True):
        if not rows.any():
            text = f"kept_in {kept.from_} to {kept.to} touches no day of {date_of(plan.first_day).year}"
            found.append(Warned(f"kept_in {kept.from_}", Harm.DATES, text, to_do))
    return found
