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
SEAT_NONE, SEAT_FRESH, SEAT_HELD = 0, 1, 2  # see DoorState.seat


@dataclass(frozen=True, slots=True)
class DayRow:
    """One day of the table [chip minutes from the date's midnight]; `midnight_min` follows the day's solar noon."""

    open_min: int
    close_min: int
    midnight_min: int
    facts: int


@dataclass(frozen=True, slots=True)
class Outside:
    """No table serves the day, yet the date may be right: after the last table, or in the year before the first."""


# Days since 2000-01-01 -> the day's row. None: a date that cannot be right, as of a clock reset to 2000.
RowReader = Callable[[int], DayRow | Outside | None]


@dataclass(slots=True)
class Inputs:
    """The inputs of one second."""

    clock_day: int = 0  # the clock's day [days since 2000-01-01]
    clock_min: int = 0  # the clock's minute of the day, 0 to 1439
    light_counts: int = 0  # the light cell's reading [counts]
    clock_valid: int = 1  # 0: the clock has stopped, lost its power, does not answer or is not fitted
    clock_set: int = 0  # 1 in the one step after the keeper set the clock
    top: int = 0  # upper limit switch, 1: made
    bottom: int = 0  # lower limit switch, 1: made
    hand: int = 0  # hand switch while pressed: none 0, up 1, down 2
    keep_shut: int = 0  # 1: a lowered door stays down; only the hand raises it
    battery: int = 0  # good 0, low 1, spent 2
    clock_cell_low: int = 0  # 1: the clock chip reports its own battery as low


@dataclass(slots=True)
class Outputs:
    """The outputs of one second."""

    alarms: int = 0  # alarms that stand, one bit each
    own_day: int = 0  # day of the time in use [days since 2000-01-01]; without meaning while `time` is 2
    own_min: int = 0  # minute of the day of the time in use; without meaning while `time` is 2
    drive: int = 0  # what the motor does: halt 0, up 1, down 2
    duty: int = 0  # duty of the motor's PWM, 0 to 255
    door: int = 0  # halted 0, up 1, down 2, moving up 3, moving down 4
    want: int = 2  # where the door is wanted: down 0, up 1, as it is 2
    reason: int = 0  # why it is wanted there: the reason's number
    time: int = 2  # witness that keeps the time: clock 0, own count 1, light 2


@dataclass(slots=True)
class KeptOver:
    """What survives a reset; `door_kept_t` in c/door_decision.h says how it is stored."""

    shift_min: int = 0  # shift of the windows learned from the Sun [min], positive is later by the clock
    stamp_day: int = 0  # the own count's day [days since 2000-01-01]
    alarms: int = 0  # alarms of motor and power that stand, one bit each
    stamp_hour: int = 0  # the own count's hour, 0 to 23: an estimate after a power cut, never fast
    bits: int = 0  # cell good 1, wiring proven 2, stamp known 4, contradiction in the last cycle 8
    starts_lost: int = 0  # motor runs in a row that a reset has ended
    moved: int = 0  # times the plate has moved with the motor off; stops at 255
    glitches: int = 0  # times an end switch has made and opened again at once; stops at 255
    power_ups: int = 0  # resets by a power-up; stops at 255
    brown_outs: int = 0  # resets by a low supply voltage; stops at 255
    hangs: int = 0  # resets of a program that hung; stops at 255
    buttons: int = 0  # resets by the button; stops at 255
    cord_s: int = 0  # cord paid out where the plate last rested [s of lowering]; 255: unknown
    usual_down_s: int = 0  # G7: time that a lowering from the top takes [s]; 0: unknown


@dataclass(slots=True)
class DoorState:
    """Everything the core remembers from one second to the next."""

    # ---- time: the own count, and what the clock last gave ----
    own_day: int = 0  # the own count's day [days since 2000-01-01]
    own_min: int = 0  # the own count's minute of the day, 0 to 1439
    last_clock_min: int = 65_535  # the good clock's minute of the day when last read; 65535: none yet
    checked_day: int = 0  # the clock's day that the table was last asked for [days since 2000-01-01]
    unconfirmed_min: int = 0  # time that the own count has run without clock or Sun [min]
    question_s: int = 0  # T3: time left in which a second setting of the clock is taken [s]
    boot_s: int = 0  # time since the reset [s]
    clock_ahead_min: int = 0  # clock minus own count when they last disagreed [min]
    second: int = 0  # second of the own count's minute, 0 to 59
    time: int = int(TimeBy.LIGHT)  # witness that keeps the time: clock 0, own count 1, light 2
    known: int = 0  # 1: the own count is known
    stepped: int = 0  # 1: the clock has left the own count and is not followed
    proven: int = 0  # 1: a night's light has confirmed the time
    estimated: int = 0  # 1: own_day and own_min are an estimate at least
    new_minute: int = 0  # 1: a minute of the own count begins in this second
    clock_ok: int = 0  # 1: the clock is valid and the table accepts its day
    checked_ok: int = 0  # the table's answer for checked_day, 0: refused
    # ---- the cycle, from solar noon to solar noon ----
    cycle_day: int = 0  # day of the solar noon that begins the cycle [days since 2000-01-01]
    t_min: int = 0  # time since that solar noon, corrected by shift_min [min]
    close_t_min: int = 0  # planned closing [min since solar noon]; -32000: none
    open_t_min: int = 0  # planned opening of the next morning [min since solar noon]; -32000: none
    length_min: int = 0  # length of the cycle [min]
    noon_min: int = 0  # the cycle's solar noon [min since midnight of cycle_day]
    cycle_known: int = 0  # 1: the fields of the cycle hold
    facts: int = 0  # facts of its evening and the morning after, bits as in a row
    latch: int = 0  # what the cycle has decided for good: nothing 0, down 1, up 2
    # ---- light ----
    dark_s: int = 0  # time below dark_counts without a break [s]
    bright_s: int = 0  # time above bright_counts without a break [s]
    night_s: int = 0  # time below night_counts without a break [s]
    fall_s: int = 0  # time since the light was last above dusk_counts [s]
    since_bright_s: int = 0  # time since the light was last above bright_counts [s]
    since_dark_s: int = 0  # time since the light was last below dark_counts [s]
    age_s: int = 0  # time towards the next unit of age_dark and age_bright [s]
    flat_min: int = 0  # time for which the light has stayed near flat_ref_counts [min]
    rail_min: int = 0  # time at the rail without a break [min]
    flat_ref_counts: int = -FULL  # reading that flat_min compares with [counts]
    fall: int = 0  # how the light last fell to dark: not yet 0, natural 1, abrupt 2
    rise_natural: int = 0  # 1: the light last rose to bright as slowly as a dawn
    flat: int = 0  # 1: the light does not change: a lamp or a stuck reading
    age_dark: int = 255  # time since the cell was dark for sure_s [10 min]; 255: longer, or never
    age_bright: int = 255  # time since the cell was bright for sure_s [10 min]; 255: longer, or never
    cell_bad: int = 0  # 1: the alarm CELL stands
    # ---- learning from the Sun ----
    night_min: int = 0  # length of the night so far, by the light [min]
    shift_min: int = 0  # shift of the windows learned from the Sun [min], positive is later by the clock
    last_off_min: int = 0  # deviation of the last night that counted [min]
    in_night: int = 0  # 1: a night has begun and night_min counts
    night_natural: int = 0  # 1: that night began with a natural fall
    taught: int = 0  # 1: last_off_min holds a night's deviation
    creeping: int = 0  # nights in a row that a proven clock is too far off; stops at 5
    odd_today: int = 0  # 1: a contradiction in this cycle
    odd_days: int = 0  # cycles in a row with a contradiction, up to the one before; stops at 9
    # ---- plan: where clock and light want the door ----
    since_min: int = 0  # time since the plan last changed [min]
    hold_dim_min: int = 0  # E6: time held up in dim light in this cycle [min]
    hold_day_min: int = 0  # E6: time held up in daylight in this cycle [min]
    morning_hold_min: int = 0  # D5: time held down in this cycle [min]
    plan: int = int(Want.STAY)  # where clock and light want the door: down 0, up 1, as it is 2
    reason: int = 0  # why they want it there: the reason's number
    # ---- orders ----
    hand_min: int = 0  # O2: time since the hand switch was pressed [min]
    spent_min: int = 0  # O4: time for which a spent battery has kept the door down [min]
    reopen_left_s: int = 0  # O5: time left of the second chance [s]
    hand: int = 0  # order of the hand switch in force: none 0, up 1, down 2
    last_hand: int = 0  # hand switch in the step before: none 0, up 1, down 2
    hand_held_s: int = 0  # O2: time for which the hand switch has stayed as it is [s]; stops at 255
    keep_shut: int = 1  # O3: 1: the keep-shut switch counts as closed
    keep_other_s: int = 0  # O3: time for which its wire has read the other way [s]
    wish: int = int(Want.STAY)  # where the door is wanted after the orders: down 0, up 1, as it is 2
    reopened: int = 0  # 1: this cycle's second chance has been used
    # ---- motor ----
    wait_s: int = 0  # rest left before a run may start [s]
    run_s: int = 0  # time of the present or last run [s]
    paid_s: int = 0  # cord that is out [s of lowering]
    top_open_s: int = 0  # time in this run with the upper switch open [s]
    bottom_open_s: int = 0  # time in this run with the lower switch open [s]
    phase: int = 0  # at rest 0, raising 1, lowering 2
    place: int = 0  # where the plate is: unknown 0, up 1, down 2
    asked: int = int(Want.STAY)  # the wish that the motor works on: down 0, up 1, as it is 2
    lift: int = 0  # 1: the run raises though down is wanted: G2, G8
    clear: int = 0  # 1: the next run down begins with a lift: G2
    attempts: int = 0  # failed runs of this wish; stops at 255
    top_first: int = 0  # 1: the upper switch was made when the run began
    bottom_first: int = 0  # 1: the lower switch was made when the run began
    ran: int = 0  # 1: the motor has run since the reset
    blocked: int = 0  # 1: no run until a hand or a power-up
    wiring_proven: int = 0  # 1: a run has shown that the motor turns the right way
    top_was: int = 0  # upper switch as last read, 1: made
    bottom_was: int = 0  # lower switch as last read, 1: made
    top_held_s: int = 0  # time that the upper switch has stayed as it is [s]; stops at 255
    bottom_held_s: int = 0  # time that the lower switch has stayed as it is [s]; stops at 255
    seat: int = 0  # switch of the place: not made 0, made just now 1, held 2
    suspect: int = 0  # run that the far switch has stopped, in doubt: none 0, raising 1, lowering 2
    left: int = 0  # G10: place that the plate has left with the motor off: none 0, up 1, down 2
    mends: int = 0  # new runs of this wish after a glitch, early switch or moved plate; stops at 255
    cord_s: int = 0  # cord paid out where the plate last rested [s of lowering]; 255: unknown
    usual_down_s: int = 0  # G7: time that a lowering from the top takes [s]; 0: unknown
    alarms: int = 0  # alarms of motor and power that stand, one bit each
    # ---- counted over resets: as in door_kept_t ----
    starts_lost: int = 0  # motor runs in a row that a reset has ended
    moved: int = 0  # times the plate has moved with the motor off; stops at 255
    glitches: int = 0  # times an end switch has made and opened again at once; stops at 255
    power_ups: int = 0  # resets by a power-up; stops at 255
    brown_outs: int = 0  # resets by a low supply voltage; stops at 255
    hangs: int = 0  # resets of a program that hung; stops at 255
    buttons: int = 0  # resets by the button; stops at 255


LONG_WAITS = 32  # G12: 8 h are so many of the first longer rests
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
        d.wait_s = _wait_for_power(settings, d.starts_lost)
    return d


def _wait_for_power(s: DoorSettings, lost: int) -> int:
    """Rule G12: the rest [s] after so many starts in a row that have ended in resets."""
    return wait_after(s, lost) if lost < s.tries + s.late_tries else s.late_retry_s * LONG_WAITS


def _boot_kept(d: DoorState, s: DoorSettings, kept: KeptOver) -> None:
    learnable = towards_zero(s.shift_two_min * 2, 3) <= abs(kept.shift_min) <= HALF_DAY_MIN
    d.shift_min = kept.shift_min if learnable else 0  # no night can have given another value
    d.wiring_proven = int(bool(kept.bits & Kept.WIRING_PROVEN))
    d.odd_days = int(bool(kept.bits & Kept.ODD_DAY))
    if kept.bits & Kept.CELL_GOOD:
        d.age_dark = d.age_bright = 0
    else:
        d.cell_bad = 1
    if kept.bits & Kept.STAMP:
        d.own_day, d.own_min, d.estimated = kept.stamp_day, kept.stamp_hour * 60, 1
    d.alarms = kept.alarms & ALARMS_KEPT
    d.cord_s = 255 if kept.starts_lost > 0 else kept.cord_s  # the run that a reset ended has changed it
    d.usual_down_s = kept.usual_down_s if kept.usual_down_s <= s.down_budget_s else 0
    for name in CARRIED:
        setattr(d, name, getattr(kept, name))


def cord_at_rest(d: DoorState) -> int:
    """The cord that is out [s of lowering] while the plate rests at an end; otherwise the value of the last rest."""
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
    counts["usual_down_s"] = d.usual_down_s
    return KeptOver(d.shift_min, d.own_day, d.alarms, d.own_min // 60, int(bits), **counts)


def up_to_full(counter: int) -> int:
    """One more, unless the counter is full."""
    return counter + 1 if counter < FULL else counter


def wait_after(s: DoorSettings, tries: int) -> int:
    """The rest [s] before the next try after `tries` of them: a minute, then longer, to spare battery and driver."""
    if tries < s.tries:
        return s.retry_s
    if s.late_tries == 0:
        return FULL
    late = tries - s.tries
    return s.late_retry_s * (4 if late >= 2 * s.late_tries else 2 if late >= s.late_tries else 1)


def towards_zero(value: int, by: int) -> int:
    """Division as C does it."""
    return value // by if value >= 0 else -(-value // by)
