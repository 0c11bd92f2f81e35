"""Rules E, D, X and A: where clock and light want the door, for any minute, never from an edge."""

from __future__ import annotations

from typing import NamedTuple

from sunsched.controller.door_settings import DoorSettings
from sunsched.controller.door_state import (
    DAY_MIN,
    FALL_ABRUPT,
    FALL_NATURAL,
    HALF_DAY_MIN,
    LATCH_DOWN,
    LATCH_NONE,
    LATCH_UP,
    NO_T,
    DoorState,
    towards_zero,
    up_to_full,
)
from sunsched.controller.light_witness import at_rail, cell_proven, evening_by_cell, morning_by_cell
from sunsched.controller.time_witness import night_by_time
from sunsched.controller.words import Facts, Want, Why

WANT_DOWN, WANT_UP, WANT_STAY = int(Want.DOWN), int(Want.UP), int(Want.STAY)
# plain numbers: an enumeration costs a microsecond a time, and there are 31 million seconds in a year
WHY_CLOSE_MINUTE = int(Why.CLOSE_MINUTE)
WHY_DAWN = int(Why.DAWN)
WHY_DAWN_LIMIT = int(Why.DAWN_LIMIT)
WHY_DAY = int(Why.DAY)
WHY_DUSK = int(Why.DUSK)
WHY_DUSK_LIMIT = int(Why.DUSK_LIMIT)
WHY_EARLY_DUSK = int(Why.EARLY_DUSK)
WHY_HELD_DOWN = int(Why.HELD_DOWN)
WHY_HELD_UP = int(Why.HELD_UP)
WHY_KEPT_IN = int(Why.KEPT_IN)
WHY_LIGHT_ALONE = int(Why.LIGHT_ALONE)
WHY_LONG_SHUT = int(Why.LONG_SHUT)
WHY_NIGHT = int(Why.NIGHT)
WHY_OPEN_MINUTE = int(Why.OPEN_MINUTE)
WHY_STEADY_LIGHT = int(Why.STEADY_LIGHT)
DARK_EXPECTED = int(Facts.DARK_EXPECTED)
OPEN_BY_TWILIGHT, CLOSE_BY_TWILIGHT = int(Facts.OPEN_BY_TWILIGHT), int(Facts.CLOSE_BY_TWILIGHT)
LEAST_AFTER_NOON_MIN = DAY_MIN // 12  # dark about noon is never dusk, however wide the window
HOUR_MIN = DAY_MIN // 24
CONTRADICTS_AFTER_MIN = 10


class Sight(NamedTuple):
    """The light as this second's rules use it."""

    counts: int
    usable: bool
    rail: bool
    veto: bool
    early: bool
    stale: bool


def _look(d: DoorState, s: DoorSettings, counts: int) -> Sight:
    held_already = d.hold_dim_min + d.hold_day_min > 0
    room = d.hold_dim_min < s.hold_dim_min if counts < s.lamp_counts else d.hold_day_min < s.hold_day_min
    armed = not d.proven and evening_by_cell(s) and bool(d.facts & CLOSE_BY_TWILIGHT)
    rail = at_rail(d)
    usable = cell_proven(d, s) and not rail
    stale = d.dark_s >= s.stale_s
    bright_lately = d.age_bright <= s.age_units and not rail and not d.flat
    above = counts > s.hold_counts or (held_already and counts >= s.dark_counts)
    veto = armed and bool(d.known and d.facts & DARK_EXPECTED) and bright_lately and room and above
    early = armed and usable and d.fall == FALL_NATURAL and not stale and d.night_s >= s.early_s
    return Sight(counts, usable, rail, veto, early, stale)


def _decide(d: DoorState, plan: int, reason: int, latch: int = LATCH_NONE) -> None:
    d.plan, d.reason = plan, reason
    if latch != LATCH_NONE:
        d.latch = latch


def _hold_up(d: DoorState, s: DoorSettings, sight: Sight) -> None:
    if d.new_minute:
        if sight.counts < s.lamp_counts:
            d.hold_dim_min = up_to_full(d.hold_dim_min)
        else:
            d.hold_day_min = up_to_full(d.hold_day_min)
    _decide(d, WANT_UP, WHY_HELD_UP)
    if d.hold_dim_min + d.hold_day_min >= CONTRADICTS_AFTER_MIN:
        d.odd_today = 1


def _evening(d: DoorState, s: DoorSettings, sight: Sight, from_t: int, until_t: int) -> None:
    usable = sight.usable and evening_by_cell(s)
    natural_dark = usable and d.fall == FALL_NATURAL and not sight.stale
    early_latch = d.latch == LATCH_DOWN and d.reason == WHY_EARLY_DUSK
    if early_latch and d.bright_s >= s.sure_s and d.t_min < d.close_t_min - HOUR_MIN:
        d.latch = LATCH_NONE  # it was not dusk after all
    due = d.t_min >= d.close_t_min
    if d.latch == LATCH_DOWN:
        d.plan = WANT_DOWN
    elif d.t_min < from_t:
        if sight.early and d.t_min < d.close_t_min - s.early_lead_min:
            _decide(d, WANT_DOWN, WHY_EARLY_DUSK, LATCH_DOWN)
            d.odd_today = 1
        else:
            _decide(d, WANT_UP, WHY_DAY)
    elif natural_dark and d.dark_s >= s.confirm_s:
        _decide(d, WANT_DOWN, WHY_DUSK, LATCH_DOWN)
    elif due and sight.veto and (not usable or d.t_min >= until_t):
        _hold_up(d, s, sight)
    elif due and (not usable or (d.dark_s > 0 and not natural_dark)):
        _decide(d, WANT_DOWN, WHY_CLOSE_MINUTE, LATCH_DOWN)
    elif d.t_min >= until_t:
        _decide(d, WANT_DOWN, WHY_DUSK_LIMIT, LATCH_DOWN)
    elif d.plan == WANT_STAY:
        _decide(d, WANT_DOWN if d.dark_s > 0 else WANT_UP, WHY_NIGHT if d.dark_s > 0 else WHY_DAY)


def _before_dawn(d: DoorState, s: DoorSettings, sight: Sight) -> None:
    if d.latch != LATCH_DOWN and d.plan != WANT_DOWN and sight.veto:
        _hold_up(d, s, sight)
        return
    if d.plan != WANT_DOWN:
        d.reason = WHY_NIGHT
    d.plan, d.latch = WANT_DOWN, LATCH_DOWN


def _morning_limit(d: DoorState, s: DoorSettings, sight: Sight, usable: bool) -> None:
    armed = not d.proven and usable and bool(d.facts & OPEN_BY_TWILIGHT) and not d.cell_bad
    abrupt = d.dark_s > 0 and d.fall == FALL_ABRUPT
    deep = sight.counts < s.deep_counts
    if armed and deep and not abrupt and d.morning_hold_min < s.morning_hold_min:
        if d.new_minute:
            d.morning_hold_min = up_to_full(d.morning_hold_min)
        _decide(d, WANT_DOWN, WHY_HELD_DOWN)
        if d.morning_hold_min >= CONTRADICTS_AFTER_MIN:
            d.odd_today = 1
    else:
        _decide(d, WANT_UP, WHY_DAWN_LIMIT, LATCH_UP)


def _morning(d: DoorState, s: DoorSettings, sight: Sight, from_t: int, until_t: int) -> None:
    usable = sight.usable and morning_by_cell(s)
    early_latch = d.latch == LATCH_DOWN and d.reason == WHY_EARLY_DUSK and d.dark_s > 0
    if d.latch == LATCH_UP:
        d.plan = WANT_UP
        if sight.early and sight.counts < s.deep_counts and d.since_min >= HOUR_MIN:  # a clock half a day wrong
            _decide(d, WANT_DOWN, WHY_EARLY_DUSK, LATCH_DOWN)
            d.odd_today = 1
    elif d.t_min < from_t or early_latch:
        _before_dawn(d, s, sight)
    elif usable and d.bright_s >= s.confirm_s:
        _decide(d, WANT_UP, WHY_DAWN, LATCH_UP)
    elif not usable and d.t_min >= d.open_t_min:
        _decide(d, WANT_UP, WHY_OPEN_MINUTE, LATCH_UP)
    elif d.t_min >= until_t:
        _morning_limit(d, s, sight, usable)
    elif d.plan == WANT_STAY:
        _decide(d, WANT_DOWN, WHY_NIGHT)


def _by_table(d: DoorState, s: DoorSettings, sight: Sight) -> None:
    if d.boot_s < s.confirm_s:
        return
    no_evening, no_morning = d.close_t_min == NO_T, d.open_t_min == NO_T
    middle_t = HALF_DAY_MIN if no_evening or no_morning else towards_zero(d.close_t_min + d.open_t_min, 2)
    evening = d.t_min < middle_t and d.latch != LATCH_UP
    if (evening and no_evening) or (not evening and no_morning):
        _decide(d, WANT_DOWN, WHY_KEPT_IN)
    elif evening:
        from_t = max(d.close_t_min + s.evening_from_min, min(LEAST_AFTER_NOON_MIN, d.close_t_min))
        _evening(d, s, sight, from_t, d.close_t_min + s.evening_until_min)
    else:
        _morning(d, s, sight, d.open_t_min + s.morning_from_min, d.open_t_min + s.morning_until_min)


def _lamp(d: DoorState, s: DoorSettings, sight: Sight) -> bool:
    """Rule A3's lamp: flat and low for long; or at night by the estimate, flat or no more than a lamp gives."""
    long_and_low = d.flat and sight.counts < s.dusk_counts and d.flat_min >= 2 * s.flat_min
    return bool(long_and_low or (night_by_time(d) and (d.flat or sight.counts < s.lamp_counts)))


def _by_light_alone(d: DoorState, s: DoorSettings, sight: Sight) -> None:
    natural = d.dark_s >= s.alone_dark_s and d.fall == FALL_NATURAL
    dusk = d.age_bright <= s.age_units and (natural or d.dark_s >= s.alone_abrupt_s)
    dawn = d.bright_s >= s.alone_bright_s and not sight.rail
    lamp = _lamp(d, s, sight)
    airing = d.reason == WHY_LONG_SHUT and d.since_min < s.alone_open_min
    d.latch = LATCH_NONE  # without a time there is no cycle to decide for
    if d.plan == WANT_STAY:
        if d.dark_s >= s.alone_dark_s:
            _decide(d, WANT_DOWN, WHY_LIGHT_ALONE)
        elif dawn and not lamp:
            _decide(d, WANT_UP, WHY_LIGHT_ALONE)
        elif lamp and d.boot_s >= s.alone_abrupt_s:
            _decide(d, WANT_DOWN, WHY_STEADY_LIGHT)
    elif d.plan == WANT_UP:
        if d.since_min >= s.alone_open_min and dusk:
            _decide(d, WANT_DOWN, WHY_LIGHT_ALONE)
        elif lamp and not airing:
            _decide(d, WANT_DOWN, WHY_STEADY_LIGHT)
    elif d.since_min >= s.alone_shut_min and dawn and sight.counts > s.dusk_counts and not d.flat and not lamp:
        _decide(d, WANT_UP, WHY_LIGHT_ALONE)
    elif d.since_min >= s.longest_shut_min:
        _decide(d, WANT_UP, WHY_LONG_SHUT)


def step_plan(d: DoorState, s: DoorSettings, counts: int) -> None:
    """One second: set `plan` and `reason` for the present minute and light."""
    sight = _look(d, s, counts)
    before = d.plan
    if d.new_minute:
        d.since_min = up_to_full(d.since_min)
    if d.cycle_known and (d.known or not sight.usable or d.cell_bad):
        _by_table(d, s, sight)
    else:
        _by_light_alone(d, s, sight)
    if d.plan != before:
        d.since_min = 0
