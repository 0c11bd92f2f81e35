"""Rules G: one run at a time, from rest, never past what the spool holds."""

from __future__ import annotations

from sunsched.controller.door_settings import DoorSettings
from sunsched.controller.door_state import IDLE, LOWERING, RAISING, DoorState, up_to_full
from sunsched.controller.words import Alarm, Drive, Place, Want

HALT, UP, DOWN = int(Drive.HALT), int(Drive.UP), int(Drive.DOWN)
UNKNOWN, PLACE_UP, PLACE_DOWN = int(Place.UNKNOWN), int(Place.UP), int(Place.DOWN)
NOT_DOWN, NOT_UP, NOT_RISING = int(Alarm.NOT_DOWN), int(Alarm.NOT_UP), int(Alarm.NOT_RISING)
SWITCHES, WRONG_WAY = int(Alarm.SWITCHES), int(Alarm.WRONG_WAY)
WANT_DOWN, WANT_UP, WANT_STAY = int(Want.DOWN), int(Want.UP), int(Want.STAY)


def _rest(d: DoorState, seconds: int) -> int:
    d.phase, d.wait_s, d.lift = IDLE, seconds, 0
    return HALT


def _wrong_way(d: DoorState, s: DoorSettings) -> int:
    d.alarms |= WRONG_WAY
    d.blocked, d.place, d.paid_s = 1, UNKNOWN, s.down_budget_s
    return _rest(d, s.retry_s)


def _take_in(d: DoorState, s: DoorSettings) -> None:
    """What the run raised, counted in seconds of lowering."""
    d.paid_s = max(0, d.paid_s - (d.run_s - 1) * 100 // s.lower_percent)


def _failed_try(d: DoorState, s: DoorSettings, alarm: int) -> int:
    d.alarms |= alarm
    d.attempts = min(255, d.attempts + 1)
    d.place = UNKNOWN
    return _rest(d, s.retry_s if d.attempts < s.tries else s.late_retry_s)


def _arrived_up(d: DoorState, s: DoorSettings) -> int:
    d.place = PLACE_UP
    return _rest(d, s.retry_s if d.lift else s.dead_s)


def _raising(d: DoorState, s: DoorSettings, want: int, top: int, bottom: int) -> int:
    need_s = d.paid_s * s.lower_percent // 100
    limit_s = min(s.up_cutoff_s, max(s.up_least_s, need_s + need_s // 2 + 1))
    if top and d.top_open_s > 0:
        d.paid_s, d.wiring_proven = 0, 1
        d.alarms &= ~(NOT_UP | NOT_RISING | SWITCHES)
        if bottom:
            d.alarms |= SWITCHES
        return _arrived_up(d, s)
    if bottom and d.bottom_open_s > 1:
        return _wrong_way(d, s)
    if want == WANT_DOWN and not d.lift:  # what was taken in is not counted: it may have been slack
        d.place = PLACE_DOWN if bottom and d.bottom_open_s == 0 else UNKNOWN
        return _rest(d, s.dead_s)
    if d.bottom_first and not bottom:
        d.wiring_proven = 1
    if bottom and d.bottom_open_s == 0 and not top and d.run_s > s.leave_s:
        return _failed_try(d, s, NOT_RISING) if d.wiring_proven else _wrong_way(d, s)
    if d.run_s > limit_s or (top and d.run_s > need_s + 2):
        _take_in(d, s)
        d.alarms |= SWITCHES if top else NOT_UP
        return _arrived_up(d, s)
    return UP


def _lowering(d: DoorState, s: DoorSettings, want: int, top: int, bottom: int) -> int:
    if bottom and d.bottom_open_s > 0:
        d.place = PLACE_DOWN
        d.alarms &= ~(NOT_DOWN if top else NOT_DOWN | SWITCHES)
        return _rest(d, s.dead_s)
    still_at_top = d.top_open_s == 0 and d.run_s > s.leave_s and not d.wiring_proven
    if top and (d.top_open_s > 1 or still_at_top):
        return _wrong_way(d, s)
    if d.top_first and not top:
        d.wiring_proven = 1  # it left the top on the order to go down
    if bottom and d.paid_s >= s.down_nominal_s + 2:
        d.place = PLACE_DOWN
        d.alarms |= SWITCHES
        return _rest(d, s.dead_s)
    if d.paid_s >= s.down_budget_s:
        d.clear = int(d.attempts + 1 < s.tries)
        _failed_try(d, s, NOT_DOWN)
        if not d.clear:
            d.place = PLACE_DOWN  # left lowered: the plate rests on whatever is there
        return _rest(d, s.retry_s)
    if want == WANT_UP:
        d.place = PLACE_UP if top and d.top_open_s == 0 else UNKNOWN
        return _rest(d, s.dead_s)
    d.paid_s += 1
    return DOWN


def _may_start(d: DoorState, s: DoorSettings, want: int, top: int, bottom: int) -> bool:
    """From rest: start a run if the door is wanted elsewhere. A switch made alone tells the place after power-up."""
    if not d.ran and top != bottom:
        d.place = PLACE_UP if top else PLACE_DOWN
        if top:
            d.paid_s = 0
    if want == WANT_STAY or d.blocked or d.attempts >= s.tries + s.late_tries:
        return False
    if want == WANT_UP:
        if d.place == PLACE_UP:
            return False
        d.phase, d.lift = RAISING, 0
    else:
        if d.place == PLACE_DOWN:
            return False
        d.lift = int(bool(d.clear or (d.place == UNKNOWN and d.paid_s >= s.down_budget_s)))
        d.phase = RAISING if d.lift else LOWERING
    d.clear = d.run_s = d.top_open_s = d.bottom_open_s = 0
    d.top_first, d.bottom_first, d.ran = top, bottom, 1
    return True


def step_motor(d: DoorState, s: DoorSettings, want: int, top: int, bottom: int) -> int:
    """One second of the drive; returns what the motor is told (a Drive value)."""
    if want != d.asked:
        d.asked = want
        d.attempts = d.clear = 0
        if d.phase == IDLE and d.wait_s > s.dead_s and d.boot_s > s.start_rest_s:
            d.wait_s = s.dead_s
    if d.phase == IDLE:
        if d.wait_s > 0:
            d.wait_s -= 1
            return HALT
        if not _may_start(d, s, want, top, bottom):
            return HALT
    d.run_s = up_to_full(d.run_s)
    if not top:
        d.top_open_s = up_to_full(d.top_open_s)
    if not bottom:
        d.bottom_open_s = up_to_full(d.bottom_open_s)
    if top and bottom and d.top_open_s > 0 and d.bottom_open_s > 0:
        d.alarms |= SWITCHES
        d.place = UNKNOWN
        return _rest(d, s.retry_s)
    if d.phase == RAISING:
        return _raising(d, s, want, top, bottom)
    return _lowering(d, s, want, top, bottom)
