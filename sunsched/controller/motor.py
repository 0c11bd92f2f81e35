"""Rules G: one run at a time, from rest, never past what the spool holds."""

from __future__ import annotations

from sunsched.controller.door_settings import DoorSettings
from sunsched.controller.door_state import (
    IDLE,
    LOWERING,
    RAISING,
    SEAT_FRESH,
    SEAT_HELD,
    SEAT_NONE,
    DoorState,
    cord_at_rest,
    up_to_full,
    wait_after,
)
from sunsched.controller.words import Alarm, Drive, Place, Want

HALT, UP, DOWN = int(Drive.HALT), int(Drive.UP), int(Drive.DOWN)
UNKNOWN, PLACE_UP, PLACE_DOWN = int(Place.UNKNOWN), int(Place.UP), int(Place.DOWN)
NOT_DOWN, NOT_UP, NOT_RISING = int(Alarm.NOT_DOWN), int(Alarm.NOT_UP), int(Alarm.NOT_RISING)
SWITCHES, WRONG_WAY = int(Alarm.SWITCHES), int(Alarm.WRONG_WAY)
MOVED, DRIVER = int(Alarm.MOVED), int(Alarm.DRIVER)
WANT_DOWN, WANT_UP, WANT_STAY = int(Want.DOWN), int(Want.UP), int(Want.STAY)
SOONER_S = 2  # G7: a lowering so much sooner than the last has not ended; one so much longer was held up
FALL_S = 2  # a plate whose cord has broken is down sooner than any motor lowers it
GLITCHES_AT_ONCE = 8  # in one wish: a worn switch must not make the motor stutter all day


def _rest(d: DoorState, seconds: int) -> int:
    d.phase, d.wait_s, d.lift = IDLE, seconds, 0
    d.starts_lost = 0  # this start has not ended in a reset
    return HALT


def _halt_for_good(d: DoorState, s: DoorSettings, alarm: int) -> int:
    d.alarms |= alarm
    d.blocked, d.place, d.left, d.paid_s = 1, UNKNOWN, UNKNOWN, s.down_budget_s
    return _rest(d, s.retry_s)


def _take_in(d: DoorState, s: DoorSettings) -> None:
    """What the run raised, counted in seconds of lowering."""
    d.paid_s = max(0, d.paid_s - (d.run_s - 1) * 100 // s.lower_percent)


def _failed_try(d: DoorState, s: DoorSettings, alarm: int) -> int:
    d.alarms |= alarm
    d.attempts = min(255, d.attempts + 1)
    d.place = UNKNOWN
    return _rest(d, wait_after(s, d.attempts))


def _not_down(d: DoorState, s: DoorSettings) -> int:
    """Lift and try again; the last try leaves it lowered, the plate rests on whatever is there."""
    d.clear = int(d.attempts + 1 < s.tries)
    _failed_try(d, s, NOT_DOWN)
    if not d.clear:
        d.place, d.seat = PLACE_DOWN, SEAT_NONE
    return _rest(d, s.retry_s)


def _by_time(d: DoorState, seconds: int, place: int, alarm: int) -> int:
    d.alarms |= alarm
    d.place = place
    return _rest(d, seconds)


def _at_switch(d: DoorState, s: DoorSettings, place: int) -> int:
    """A switch has stopped the run: it counts when it has held, at rest."""
    wait_s = max(s.retry_s if d.lift else s.dead_s, s.seat_s - 1)
    d.place, d.seat = place, SEAT_FRESH
    return _rest(d, wait_s)


def _proves(first: int, open_s: int, s: DoorSettings) -> bool:
    """Whether a made switch shows the end: one made from the start must have been open for longer than a glitch."""
    return open_s >= (s.seat_s if first else 1)


def _suspect(d: DoorState, s: DoorSettings, top: int) -> int:
    """The far switch was made in a run: wires reversed if it holds, else a glitch."""
    if d.phase == RAISING and top:  # made from the start: the next run ends by time
        _take_in(d, s)
    d.suspect, d.place = d.phase, UNKNOWN
    return _rest(d, max(s.dead_s, s.moved_s))


def _raising(d: DoorState, s: DoorSettings, want: int, top: int, bottom: int) -> int:
    need_s = d.paid_s * s.lower_percent // 100
    limit_s = min(s.up_cutoff_s, max(s.up_least_s, need_s + need_s // 2 + 1))
    if top and _proves(d.top_first, d.top_open_s, s):
        return _at_switch(d, s, PLACE_UP)
    if bottom and d.bottom_open_s > 1:
        return _suspect(d, s, top)
    if want == WANT_DOWN and not d.lift:  # what was taken in is not counted: it may have been slack
        d.place = PLACE_DOWN if bottom and d.bottom_open_s == 0 else UNKNOWN
        return _rest(d, s.dead_s)
    if d.bottom_first and not bottom:
        d.wiring_proven = 1
    not_left = d.bottom_open_s == 0 and d.run_s > s.leave_s
    if bottom and not top and (not_left or (d.bottom_first and d.run_s > limit_s)):
        return _failed_try(d, s, NOT_RISING) if d.wiring_proven else _halt_for_good(d, s, WRONG_WAY)
    if d.run_s > limit_s or (top and d.run_s > need_s + 2):
        _take_in(d, s)
        return _by_time(d, s.retry_s if d.lift else s.dead_s, PLACE_UP, SWITCHES if top else NOT_UP)
    return UP


def _lowering(d: DoorState, s: DoorSettings, want: int, top: int, bottom: int) -> int:
    if bottom and _proves(d.bottom_first, d.bottom_open_s, s):
        return _at_switch(d, s, PLACE_DOWN)
    if top and d.top_open_s > 1:
        return _suspect(d, s, top)
    if top and d.top_open_s == 0 and d.run_s > s.leave_s and not d.wiring_proven:
        return _halt_for_good(d, s, WRONG_WAY)
    if d.top_first and not top:
        d.wiring_proven = 1  # it left the top on the order to go down
    if bottom and d.paid_s >= s.down_nominal_s + 2:
        return _by_time(d, s.dead_s, PLACE_DOWN, SWITCHES)
    if d.paid_s >= s.down_budget_s:
        return _not_down(d, s)
    if want == WANT_UP:
        d.place = PLACE_UP if top and d.top_open_s == 0 else UNKNOWN
        return _rest(d, s.dead_s)
    d.paid_s += 1
    return DOWN


def _again_after(d: DoorState, wait_s: int) -> None:
    d.place, d.seat = UNKNOWN, SEAT_NONE
    d.mends = min(255, d.mends + 1)
    d.wait_s = max(d.wait_s, wait_s)


def _glitch(d: DoorState, s: DoorSettings) -> None:
    d.glitches = min(255, d.glitches + 1)
    _again_after(d, 0 if d.mends < GLITCHES_AT_ONCE else s.late_retry_s)


def _early_down(d: DoorState, s: DoorSettings) -> bool:
    """Rule G7: the lower switch has come too soon; else this lowering is the usual one, unless it was held up."""
    if d.paid_s < s.down_soon_s:
        return True
    if d.run_s != d.paid_s + 1:  # not from the top in one run
        return False
    if d.paid_s + SOONER_S <= d.usual_down_s:
        d.usual_down_s -= 1  # a stronger motor is alarmed for some nights only
        return True
    if d.usual_down_s == 0 or d.paid_s < d.usual_down_s + SOONER_S:
        d.usual_down_s = cord_at_rest(d)
    return False


def _jam(d: DoorState, s: DoorSettings) -> None:
    """Rule G13: what moves by a rod does not come down by itself when the way is free."""
    _failed_try(d, s, NOT_DOWN)
    d.clear, d.seat = 1, SEAT_NONE  # the end by current still reads made


def _early_up(d: DoorState, s: DoorSettings) -> bool:
    """Rule G7: the upper switch has come too soon. After a jam by current less than the whole way was left."""
    return bool(d.bottom_first and d.paid_s >= s.down_soon_s and d.run_s <= s.up_soon_s)


def _seated(d: DoorState, s: DoorSettings, top: int, bottom: int) -> None:
    """Rule G9: the switch has held."""
    up = d.place == PLACE_UP
    early = _early_up(d, s) if up else _early_down(d, s)
    if early and not up and s.down_by_current:
        _jam(d, s)
        return
    if early:  # it lies: the run goes on by time
        d.alarms |= SWITCHES
        _again_after(d, 0)
        return
    d.seat = SEAT_HELD
    d.alarms &= ~((NOT_UP | NOT_RISING) if up else NOT_DOWN)
    if not (top and bottom):
        d.alarms &= ~SWITCHES
    if up:
        d.paid_s, d.wiring_proven = 0, 1
        if bottom:
            d.alarms |= SWITCHES


def _moved(d: DoorState, s: DoorSettings) -> None:
    """Rule G10: the plate is not where it was left. A driver stuck on gets the time to show itself."""
    d.moved = min(255, d.moved + 1)
    d.alarms |= MOVED
    d.left = d.place
    _again_after(d, s.down_budget_s + s.moved_s if d.mends < s.tries else wait_after(s, d.mends))


def _ends(d: DoorState, up: bool) -> tuple[int, int, int, int]:
    """State of the switch of an end and of the other one, and for how long: (own, held_s, far, held_s)."""
    if up:
        return d.top_was, d.top_held_s, d.bottom_was, d.bottom_held_s
    return d.bottom_was, d.bottom_held_s, d.top_was, d.top_held_s


def _left_alone(d: DoorState, s: DoorSettings) -> None:
    """Back at the place it was left: nothing is to be done. G11: at the other one, too late for a plate that fell."""
    own, own_held_s, far, far_held_s = _ends(d, d.left == PLACE_UP)
    if own and own_held_s >= s.moved_s:
        d.place, d.seat, d.left = d.left, SEAT_HELD, UNKNOWN
    elif not own and far and far_held_s == s.moved_s and own_held_s >= far_held_s + FALL_S:
        _halt_for_good(d, s, DRIVER)


def _doubt(d: DoorState, s: DoorSettings) -> None:
    """The far switch has stopped the run; the wanted end may have been reached in it all the same."""
    up = d.suspect == RAISING
    own, own_held_s, far, far_held_s = _ends(d, up)
    if far and far_held_s >= s.moved_s:
        _halt_for_good(d, s, WRONG_WAY)
    elif d.wait_s == 0:
        _glitch(d, s)
        first, open_s = (d.top_first, d.top_open_s) if up else (d.bottom_first, d.bottom_open_s)
        if own and own_held_s >= s.seat_s and _proves(first, open_s, s):
            d.place, d.seat = (PLACE_UP if up else PLACE_DOWN), SEAT_FRESH
    else:
        return
    d.suspect = IDLE


def _place_by_switch(d: DoorState, s: DoorSettings) -> None:
    """At power-up a switch made alone shows the place; the upper one not if the plate was last left lowered.

    It may stand made, and then each reset would pay out the cord once more.
    """
    if d.top_was == d.bottom_was or (d.top_held_s if d.top_was else d.bottom_held_s) < s.seat_s:
        return
    if d.top_was and d.cord_s > 0:
        return
    d.place, d.seat = (PLACE_UP if d.top_was else PLACE_DOWN), SEAT_HELD
    if d.top_was:
        d.paid_s = 0


def _look_about(d: DoorState, s: DoorSettings) -> None:
    """What the switches say with the motor off."""
    own, own_held_s, _, _ = _ends(d, d.place == PLACE_UP)
    if d.suspect != IDLE:
        _doubt(d, s)
    elif d.left != UNKNOWN:
        _left_alone(d, s)
    elif not d.ran and d.seat == SEAT_NONE:
        _place_by_switch(d, s)
    elif d.seat == SEAT_FRESH and own_held_s >= s.seat_s:
        if own:
            _seated(d, s, d.top_was, d.bottom_was)
        else:
            _glitch(d, s)
    elif d.seat == SEAT_HELD and not own and own_held_s >= s.moved_s:
        _moved(d, s)
    elif d.seat == SEAT_NONE and d.place == PLACE_DOWN and own and own_held_s == s.moved_s:
        d.seat = SEAT_HELD  # what lay under the plate has gone


def _may_start(d: DoorState, want: int, s: DoorSettings, top: int, bottom: int) -> bool:
    """From rest: start a run if the door is wanted elsewhere."""
    if want == WANT_STAY or d.blocked or (s.late_tries == 0 and d.attempts >= s.tries):
        return False
    if d.place != UNKNOWN and want == (WANT_UP if d.place == PLACE_UP else WANT_DOWN):
        return False
    d.cord_s = cord_at_rest(d)
    if want == WANT_UP:
        d.phase, d.lift = RAISING, 0
    else:
        d.lift = int(bool(d.clear or (d.place == UNKNOWN and d.paid_s >= s.down_budget_s)))
        d.phase = RAISING if d.lift else LOWERING
    d.left, d.seat = UNKNOWN, SEAT_NONE
    d.clear = d.run_s = d.top_open_s = d.bottom_open_s = 0
    d.top_first, d.bottom_first, d.ran = top, bottom, 1
    return True


def _new_wish(d: DoorState, s: DoorSettings, want: int) -> None:
    """A fresh try at once. After starts that have ended in resets only a hand or a real change cuts the wait."""
    changed = WANT_STAY not in (d.asked, want)
    d.asked = want
    d.attempts = d.clear = d.mends = 0
    patient = d.starts_lost >= s.tries and d.hand == HALT and not changed
    if d.phase == IDLE and d.wait_s > s.dead_s and d.boot_s > s.start_rest_s and not patient:
        d.wait_s = s.dead_s


def step_motor(d: DoorState, s: DoorSettings, want: int, top: int, bottom: int) -> int:
    """One second of the drive; returns the motor's order, a Drive value."""
    d.top_held_s = min(255, d.top_held_s + 1) if top == d.top_was else 1
    d.bottom_held_s = min(255, d.bottom_held_s + 1) if bottom == d.bottom_was else 1
    d.top_was, d.bottom_was = top, bottom
    if want != d.asked:
        _new_wish(d, s, want)
    if d.phase == IDLE:
        _look_about(d, s)
        if d.wait_s > 0:
            d.wait_s -= 1
            return HALT
        if not _may_start(d, want, s, top, bottom):
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
