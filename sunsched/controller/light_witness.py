"""Rules C and M: what the light shows, whether the cell works, and what is learned from the Sun."""

from __future__ import annotations

from sunsched.controller.door_settings import DoorSettings
from sunsched.controller.door_state import (
    AGE_S,
    DAY_MIN,
    FALL_ABRUPT,
    FALL_NATURAL,
    FULL,
    HALF_DAY_MIN,
    MINUTE_S,
    DoorState,
    Inputs,
    towards_zero,
    up_to_full,
)
from sunsched.controller.time_witness import BY_CLOCK, BY_LIGHT, BY_OWN_COUNT, half_day_wrap, moved_time, night_by_time
from sunsched.controller.words import Facts

DARK_EXPECTED, LIGHT_EXPECTED = int(Facts.DARK_EXPECTED), int(Facts.LIGHT_EXPECTED)
DUSK = int(Facts.DARK_EXPECTED | Facts.CLOSE_BY_TWILIGHT)  # the first alone: at an hour not in the table
BOTH_EXPECTED = DARK_EXPECTED | LIGHT_EXPECTED
CREEPING_NIGHTS = 5  # a proven clock can only creep, and clouds or snow delay three dawns in a row
RAIL_MIN, RAIL_ALARM_MIN = 3, 30
AFTER_NOON_MIN, BEFORE_DARK_MIN, MIDDAY_DUSKS = DAY_MIN // 12, DAY_MIN // 16, 4


def evening_by_cell(s: DoorSettings) -> bool:
    """True when the keeper lets the cell act in the evening."""
    return s.evening_from_min != 0 or s.evening_until_min != 0


def morning_by_cell(s: DoorSettings) -> bool:
    """True when the keeper lets the cell act in the morning."""
    return s.morning_from_min != 0 or s.morning_until_min != 0


def _count_levels(d: DoorState, s: DoorSettings, counts: int) -> None:
    was_dark = d.dark_s > 0
    bright = counts > s.bright_counts
    d.night_s = up_to_full(d.night_s) if counts < s.night_counts else 0
    if bright:
        if d.bright_s == 0:
            d.rise_natural = int(d.since_dark_s > s.fast_s)
        d.bright_s = up_to_full(d.bright_s)
    else:
        d.bright_s = 0
    d.fall_s = 0 if counts > s.dusk_counts else up_to_full(d.fall_s)
    if counts < s.dark_counts:
        d.dark_s = up_to_full(d.dark_s)
        d.since_dark_s = 0
        if not was_dark:
            natural = d.fall_s >= s.fall_s and d.since_bright_s >= s.fast_s and d.flat_min < s.flat_min
            d.fall = FALL_NATURAL if natural else FALL_ABRUPT
    else:
        d.dark_s = 0
        d.since_dark_s = up_to_full(d.since_dark_s)
    d.since_bright_s = 0 if bright else up_to_full(d.since_bright_s)


def _watch_flatness(d: DoorState, s: DoorSettings, counts: int) -> None:
    low = counts < s.lamp_counts
    if abs(counts - d.flat_ref_counts) > (s.flat_counts if low else s.flat_high_counts):
        d.flat_ref_counts, d.flat_min = counts, 0
    elif d.new_minute:
        d.flat_min = up_to_full(d.flat_min)
    long_enough = (low and d.flat_min >= s.flat_min) or d.flat_min >= s.flat_high_min
    d.flat = int(counts >= s.dark_counts and long_enough)


def _rail_tells(d: DoorState, s: DoorSettings) -> bool:
    """Rule C4: where the Sun itself reads at the rail, a short shows only when there can be no Sun."""
    if not s.sun_at_rail:
        return True
    if d.time == BY_LIGHT:
        return bool(d.estimated and d.flat)
    return bool((d.proven or d.time == BY_OWN_COUNT) and d.facts & DARK_EXPECTED and night_by_time(d))


def step_light(d: DoorState, s: DoorSettings, counts: int) -> None:
    """One second of rules C1 to C5: levels, flatness, ages of the last sure dark and bright, rail."""
    _count_levels(d, s, counts)
    _watch_flatness(d, s, counts)
    d.age_s += 1
    if d.age_s >= AGE_S:
        d.age_s = 0
        d.age_dark, d.age_bright = min(255, d.age_dark + 1), min(255, d.age_bright + 1)
    if d.dark_s >= s.sure_s:
        d.age_dark = 0
    if d.bright_s >= s.sure_s:
        d.age_bright = 0
    if d.new_minute:
        at_rail_now = counts >= s.rail_counts and _rail_tells(d, s)
        d.rail_min = up_to_full(d.rail_min) if at_rail_now else 0


def cell_proven(d: DoorState, s: DoorSettings) -> bool:
    """True when the cell has seen both dark and bright within its age."""
    return d.age_dark <= s.age_units and d.age_bright <= s.age_units


def at_rail(d: DoorState) -> bool:
    """True when the reading stands at its upper end."""
    return d.rail_min >= RAIL_MIN


def cell_verdict(d: DoorState, s: DoorSettings) -> None:
    """Rules C4 to C6: the cell's alarm, and a dark mid-day that contradicts an unproven clock."""
    if not evening_by_cell(s) and not morning_by_cell(s):
        d.cell_bad = 0
        return
    facts = d.facts if d.cycle_known else BOTH_EXPECTED
    settled = d.boot_s >= s.settle_s
    bad = (
        d.rail_min >= RAIL_ALARM_MIN
        or (settled and d.age_dark > s.age_units and bool(facts & DARK_EXPECTED))
        or (settled and d.age_bright > s.age_units and bool(facts & LIGHT_EXPECTED))
    )
    # an unknown cycle's facts, above, have a dusk at such an hour, and no time is as early as NO_T
    midday = d.time != BY_LIGHT and facts & LIGHT_EXPECTED and facts & DUSK != DARK_EXPECTED
    until_t = d.close_t_min - s.early_lead_min - BEFORE_DARK_MIN
    if midday and AFTER_NOON_MIN < d.t_min < until_t and d.dark_s >= MIDDAY_DUSKS * s.dusk_s:
        if d.proven or d.fall == FALL_ABRUPT or d.time == BY_OWN_COUNT:
            bad = True
        else:
            d.odd_today = 1
    if bad:
        d.cell_bad = 1
    elif d.bright_s >= s.sure_s and d.age_dark <= s.age_units:
        d.cell_bad = 0


def _learn_shift(d: DoorState, s: DoorSettings, off: int) -> None:
    """Rules M1 and M2: the clock is off by `off` minutes, says last night."""
    before, first = d.last_off_min, not d.taught
    mean, least = towards_zero(off + before, 2), s.shift_proven_min if d.proven else s.shift_two_min
    d.last_off_min, d.taught = off, 1
    d.creeping = min(CREEPING_NIGHTS, d.creeping + 1) if d.proven and abs(off) >= least else 0
    if first or abs(off - before) > s.shift_spread_min:
        if not d.proven and abs(off - d.shift_min) >= s.shift_one_min:
            d.shift_min = off if abs(off) >= s.shift_two_min else 0
        elif first and not d.odd_today:
            d.proven = 1
        return
    if d.proven and abs(mean) >= least and d.creeping < CREEPING_NIGHTS:
        return
    if abs(mean) < least and not (d.shift_min != 0 and abs(mean) >= towards_zero(s.shift_two_min * 2, 3)):
        mean = 0
    if mean == 0 or d.shift_min == 0 or abs(mean - d.shift_min) >= towards_zero(s.shift_two_min, 2):
        d.shift_min = mean
    if not d.odd_today:
        d.proven = 1


def _learn_night(d: DoorState, s: DoorSettings, i: Inputs, off: int) -> None:
    if d.time == BY_CLOCK:
        _learn_shift(d, s, off)
        return
    if d.time == BY_LIGHT:  # M4
        d.own_day, d.own_min = moved_time(d.own_day, d.own_min, -off)
        d.known, d.time, d.proven = 1, BY_OWN_COUNT, 1
        d.shift_min = d.taught = 0
    elif (
        d.stepped
        and abs(d.clock_ahead_min) < FULL
        and abs(half_day_wrap(off + d.clock_ahead_min)) + s.shift_two_min < abs(off)
    ):  # M3: the clock is nearer the Sun
        d.own_day, d.own_min = i.clock_day, i.clock_min
        d.stepped, d.time = 0, BY_CLOCK
    elif abs(off) >= towards_zero(s.shift_two_min * 2, 3):
        d.own_day, d.own_min = moved_time(d.own_day, d.own_min, -off)
    d.unconfirmed_min = 0


def learn(d: DoorState, s: DoorSettings, i: Inputs) -> bool:
    """A natural dusk and a natural dawn: their midpoint is solar midnight, whatever the cell's error or dirt.

    True in the second in which a night has taught something.
    """
    if not evening_by_cell(s) and not morning_by_cell(s):
        return False
    if not d.in_night:
        if d.dark_s == s.dusk_s:
            d.in_night, d.night_min = 1, s.dusk_s // MINUTE_S
            d.night_natural = int(d.fall == FALL_NATURAL)
        return False
    if d.new_minute:
        d.night_min = up_to_full(d.night_min)
    if d.bright_s < s.sure_s:
        return False
    d.in_night = 0
    sure_min = s.sure_s // MINUTE_S
    length_min = d.night_min - sure_min
    usual = d.night_natural and d.rise_natural and s.night_least_min <= length_min <= s.night_most_min
    if not usual or not d.cycle_known or d.facts & BOTH_EXPECTED != BOTH_EXPECTED:
        return False
    off = half_day_wrap(d.t_min + d.shift_min - sure_min - length_min // 2 - HALF_DAY_MIN)
    _learn_night(d, s, i, off)
    return True
