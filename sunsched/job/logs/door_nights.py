"""What the door's own log says of each night: whether the door reached down, and which alarms stood.

A night runs from the solar noon of its date to the planned opening after it, or to the next solar noon where none is
planned. It is judged by the last row of the last lowering in it, for a jammed plate is tried again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sunsched.base.civil_time import DAY_MIN, clock_text, date_of, zone_of
from sunsched.plan.year import NO_MINUTE, YearPlan
from sunsched.study.log_clock import LogClock
from sunsched.study.log_rows import ChipEvent

DOWN, STAYED, HALTED, NO_SWITCH, UP, UNDERWAY, UNKNOWN = (
    "down",
    "stayed down",
    "halted",
    "no switch",
    "up",
    "underway",
    "unknown",
)
RIGHT = (DOWN, STAYED)
OVERDUE_MIN = 30.0  # after the planned closing: the cell's window and three tries are over, common practice
# A door that is taken for lowered by time alone: its lower switch did not say so.
_DOUBTED = ("not_down", "switches", "wrong_way")
_STATES = {"down": DOWN, "up": UP, "halted": HALTED, "moving_down": UNDERWAY, "moving_up": UNDERWAY}


@dataclass(frozen=True)
class DoorNight:
    """One night of the door's log.

    state   "down" (its switch made), "stayed down" (no lowering was due), "halted" (half-way), "no switch" (lowered,
            but its switch did not say so), "up", "underway" (the log ends in a move), "unknown" (no row says)
    civil   when that state was first written [civil time], empty where nothing was
    reason  the rule that lowered the door
    alarms  all that stood in the night, in the order in which they came
    starts  how often the program started anew
    """

    date: str
    state: str
    civil: str
    reason: str
    alarms: tuple[str, ...]
    starts: int


def door_nights(events: Sequence[ChipEvent], plan: YearPlan, clock: LogClock) -> list[DoorNight]:
    """The nights of a plan's days that the door's log covers, in order; `clock` is the log's."""
    utc_min = np.array([clock.utc_min(event.chip_min) for event in events])
    midnight = plan.days.astype(np.float64) * DAY_MIN - plan.chip_offset_min
    noons = np.append(midnight + plan.noon_min, midnight[-1] + plan.noon_min[-1] + DAY_MIN)
    found = []
    for row in range(plan.n_days):
        end = float(noons[row + 1])
        if row + 1 < plan.n_days and plan.open_min[row + 1] != NO_MINUTE:
            end = float(midnight[row + 1] + plan.open_min[row + 1])
        due = float(midnight[row] + plan.close_min[row]) if plan.close_min[row] != NO_MINUTE else None
        night = _night(events, utc_min, (float(noons[row]), end), due)
        if night is not None:
            state, at, here = night
            civil = "" if at is None else civil_clock(plan, float(utc_min[at]))
            reason = "" if at is None else events[at].reason
            alarms = tuple(dict.fromkeys(word for k in here for word in events[k].alarms))
            starts = sum(events[k].event == "start" for k in here)
            found.append(DoorNight(date_of(plan.first_day + row).isoformat(), state, civil, reason, alarms, starts))
    return found


def civil_clock(plan: YearPlan, utc_min: float) -> str:
    """The civil time of day at the site, such as 18:05."""
    offset = int(zone_of(plan.site.zone).utc_offset_min(np.array([utc_min]))[0])
    return clock_text(int((utc_min + offset) % DAY_MIN))


def _night(
    events: Sequence[ChipEvent], utc_min: NDArray[np.float64], span: tuple[float, float], due: float | None
) -> tuple[str, int | None, list[int]] | None:
    """The state of one night, the event that first says so, and the night's events; None where the log says nothing.

    span, due   noon and the night's end, and the planned closing [utc_min]; due is None on a day without one
    """
    here = np.flatnonzero((span[0] <= utc_min) & (utc_min < span[1])).tolist()
    before = np.flatnonzero(utc_min < span[0]).tolist()
    after = bool((utc_min >= span[1]).any())
    lowered = [k for k in here if events[k].event == "move" and events[k].move == "lower"]
    if lowered:
        state, at = _left_in(events, _until_raised(events, [k for k in here if k >= lowered[-1]]))
        return state, at, here
    if not here and (not after or not before):
        return None
    if here and not after and due is not None and utc_min[here[-1]] < due + OVERDUE_MIN:
        return None  # the log ends before the night could be judged
    spell = _until_raised(events, here) or before[-1:]
    state = _STATES.get(events[spell[-1]].door, UNKNOWN) if spell else UNKNOWN
    if not here and due is not None:
        state = UNKNOWN
    return STAYED if state == DOWN else state, None, here


def _until_raised(events: Sequence[ChipEvent], spell: list[int]) -> list[int]:
    raised = [n for n, k in enumerate(spell) if events[k].event == "move" and events[k].move == "raise"]
    return spell[: raised[0]] if raised else spell


def _left_in(events: Sequence[ChipEvent], spell: list[int]) -> tuple[str, int]:
    """The state in which a lowering left the door, and the first event from which on the log says so."""
    last = events[spell[-1]]
    at = next(k for n, k in enumerate(spell) if all(events[m].door == last.door for m in spell[n:]))
    state = _STATES.get(last.door, UNKNOWN)
    return (NO_SWITCH if state == DOWN and any(word in last.alarms for word in _DOUBTED) else state), at
