"""The minute at which the door's program closes on one evening under a stated sky: rules C5 and E3 to E5.

The door is healthy: its time is proven, its cell is as stated, and the days before had the same sky. The light is held
for a minute, as it is in the minute's middle. The rules are those of `trial.stepped_dusk`, here in the cell's counts;
tests hold the result against the program itself, which lives through the days before.
"""

from __future__ import annotations

from collections.abc import Sequence
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


class Sky(NamedTuple):
    """One evening: a row of the plan, and what share of the clear sky's light it and the days before it have [0..1]."""

    row: int
    share: float = 1.0


def closing(plan: YearPlan, rules: Rules, cell: LightCell, row: int, share: float = 1.0) -> Closing | None:
    """The door's closing on a row's evening under a share of the clear sky's light; None where it stays down."""
    return closings(plan, rules, cell, [Sky(row, share)])[0]


def closings(plan: YearPlan, rules: Rules, cell: LightCell, skies: Sequence[Sky]) -> list[Closing | None]:
    """The door's closing on each of some evenings, stepped together; None on a day when it stays down."""
    windows = evening_windows(plan, rules)
    found: list[Closing | None] = []
    stepped = []
    for number, sky in enumerate(skies):
        first, last = int(windows.first_min[sky.row]), int(windows.last_min[sky.row])
        shut = plan.close_min[sky.row] == NO_MINUTE
        found.append(None if shut else Closing(first, Why.CLOCK))
        if not shut and first != last:
            stepped.append((number, sky, first, last))
    if not stepped:
        return found
    settings = door_settings(rules, cell, ClockSource())
    before, sure_min = settings.age_units * 10, settings.sure_s // 60
    n_min = before + max(last - first for *_, first, last in stepped) + 1
    counts = np.stack(
        [
            minute_counts(plan, cell, sky.row, np.arange(n_min) + first - before, sky.share)
            for _, sky, first, _ in stepped
        ],
        axis=1,
    )
    usable = [
        _lasts(seen < settings.dark_counts, sure_min) and _lasts(seen > settings.bright_counts, sure_min)
        for seen in counts[:before].T
    ]
    dark, bright, ramp = (
        np.full(len(stepped), level, np.float32)
        for level in (settings.dark_counts, settings.bright_counts, settings.dusk_counts)
    )
    levels = Levels(dark, bright, ramp, (cell.confirm_s - 1) // 60)
    opens = np.full(len(stepped), before)
    due = [max(int(plan.close_min[sky.row]) - first + before, 0) for _, sky, first, _ in stepped]
    ends = [last - first + before for *_, first, last in stepped]
    window = Window(opens, np.array(due), np.array(ends), np.array(usable))
    moves = stepped_dusk(counts.astype(np.float32), levels, window, window.first)
    for (number, _, first, _), place, why in zip(stepped, moves.place.tolist(), moves.why.tolist(), strict=True):
        found[number] = Closing(first - before + place, Why(why))
    return found


def _lasts(true: NDArray[np.bool_], minutes: int) -> bool:
    """Whether a stretch of so many minutes is true throughout."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], true, [False]]).astype(np.int8)))
    return bool((edges[1::2] - edges[::2] >= minutes).any()) if len(edges) else False
