"""Rules T: the clock, the chip's own count of seconds, and the cycle from solar noon to solar noon."""

from __future__ import annotations

from sunsched.controller.door_settings import DoorSettings
from sunsched.controller.door_state import (
    DAY_MIN,
    FULL,
    HALF_DAY_MIN,
    LATCH_DOWN,
    LATCH_NONE,
    MINUTE_S,
    NO_MINUTE,
    NO_T,
    DayRow,
    DoorState,
    Inputs,
    Outside,
    RowReader,
    up_to_full,
)
from sunsched.controller.words import Facts, TimeBy, Why

BY_CLOCK, BY_OWN_COUNT, BY_LIGHT = int(TimeBy.CLOCK), int(TimeBy.OWN_COUNT), int(TimeBy.LIGHT)
OF_THE_DAY = int(Facts.DARK_EXPECTED | Facts.CLOSE_BY_TWILIGHT)
LIGHT_EXPECTED, OPEN_BY_TWILIGHT = int(Facts.LIGHT_EXPECTED), int(Facts.OPEN_BY_TWILIGHT)
EARLY_DUSK, HOUR_MIN = int(Why.EARLY_DUSK), DAY_MIN // 24


def minutes_between(day: int, minute: int, from_day: int, from_minute: int) -> int:
    """Minutes from one time to another, held within +-30000."""
    return max(-FULL, min(FULL, (day - from_day) * DAY_MIN + minute - from_minute))


def half_day_wrap(minutes: int) -> int:
    """The same moment of some day, -720 to 719 minutes away."""
    return (minutes + HALF_DAY_MIN) % DAY_MIN - HALF_DAY_MIN


def moved_time(day: int, minute: int, by_min: int) -> tuple[int, int]:
    """Day and minute `by_min` minutes later."""
    days, at = divmod(minute + by_min, DAY_MIN)
    return (day + days) & 0xFFFF, at


def _clock_good(d: DoorState, reader: RowReader, i: Inputs) -> bool:
    if not i.clock_valid or i.clock_min >= DAY_MIN:
        return False
    if not d.checked_ok or d.checked_day != i.clock_day:
        d.checked_day = i.clock_day
        d.checked_ok = int(reader(i.clock_day) is not None)
    return bool(d.checked_ok)


def _take_clock(d: DoorState, i: Inputs) -> None:
    d.own_day, d.own_min = i.clock_day, i.clock_min
    d.known, d.time, d.stepped = 1, BY_CLOCK, 0


def _follow_clock(d: DoorState, s: DoorSettings, i: Inputs) -> None:
    ahead = minutes_between(i.clock_day, i.clock_min, d.own_day, d.own_min)
    near_own = abs(ahead) <= s.step_min
    moved = i.clock_min != d.last_clock_min
    ask = bool(i.clock_set and d.known and d.proven and abs(ahead) > s.question_min and d.question_s == 0)
    d.last_clock_min = i.clock_min
    if ask:
        d.question_s = s.question_s
    if not d.known or (i.clock_set and not ask):
        if i.clock_set:
            d.shift_min = 0
        d.taught = d.proven = d.question_s = 0
        _take_clock(d, i)
    elif near_own:
        if moved:  # only a moving clock is followed: a standing one would drag the own count with it
            if d.time == BY_CLOCK:
                d.second = 0
            _take_clock(d, i)
    elif d.time == BY_OWN_COUNT and not d.stepped and not d.proven:
        _take_clock(d, i)  # the clock is back and the own count was never better
    else:
        d.stepped, d.time, d.clock_ahead_min = 1, BY_OWN_COUNT, ahead


def step_time(d: DoorState, s: DoorSettings, reader: RowReader, i: Inputs) -> None:
    """One second of rules T1 to T6."""
    d.new_minute = 0
    d.second += 1
    if d.second >= MINUTE_S:
        d.second, d.new_minute = 0, 1
        d.own_day, d.own_min = moved_time(d.own_day, d.own_min, 1)
    d.boot_s = up_to_full(d.boot_s)
    if d.question_s:
        d.question_s -= 1
    d.clock_ok = int(_clock_good(d, reader, i))
    if d.clock_ok:
        _follow_clock(d, s, i)
    else:
        d.stepped = 0
        d.time = BY_OWN_COUNT if d.known else BY_LIGHT
    if d.time == BY_CLOCK:
        d.unconfirmed_min = 0
    elif d.time == BY_OWN_COUNT:
        if d.new_minute:
            d.unconfirmed_min = up_to_full(d.unconfirmed_min)
        if d.unconfirmed_min > s.own_trust_min:
            d.time = BY_LIGHT
    if d.time == BY_LIGHT and d.known:  # the count is no longer to be relied on, but still a guess
        d.known, d.estimated, d.proven, d.stepped = 0, 1, 0, 0


def _served(row: DayRow | Outside | None, otherwise: DayRow) -> DayRow:
    return row if isinstance(row, DayRow) else otherwise


def night_by_time(d: DoorState) -> bool:
    """From the closing to an hour before the opening: surely night if the time is right."""
    if not d.cycle_known or d.close_t_min == NO_T or d.open_t_min == NO_T:
        return False
    return d.close_t_min <= d.t_min < d.open_t_min - HOUR_MIN


def _read_cycle(d: DoorState, reader: RowReader, day: int, minute: int) -> bool:
    row = reader(day)
    if not isinstance(row, DayRow):
        return False
    following = row
    if minute < row.midnight_min - HALF_DAY_MIN:  # before noon: still yesterday's cycle
        day = (day - 1) & 0xFFFF
        row = _served(reader(day), row)  # the table's first morning: its own day stands in for the one before
    else:
        following = _served(reader((day + 1) & 0xFFFF), row)  # and its last for the one after
    d.noon_min = row.midnight_min - HALF_DAY_MIN
    d.length_min = DAY_MIN + following.midnight_min - row.midnight_min
    d.close_t_min = NO_T if row.close_min == NO_MINUTE else row.close_min - d.noon_min
    d.open_t_min = NO_T if following.open_min == NO_MINUTE else following.open_min + DAY_MIN - d.noon_min
    d.facts = (
        (row.facts & OF_THE_DAY) | (row.facts & following.facts & LIGHT_EXPECTED) | (following.facts & OPEN_BY_TWILIGHT)
    )
    if d.cycle_known and day == d.cycle_day:
        return True
    d.cycle_day = day
    d.hold_dim_min = d.hold_day_min = d.morning_hold_min = d.reopened = 0
    # an early dusk still dark at its noon: the clock is hours off, and the latch outlives its cycle
    if not (d.latch == LATCH_DOWN and d.reason == EARLY_DUSK and d.dark_s > 0):
        d.latch = LATCH_NONE
    d.odd_days = min(d.odd_days + 1, 9) if d.odd_today else 0
    d.odd_today = 0
    return True


def find_cycle(d: DoorState, reader: RowReader) -> None:
    """Set `t_min`, the minutes since corrected solar noon, and the cycle's minutes and facts."""
    if not d.known and not d.estimated:
        d.cycle_known = 0
        return
    day, minute = moved_time(d.own_day, d.own_min, -d.shift_min)
    d.t_min = minutes_between(day, minute, d.cycle_day, d.noon_min)
    if not d.cycle_known or d.t_min < 0 or d.t_min >= d.length_min:
        d.cycle_known = int(_read_cycle(d, reader, day, minute))
        d.t_min = minutes_between(day, minute, d.cycle_day, d.noon_min)
