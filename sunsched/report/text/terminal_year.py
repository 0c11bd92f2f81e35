"""The year small enough for a terminal: a line for each half month, noon to noon, midnight in the middle."""

from __future__ import annotations

import textwrap

import numpy as np

from sunsched.base.civil_time import DAY_MIN, MONTHS, clock_text, date_of
from sunsched.plan.year import YearPlan
from sunsched.report.pictures.nights import NOON_MIN, Nights, nights_of

_SAMPLED = (1, 16)
_HEAD, _TAIL = 13, 6
_LEAST, _MOST = 24, 96
_DAY, _TWILIGHT, _DARK, _DOWN = range(4)
_MARKS = {False: " ░▒█", True: " .:#"}
_COLOURS = ("", "\x1b[2m", "\x1b[33m", "\x1b[34m")
_PLAIN = "\x1b[0m"


def lines(plan: YearPlan, width: int, colour: bool = False, plain: bool = False) -> list[str]:
    """The year in at most `width` columns, at least 43; about two lines a month and three of explanation.

    colour   True adds ANSI colours; the marks alone show the same
    plain    True keeps to ASCII, for a terminal that shows nothing else
    """
    nights = nights_of(plan)
    room = min(max(width - _HEAD - _TAIL, _LEAST), _MOST)
    found = [_scale(room)]
    for row in range(plan.n_days):
        date = date_of(plan.first_day + row)
        if date.day in _SAMPLED or plan.n_days < 32:
            found.append(_line(nights, row + 1, f"{date.day:2d} {MONTHS[date.month - 1]}", room, colour, plain))
    marks = _MARKS[plain]
    states = f"door down {marks[_DOWN]}, up in twilight {marks[_TWILIGHT]}, in the dark {marks[_DARK]}"
    found += textwrap.wrap(f"closes left, opens right; {states}; civil time", _HEAD + room + _TAIL)
    return found


def _scale(room: int) -> str:
    """The hours over the bars, every three, each at its own place."""
    cells = [" "] * (_HEAD + room + 2)
    for hour in range(12, 37, 3 if room >= 48 else 6):
        at = _HEAD + round((hour - 12) * 60 / DAY_MIN * (room - 1))
        label = str(hour % 24)
        start = min(at, _HEAD + room - len(label))
        cells[start : start + len(label)] = label
    return "".join(cells).rstrip()


def _line(nights: Nights, night: int, name: str, room: int, colour: bool, plain: bool) -> str:
    close, opens = nights.close[night], nights.open[night]
    times = ["  -  " if np.isnan(t) else clock_text(round(float(t)) % DAY_MIN) for t in (close, opens)]
    bar = _bar(nights, night, room)
    marks = _MARKS[plain]
    drawn, last = [], -1
    for kind in bar.tolist():
        if colour and kind != last:
            drawn.append((_PLAIN if last > 0 else "") + _COLOURS[kind])
        drawn.append(marks[kind])
        last = kind
    end = _PLAIN if colour and last > 0 else ""
    return f"{name} {times[0]} {''.join(drawn)}{end} {times[1]}".rstrip()


def _bar(nights: Nights, night: int, room: int) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
    """What each cell of a night's bar shows: the state in the middle of its minutes."""
    middle = NOON_MIN + (np.arange(room) + 0.5) * DAY_MIN / room
    bar = np.full(room, _DAY, np.int64)
    bar[(nights.dark_from[0, night] <= middle) & (middle < nights.dark_until[0, night])] = _TWILIGHT
    bar[(nights.dark_from[2, night] <= middle) & (middle < nights.dark_until[2, night])] = _DARK
    # A side without its time is a day on which the door stays down, or the plan's own edge.
    close, opens = float(nights.close[night]), float(nights.open[night])
    from_min = NOON_MIN if np.isnan(close) else close
    until_min = NOON_MIN + DAY_MIN if np.isnan(opens) else opens
    bar[(from_min <= middle) & (middle < until_min)] = _DOWN
    return bar
