"""The days of a sheet: times in civil time as people say them, when to look, and what is unusual."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sunsched.base.civil_time import DAY_MIN, date_of, zone_of
from sunsched.controller.door_window import TRIES_MIN, evening_windows, morning_windows
from sunsched.plan.planning import kept_rows
from sunsched.plan.reasons import Reason
from sunsched.plan.rules import Rules
from sunsched.plan.year import NO_MINUTE, YearPlan
from sunsched.report.page.html import one_line
from sunsched.report.sheets.words import SheetWords

Floats = NDArray[np.float64]


class Moves(NamedTuple):
    """The planned minutes of one side of the days and those between which a healthy door moves (n,).

    Civil minutes after the midnight of each row's date, NaN where the door stays down.
    """

    first_min: Floats
    planned_min: Floats
    last_min: Floats


class DoorDays(NamedTuple):
    """Opening, closing, and the evening look: when the door must be down even on a bright evening (n,)."""

    opens: Moves
    closes: Moves
    look_min: Floats


def door_days(plan: YearPlan, rules: Rules) -> DoorDays:
    """The civil minutes of every day of a plan."""
    morning, evening = morning_windows(plan, rules), evening_windows(plan, rules)
    opens = Moves(*(_civil(plan, column) for column in (morning.first_min, plan.open_min, morning.last_min)))
    closes = Moves(*(_civil(plan, column) for column in (evening.first_min, plan.close_min, evening.last_min)))
    return DoorDays(opens, closes, _civil(plan, _look_min(plan, rules)))


def look_utc_min(plan: YearPlan, rules: Rules) -> Floats:
    """The evening look of each row (n,) [utc_min], NaN where the door stays down."""
    return plan.utc_min(_look_min(plan, rules).astype(np.int16))


def _look_min(plan: YearPlan, rules: Rules) -> NDArray[np.int64]:
    """The evening look of each row (n,) [chip minutes]."""
    last = evening_windows(plan, rules).last_min
    return np.where(last == NO_MINUTE, NO_MINUTE, np.maximum(last, plan.close_min) + TRIES_MIN)


def _civil(plan: YearPlan, chip_minutes: NDArray[np.int16] | NDArray[np.int64]) -> Floats:
    return np.round(plan.civil_min(chip_minutes.astype(np.int16)))


@dataclass(frozen=True, slots=True)
class SheetDay:
    """One day of a sheet, ready to be set; times are empty on a day when the door stays down.

    opens, closes   the minutes between which the door moves, or the one minute where the clock alone decides
    planned   the same two with the planned minutes alone
    """

    iso_date: str
    weekday: str
    date: str
    opens: str
    closes: str
    look: str
    note: str
    planned: tuple[str, str]


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


def between_words(first: int, last: int, words: SheetWords, twelve_hour: bool) -> str:
    """Two civil minutes as people say them, or one where they are the same."""
    if first == last:
        return clock_words(first, words, twelve_hour)
    head, tail = (clock_words(minute, words, twelve_hour) for minute in (first, last))
    if twelve_hour and first // (DAY_MIN // 2) == last // (DAY_MIN // 2):
        head = head.removesuffix(words.am).removesuffix(words.pm).rstrip()
    return words.between.format(first=head, last=tail)


def sheet_days(plan: YearPlan, rules: Rules, words: SheetWords, twelve_hour: bool = False) -> list[SheetDay]:
    """Every day of a plan as a line of a sheet."""
    days, notes = door_days(plan, rules), day_notes(plan, rules, words)
    found = []
    for row, day in enumerate(plan.days.tolist()):
        date = date_of(day)
        times, planned = ("", "", ""), ("", "")
        if plan.open_min[row] != NO_MINUTE:
            opens, closes = (
                between_words(int(side.first_min[row]), int(side.last_min[row]), words, twelve_hour)
                for side in (days.opens, days.closes)
            )
            times = (opens, closes, clock_words(int(days.look_min[row]), words, twelve_hour))
            of_plan = (days.opens.planned_min[row], days.closes.planned_min[row])
            early, late = (clock_words(int(minute), words, twelve_hour) for minute in of_plan)
            planned = (early, late)
        short = words.short_date.format(
            weekday=words.weekdays[date.weekday()], day=date.day, month=words.months[date.month - 1]
        )
        weekday = words.weekdays[date.weekday()]
        found.append(SheetDay(date.isoformat(), weekday, short, *times, "; ".join(notes.get(row, ())), planned))
    return found


def day_notes(plan: YearPlan, rules: Rules, words: SheetWords) -> dict[int, list[str]]:
    """What is unusual on a row: that the door stays down, and why; that civil clocks change."""
    whys, changes = kept_words(plan, rules), clock_changes(plan)
    found: dict[int, list[str]] = {}
    for row in np.flatnonzero(plan.open_min == NO_MINUTE).tolist():
        why = whys.get(row, "")
        found[row] = [f"{words.stays_down}{f' ({why})' if why else ''}"]
    for row, change in changes.items():
        text = words.clocks_forward if change > 0 else words.clocks_back
        found.setdefault(row, []).append(text.format(minutes=abs(change)))
    return found


def kept_words(plan: YearPlan, rules: Rules) -> dict[int, str]:
    """What the keeper wrote beside the kept-in dates that cover a row."""
    found: dict[int, str] = {}
    kept = plan.open_reason == Reason.KEPT_IN
    for entry in rules.kept_in:
        for row in np.flatnonzero(kept & kept_rows(entry, plan.days)).tolist():
            found.setdefault(row, one_line(entry.why, 80))
    return found


def clock_changes(plan: YearPlan) -> dict[int, int]:
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


def cell_window_min(plan: YearPlan, rules: Rules) -> tuple[int, int]:
    """The most minutes before and after the planned minute at which the light may close the door on these days."""
    windows, up = evening_windows(plan, rules), plan.close_min != NO_MINUTE
    early, late = (plan.close_min - windows.first_min)[up], (windows.last_min - plan.close_min)[up]
    return int(early.max(initial=0)), int(late.max(initial=0))
