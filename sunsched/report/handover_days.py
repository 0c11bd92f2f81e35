"""The days of a sheet: times in civil time as people say them, when to look, and what is unusual."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sunsched.base.civil_time import DAY_MIN, date_of, zone_of
from sunsched.plan.reasons import Reason
from sunsched.plan.rules import KeptIn, Rules
from sunsched.plan.year import NO_MINUTE, YearPlan
from sunsched.report.evening_chart import rule_on
from sunsched.report.plain import one_line
from sunsched.report.sheet_words import SheetWords

# After the last minute in which the door may still go down: its travel and three tries a minute apart.
TRIES_MIN = 10


@dataclass(frozen=True, slots=True)
class SheetDay:
    """One day of a sheet, ready to be set; times are empty on a day when the door stays down."""

    iso_date: str
    weekday: str
    date: str
    opens: str
    closes: str
    look: str
    note: str


def look_delay_min(rules: Rules, day: int) -> int:
    """Minutes from the planned closing to the evening look on a date [day number]."""
    return max(0, rule_on(rules, day, True).cell_until_min) + TRIES_MIN


def cell_window_min(rules: Rules, days: Sequence[int]) -> tuple[int, int]:
    """The most minutes before and after the planned minute at which the cell may close the door on these days."""
    found = [rule_on(rules, day, True) for day in days]
    return max(0, *(-rule.cell_from_min for rule in found)), max(0, *(rule.cell_until_min for rule in found))


def clock_words(minute: int, words: SheetWords, twelve_hour: bool) -> str:
    """A civil minute after midnight as people say it; a minute of the next or the former day says so."""
    days, of_day = divmod(minute, DAY_MIN)
    hour, minutes = divmod(of_day, 60)
    if twelve_hour:
        text = f"{(hour - 1) % 12 + 1}:{minutes:02d} {words.am if hour < 12 else words.pm}"
    else:
        text = f"{hour:02d}:{minutes:02d}"
    if days == 0:
        return text
    return (words.next_day if days > 0 else words.day_before).format(time=text)


def sheet_days(plan: YearPlan, rules: Rules, words: SheetWords, twelve_hour: bool = False) -> list[SheetDay]:
    """Every day of a plan as a line of a sheet."""
    opens, closes = plan.civil_min(plan.open_min), plan.civil_min(plan.close_min)
    changes = _clock_changes(plan)
    found = []
    for row, day in enumerate(plan.days.tolist()):
        date = date_of(day)
        times, notes = ("", "", ""), []
        if plan.open_min[row] == NO_MINUTE:
            why = _why(plan, rules, row)
            notes.append(f"{words.stays_down}{f' ({why})' if why else ''}")
        else:
            close = round(float(closes[row]))
            minutes = (round(float(opens[row])), close, close + look_delay_min(rules, day))
            opened, closed, look = (clock_words(m, words, twelve_hour) for m in minutes)
            times = (opened, closed, look)
        if row in changes:
            text = words.clocks_forward if changes[row] > 0 else words.clocks_back
            notes.append(text.format(minutes=abs(changes[row])))
        short = words.short_date.format(
            weekday=words.weekdays[date.weekday()], day=date.day, month=words.months[date.month - 1]
        )
        found.append(SheetDay(date.isoformat(), words.weekdays[date.weekday()], short, *times, "; ".join(notes)))
    return found


def _why(plan: YearPlan, rules: Rules, row: int) -> str:
    """What the keeper wrote beside the kept-in dates that cover a row."""
    if plan.open_reason[row] != Reason.KEPT_IN:
        return ""
    return next((one_line(kept.why, 80) for kept in rules.kept_in if _covers(kept, plan.first_day + row)), "")


def _covers(kept: KeptIn, day: int) -> bool:
    once = kept.once()
    if once is not None:
        return once[0] <= day <= once[1]
    date = date_of(day)
    return any(first <= date.month * 100 + date.day <= last for first, last in kept.yearly())


def _clock_changes(plan: YearPlan) -> dict[int, int]:
    """Rows in whose first twelve hours, or in the evening before, civil clocks change, with the change [minutes]."""
    zone = zone_of(plan.site.zone)
    noons = plan.utc_min(plan.noon_min)
    first = float(noons[0]) - DAY_MIN
    found = {}
    for start, offset in zone.changes(first, float(noons[-1])):
        row = int(np.searchsorted(noons, start))
        before = int(zone.utc_offset_min(np.array([start - 1.0]))[0])
        found[row] = offset - before
    return found
