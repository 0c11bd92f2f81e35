"""A log's light laid over the half-days of a scene, in lux, ready for the rules that judge weather years."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sunsched.hardware.light_cell import divider_counts, divider_lux, top_count
from sunsched.hardware.parts import LightCell
from sunsched.study.light_log import LightLog
from sunsched.study.log_clock import FILL_MIN, LogClock, filled
from sunsched.study.passing import confirmed
from sunsched.study.scene import LONGEST_HALF_DAY_MIN, Bools, HalfDays
from sunsched.study.trial import (
    AFTER_NOON_MIN,
    Levels,
    Moves,
    Why,
    Window,
    dawn_in_window,
    dawns_by_light,
    stepped_dusk,
)
from sunsched.study.weather import Floats, Ints, Light

LEAST_LUX = 0.01  # below, neither a photoresistor nor a common sensor measures anything: common practice
BEFORE_MIN, AFTER_MIN = 60, 30  # minutes around the planned one in which the log must have light
STRATEGIES = ("light", "clock", "both")


@dataclass(frozen=True)
class LoggedHalfDays:
    """The light of one half of each day as logged.

    lux_log   (LONGEST_HALF_DAY_MIN, n) log10 lux at the cell; outside the log's rows the nearest value is held
    known     (LONGEST_HALF_DAY_MIN, n) the log has a row there, or a gap of at most 20 minutes
    past_minute  how far into their minute the log's rows fall, 0..1
    judged    (n,) the log covers the minutes around the planned one (or the door stays down: no planned minute)
    """

    half: HalfDays
    lux_log: Light
    known: Bools
    judged: Bools
    past_minute: float = 0.5


def lux_of(values: Floats, unit: str, cell: LightCell) -> Floats:
    """Logged values of any shape as lux at the cell; counts by the configured divider, NaN stays NaN.

    A digital sensor's counts are not supported: its log is in lux.
    """
    if unit == "lux":
        return values
    top = top_count(cell.adc_steps)
    counts = np.clip(np.nan_to_num(values, nan=0.0), 0, top)
    lux = divider_lux(counts, cell.r10_ohm, cell.gamma, cell.fixed_ohm, cell.adc_steps)
    return np.where(np.isnan(values), np.nan, lux)


def level_of(illuminance_lux: float, unit: str, cell: LightCell) -> float:
    """A level in lux in the log's unit."""
    if unit == "lux":
        return illuminance_lux
    part = (cell.r10_ohm, cell.gamma, cell.fixed_ohm, cell.adc_steps)
    return float(divider_counts(illuminance_lux, *part)) + 0.5


def logged_half_days(
    log: LightLog, unit: str, clock: LogClock, cell: LightCell, half: HalfDays, midnight_utc_min: Floats
) -> LoggedHalfDays:
    """The log's light in every minute of the half-days; `midnight_utc_min` (n,) is the moment of study minute 0."""
    lux_log = np.full((LONGEST_HALF_DAY_MIN, half.n_days), np.nan)
    for row in range(half.n_days):
        start_utc = midnight_utc_min[row] + half.start_min[row]
        # a change of the zone falls at night: the offset at the end that lies by day holds from dusk, or dawn, on
        by_day = start_utc + (0 if half.evening else LONGEST_HALF_DAY_MIN)
        start_log = round(float(start_utc + clock.offset_min(np.array([by_day]))[0]))
        values = log.span(start_log, LONGEST_HALF_DAY_MIN)
        if not np.isnan(values).all():
            lux = np.maximum(lux_of(values, unit, cell), LEAST_LUX)
            lux_log[:, row] = filled(np.log10(lux), FILL_MIN)
    known = ~np.isnan(lux_log)
    return LoggedHalfDays(half, _held(lux_log).astype(np.float32), known, _judged(half, known), log.past_minute)


def _held(lux_log: Floats) -> Floats:
    """Every minute without light given the nearest earlier one's, and before the first the first's."""
    held = lux_log.copy()
    known = ~np.isnan(held)
    place = np.where(known, np.arange(len(held))[:, None], 0)
    np.maximum.accumulate(place, axis=0, out=place)
    first = known.argmax(axis=0)
    place = np.maximum(place, first)
    held = np.take_along_axis(held, place, axis=0)
    return np.nan_to_num(held, nan=0.0)


def _judged(half: HalfDays, known: Bools) -> Bools:
    planned = np.nan_to_num(half.planned_min - half.start_min, nan=LONGEST_HALF_DAY_MIN / 2).astype(np.int64)
    minute = planned + np.arange(-BEFORE_MIN, AFTER_MIN + 1)[:, None]
    inside = known[np.clip(minute, 0, LONGEST_HALF_DAY_MIN - 1), np.arange(half.n_days)]
    return np.asarray(inside.all(axis=0) & ~np.isnan(half.planned_min))


def moves_of(logged: LoggedHalfDays, cell: LightCell, cell_from_min: Ints, cell_until_min: Ints) -> dict[str, Moves]:
    """What each strategy would have done: places in the half-day (n,), -1 for never, by the door program's rules.

    cell_from_min, cell_until_min   (n,) the minutes in which the cell may act, from the planned one ("both")
    """
    half, n = logged.half, logged.half.n_days
    levels = Levels.of(cell.dark_lux, cell.light_lux, np.zeros(n), cell.confirm_s)
    planned = np.nan_to_num(half.planned_min - half.start_min, nan=0.0).astype(np.int64)
    window = Window(planned + cell_from_min, planned, planned + cell_until_min, np.ones(n, np.bool_))
    by_clock = Moves(planned, np.full(n, int(Why.CLOCK)))
    if half.evening:
        alone = stepped_dusk(logged.lux_log, levels, None, np.full(n, AFTER_NOON_MIN))
        both = stepped_dusk(logged.lux_log, levels, window, window.first)
    else:
        settled = confirmed(logged.lux_log, levels.wait_min, False)
        alone = dawns_by_light(settled, [levels])[0]
        both = dawn_in_window(settled, levels, window)
    return {"light": alone, "clock": by_clock, "both": both}
