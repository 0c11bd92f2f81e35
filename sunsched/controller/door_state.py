"""What the decision core takes in, gives out and remembers; the same fields as in c/door_decision.h."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from sunsched.controller.door_settings import DoorSettings
from sunsched.controller.words import Alarm, Kept, Reset, TimeBy, Want

DAY_MIN, HALF_DAY_MIN, MINUTE_S, AGE_S = 1440, 720, 60, 600
FULL = 30_000  # every counter stops here
NO_MINUTE = -32_768  # in a row: the door stays down that day
NO_T = -32_000  # a cycle without that minute
FALL_NONE, FALL_NATURAL, FALL_ABRUPT = 0, 1, 2
LATCH_NONE, LATCH_DOWN, LATCH_UP = 0, 1, 2
IDLE, RAISING, LOWERING = 0, 1, 2
UNKNOWN_PLACE = 0
SEAT_NONE, SEAT_FRESH, SEAT_HELD = 0, 1, 2  # whether the place's switch has said so, and has held


@dataclass(frozen=True, slots=True)
class DayRow:
    """One day of the table [chip minutes from the date's midnight]; `midnight_min` follows the day's solar noon."""

    open_min: int
    close_min: int
    midnight_min: int
    facts: int


RowReader = Callable[[int], DayRow | None]  # days since 2000-01-01 -> the day's row, None outside the table


@dataclass(slots=True)
class Inputs:
    """One second's inputs: `clock_day` in days since 2000-01-01, `hand` a Drive while pressed."""

    clock_day: int = 0
    clock_min: int = 0
    light_counts: int = 0
    clock_valid: int = 1
    clock_set: int = 0
    top: int = 0
    bottom: int = 0
    hand: int = 0
    keep_shut: int = 0
    battery: int = 0
    clock_cell_low: int = 0


@dataclass(slots=True)
class Outputs:
    """One second's outputs: drive and duty (of 255), the door's state, the wish and its reason, alarms, time."""

    alarms: int = 0
    own_day: int = 0
    own_min: int = 0
    drive: int = 0
    duty: int = 0
    door: int = 0
    want: int = 2
    reason: int = 0
    time: int = 2


@dataclass(slots=True)
class KeptOver:
    """What survives a reset; each field is told at `door_kept_t` in c/door_decision.h."""

    shift_min: int = 0
    stamp_day: int = 0
    alarms: int = 0
    stamp_hour: int = 0
    bits: int = 0
    starts_lost: int = 0
    moved: int = 0
    glitches: int = 0
    power_ups: int = 0
    brown_outs: int = 0
    hangs: int = 0
    buttons: int = 0
    cord_s: int = 0


@dataclass(slots=True)
class DoorState:
    """Everything the core remembers from one second to the next."""

    own_day: int = 0
    own_min: int = 0
    last_clock_min: int = 65_535
    checked_day: int = 0
    unconfirmed_min: int = 0
    question_s: int = 0
    boot_s: int = 0
    clock_ahead_min: int = 0
    second: int = 0
    time: int = int(TimeBy.LIGHT)
    known: int = 0
    stepped: int = 0
    proven: int = 0
    estimated: int = 0
    new_minute: int = 0
    clock_ok: int = 0
    checked_ok: int = 0
    cycle_day: int = 0
    t_min: int = 0
    close_t_min: int = 0
    open_t_min: int = 0
    length_min: int = 0
    noon_min: int = 0
    cycle_known: int = 0
    facts: int = 0
    latch: int = 0
    dark_s: int = 0
    bright_s: int = 0
    night_s: int = 0
    fall_s: int = 0
    since_bright_s: int = 0
    since_dark_s: int = 0
    age_s: int = 0
    flat_min: int = 0
    rail_min: int = 0
    flat_ref_counts: int = -FULL
    fall: int = 0
    rise_natural: int = 0
    flat: int = 0
    age_dark: int = 255
    age_bright: int = 255
    cell_bad: int = 0
    night_min: int = 0
    shift_min: int = 0
    last_off_min: int = 0
    in_night: int = 0
    night_natural: int = 0
    taught: int = 0
    creeping: int = 0
    odd_today: int = 0
    odd_days: int = 0
    since_min: int = 0
    hold_dim_min: int = 0
    hold_day_min: int = 0
    morning_hold_min: int = 0
    plan: int = int(Want.STAY)
    reason: int = 0
    hand_min: int = 0
    spent_min: int = 0
    reopen_left_s: int = 0
    hand: int = 0
    last_hand: int = 0
    wish: int = int(Want.STAY)
    reopened: int = 0
    wait_s: int = 0
    run_s: int = 0
    paid_s: int = 0
    top_open_s: int = 0
    bottom_open_s: int = 0
    phase: int = 0
    place: int = 0
    asked: int = int(Want.STAY)
    lift: int = 0
    clear: int = 0
    attempts: int = 0
    top_first: int = 0
    bottom_first: int = 0
    ran: int = 0
    blocked: int = 0
    wiring_proven: int = 0
    top_was: int = 0
    bottom_was: int = 0
    top_held_s: int = 0
    bottom_held_s: int = 0
    seat: int = 0
    suspect: int = 0
    left: int = 0
    mends: int = 0
    cord_s: int = 0
    alarms: int = 0
    starts_lost: int = 0
    moved: int = 0
    glitches: int = 0
    power_ups: int = 0
    brown_outs: int = 0
    hangs: int = 0
    buttons: int = 0


ALARMS_KEPT = 0x7F80  # those of motor and power
BROWN_OUT, POWER = int(Reset.BROWN_OUT), int(Alarm.POWER)
COUNTED = (
    (int(Reset.POWER_UP), "power_ups"),
    (int(Reset.BROWN_OUT), "brown_outs"),
    (int(Reset.HANG), "hangs"),
    (int(Reset.BUTTON), "buttons"),
)
CARRIED = ("starts_lost", "moved", "glitches", *(name for _, name in COUNTED))


def boot(settings: DoorSettings, kept: KeptOver | None = None, cause: int = 0) -> DoorState:
    """The state of a chip just reset, with what it had stored; `cause` is of `Reset`."""
    d = DoorState(wait_s=settings.start_rest_s, paid_s=settings.down_budget_s)
    if kept is not None:
        _boot_kept(d, settings, kept)
    for bit, name in COUNTED:
        if cause & bit:
            setattr(d, name, min(255, getattr(d, name) + 1))
    if d.starts_lost >= 2 or (d.starts_lost == 1 and cause & BROWN_OUT):
        d.alarms |= POWER
    if d.starts_lost >= 2:
        d.wait_s = wait_after(settings, d.starts_lost)
    return d


def _boot_kept(d: DoorState, s: DoorSettings, kept: KeptOver) -> None:
    learnable = towards_zero(s.shift_two_min * 2, 3) <= abs(kept.shift_min) <= HALF_DAY_MIN
    d.shift_min = kept.shift_min if learnable else 0  # else no night can have taught it
    d.wiring_proven = int(bool(kept.bits & Kept.WIRING_PROVEN))
    d.odd_days = int(bool(kept.bits & Kept.ODD_DAY))
    if kept.bits & Kept.CELL_GOOD:
        d.age_dark = d.age_bright = 0
    else:
        d.cell_bad = 1
    if kept.bits & Kept.STAMP:
        d.own_day, d.own_min, d.estimated = kept.stamp_day, kept.stamp_hour * 60, 1
    d.alarms = kept.alarms & ALARMS_KEPT
    d.cord_s = 255 if kept.starts_lost > 0 else kept.cord_s  # the run that was lost has changed it
    for name in CARRIED:
        setattr(d, name, getattr(kept, name))


def cord_at_rest(d: DoorState) -> int:
    """The cord that is out [s of lowering] while the plate rests at an end; while it runs or hangs, what was before."""
    if d.phase != IDLE or not d.ran:
        return d.cord_s
    return 255 if d.place == UNKNOWN_PLACE else min(255, d.paid_s)


def keep(d: DoorState) -> KeptOver:
    """What to store now."""
    bits = Kept.NONE if d.cell_bad else Kept.CELL_GOOD
    bits |= Kept.WIRING_PROVEN if d.wiring_proven else Kept.NONE
    bits |= Kept.STAMP if d.known or d.estimated else Kept.NONE
    bits |= Kept.ODD_DAY if d.odd_days + d.odd_today > 0 else Kept.NONE
    counts = {name: getattr(d, name) for name in CARRIED}
    counts["starts_lost"] = min(255, d.starts_lost + int(d.phase != IDLE))
    counts["cord_s"] = cord_at_rest(d)
    return KeptOver(d.shift_min, d.own_day, d.alarms, d.own_min // 60, int(bits), **counts)


def up_to_full(counter: int) -> int:
    """One more, unless the counter is full."""
    return counter + 1 if counter < FULL else counter


def wait_after(s: DoorSettings, tries: int) -> int:
    """How long [s] the next try waits after so many: a minute; then ever more rarely, as battery and driver bear."""
    if tries < s.tries:
        return s.retry_s
    if s.late_tries == 0:
        return FULL
    late = tries - s.tries
    return s.late_retry_s * (4 if late >= 2 * s.late_tries else 2 if late >= s.late_tries else 1)


def towards_zero(value: int, by: int) -> int:
    """Division as C does it."""
    return value // by if value >= 0 else -(-value // by)
