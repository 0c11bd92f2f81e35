"""The minute at which the door's program closes on one evening under a stated sky: rules C5 and E3 to E5.

The door is healthy: its time is proven, its cell is as stated, and the days before had the same sky. The light is held
for a minute, as it is in the minute's middle. The rules are those of `trial.stepped_dusk`, here in the cell's counts;
tests hold the result against the program itself, which lives through the days before.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sunsched.controller.door_settings import door_settings
from sunsched.controller.door_window import evening_windows
from sunsched.hardware.light_cell import divider_counts
from sunsched.hardware.parts import ClockSource, LightCell
from sunsched.plan.rules import Rules
from sunsched.plan.year import NO_MINUTE, YearPlan
from sunsched.sky.daylight import clear_sky_lux_at
from sunsched.study.trial import Levels, Why, Window, stepped_dusk
from sunsched.study.weather import Floats, Ints

MOST_LUX = 32_000  # the program's counts are signed


class Closing(NamedTuple):
    """The minute of a closing [chip minutes after the midnight of the row's date], and what moved the door."""

    minute: int
    why: Why


def cell_counts(cell: LightCell, lux: Floats) -> Ints:
    """What a cell reads for light that falls on it [lux, any shape]."""
    if cell.kind == "lux":
        return np.floor(np.minimum(lux, MOST_LUX)).astype(np.int64)
    return divider_counts(lux, cell.r10_ohm, cell.gamma, cell.fixed_ohm, cell.adc_steps)


def minute_counts(plan: YearPlan, cell: LightCell, row: int, minutes: NDArray[np.int64], share: float) -> Ints:
    """The cell's counts (n,) in chip minutes of a row's date, under a sky with a share of the clear one's light."""
    midnight = float(plan.utc_min(plan.noon_min)[row]) - float(plan.noon_min[row])
    site = plan.site
    lux = clear_sky_lux_at(midnight + minutes + 0.5, site.latitude_deg, site.longitude_deg)
    return cell_counts(cell, lux * cell.sky_view * share)


def closing(plan: YearPlan, rules: Rules, cell: LightCell, row: int, share: float = 1.0) -> Closing | None:
    """The door's closing on a row's evening; None on a day when it stays down.

    share   of the clear sky's light that this evening, and the days before it, have [0..1]
    """
    planned = int(plan.close_min[row])
    if planned == NO_MINUTE:
        return None
    windows = evening_windows(plan, rules)
    first, last = int(windows.first_min[row]), int(windows.last_min[row])
    if first == last:
        return Closing(first, Why.CLOCK)
    settings = door_settings(rules, cell, ClockSource())
    start = first - settings.age_units * 10
    minutes = np.arange(start, last + 1)
    counts = minute_counts(plan, cell, row, minutes, share)
    sure_min = settings.sure_s // 60
    seen = counts[: first - start]
    usable = _lasts(seen < settings.dark_counts, sure_min) and _lasts(seen > settings.bright_counts, sure_min)
    dark, bright, ramp = (
        np.array([level], np.float32) for level in (settings.dark_counts, settings.bright_counts, settings.dusk_counts)
    )
    levels = Levels(dark, bright, ramp, (cell.confirm_s - 1) // 60)
    opens, due, ends = (np.array([max(minute - start, 0)]) for minute in (first, planned, last))
    window = Window(opens, due, ends, np.array([usable]))
    found = stepped_dusk(counts.astype(np.float32)[:, None], levels, window, window.first)
    return Closing(start + int(found.place[0]), Why(int(found.why[0])))


def _lasts(true: NDArray[np.bool_], minutes: int) -> bool:
    """Whether a stretch of so many minutes is true throughout."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], true, [False]]).astype(np.int8)))
    return bool((edges[1::2] - edges[::2] >= minutes).any()) if len(edges) else False
