"""Rules O: the keeper's orders above all others; and the alarms of a second."""

from __future__ import annotations

from sunsched.controller.door_settings import DoorSettings
from sunsched.controller.door_state import DoorState, Inputs, up_to_full
from sunsched.controller.time_witness import BY_LIGHT, BY_OWN_COUNT
from sunsched.controller.words import Alarm, Battery, Door, Drive, Place, Want, Why

HALT, UP = int(Drive.HALT), int(Drive.UP)
WANT_DOWN, WANT_UP = int(Want.DOWN), int(Want.UP)
SPENT, DUSK = int(Battery.SPENT), int(Why.DUSK)
MOVING_UP, MOVING_DOWN = int(Door.MOVING_UP), int(Door.MOVING_DOWN)
AT_REST = {int(Place.UNKNOWN): int(Door.HALTED), int(Place.UP): int(Door.UP), int(Place.DOWN): int(Door.DOWN)}
# plain numbers: an IntFlag costs a microsecond a time, and there are 31 million seconds in a year
CLOCK_STEP, CLOCK_LOST, SUN_SHIFT = int(Alarm.CLOCK_STEP), int(Alarm.CLOCK_LOST), int(Alarm.SUN_SHIFT)
CONTRADICTION, CELL, NO_TABLE = int(Alarm.CONTRADICTION), int(Alarm.CELL), int(Alarm.NO_TABLE)
LOW_BATTERY, CLOCK_CELL, NOT_OF_A_HAND = (
    int(Alarm.BATTERY),
    int(Alarm.CLOCK_CELL),
    ~int(Alarm.WRONG_WAY | Alarm.POWER | Alarm.MOVED | Alarm.DRIVER),
)


def _held(d: DoorState, s: DoorSettings, i: Inputs) -> bool:
    """Rules O2 and O3: no glitch is an order. True in the second in which a hand counts."""
    d.hand_held_s = min(255, d.hand_held_s + 1) if i.hand == d.last_hand else 1
    d.last_hand = i.hand
    d.keep_other_s = d.keep_other_s + 1 if int(i.keep_shut != 0) != d.keep_shut else 0
    if d.keep_other_s >= s.moved_s:
        d.keep_shut, d.keep_other_s = 1 - d.keep_shut, 0
    return i.hand != HALT and d.hand_held_s == s.hand_hold_s


def _hand(d: DoorState, s: DoorSettings, i: Inputs, changed: bool) -> None:
    pressed = _held(d, s, i)
    if pressed:  # a hand is never blocked by a fault: it gets a fresh try
        d.hand = i.hand
        d.hand_min = d.attempts = d.mends = d.blocked = d.reopen_left_s = 0
        d.alarms &= NOT_OF_A_HAND
    elif d.hand != HALT:
        if d.new_minute:
            d.hand_min = up_to_full(d.hand_min)
        timed = d.hand == UP and (d.plan == WANT_DOWN or d.keep_shut)
        if changed:
            d.hand = HALT
        elif timed and d.hand_min >= s.hand_min:
            d.hand, d.wish = HALT, WANT_DOWN  # with keep-shut, back down


def _second_chance(d: DoorState, s: DoorSettings) -> bool:
    if d.plan != WANT_DOWN:
        d.reopen_left_s = 0
        return False
    due = not d.reopened and d.reason == DUSK and d.since_min >= s.reopen_after_min
    if s.reopen_s > 0 and due and d.cycle_known and d.t_min <= d.close_t_min + s.evening_until_min:
        d.reopened, d.reopen_left_s = 1, s.reopen_s
    if d.reopen_left_s == 0:
        return False
    d.reopen_left_s -= 1
    return True


def obey(d: DoorState, s: DoorSettings, i: Inputs, changed: bool) -> tuple[int, int]:
    """The wish and its reason after the orders; `changed`: the plan went from up to down or back this second."""
    want, reason = d.plan, d.reason
    _hand(d, s, i, changed)
    if _second_chance(d, s):
        want, reason = WANT_UP, int(Why.SECOND_CHANCE)
    if i.battery != SPENT:
        d.spent_min = 0
    if want == WANT_UP and d.wish != WANT_UP:
        if d.keep_shut:
            want, reason = d.wish, int(Why.KEEP_SHUT)
        elif i.battery == SPENT and d.spent_min < s.spent_min:
            want, reason = d.wish, int(Why.BATTERY)
            if d.new_minute:
                d.spent_min = up_to_full(d.spent_min)
    if d.hand != HALT:
        want, reason = (WANT_UP if d.hand == UP else WANT_DOWN), int(Why.HAND)
    d.wish = want
    return want, reason


def alarms_now(d: DoorState, s: DoorSettings, i: Inputs) -> int:
    """The motor's alarms that stand, and those of time, light and battery."""
    alarms = d.alarms
    no_table = not d.cycle_known and (d.known or d.estimated)
    if (d.time == BY_OWN_COUNT and s.clock_fitted) or d.question_s > 0:
        alarms |= CLOCK_STEP
    if d.time == BY_LIGHT:
        alarms |= CLOCK_LOST
    if d.shift_min:
        alarms |= SUN_SHIFT
    if d.odd_days + d.odd_today >= 2:
        alarms |= CONTRADICTION
    if d.cell_bad:
        alarms |= CELL
    if no_table:
        alarms |= NO_TABLE
    if i.battery:
        alarms |= LOW_BATTERY
    if i.clock_cell_low:
        alarms |= CLOCK_CELL
    return alarms


def door_word(d: DoorState, drive: int) -> int:
    """The door's state (a Door value)."""
    if drive != HALT:
        return MOVING_UP if drive == UP else MOVING_DOWN
    return AT_REST[d.place]
