"""Light on the cell for the emulated year: clear, dull, storms, lamps, snow on the cell, second by second.

The weather is of our own invention and is meant to be hard on the program, not to be likely.
"""

from __future__ import annotations

from typing import Literal, get_args

import numpy as np
from numpy.typing import NDArray

from sunsched.config.configuration import Configuration
from sunsched.hardware.light_cell import divider_counts
from sunsched.plan.year import NO_MINUTE, YearPlan
from sunsched.sky.crossings import sun_altitude_deg
from sunsched.sky.daylight import clear_sky_lux, refraction_deg

Kind = Literal["clear", "dull", "storm", "passing_lamps", "steady_lamp", "snow"]
KINDS: tuple[Kind, ...] = get_args(Kind)
DAY_S = 86_400
DULL, SNOW = 0.1, 1 / 30
STORM_DECADES = 1.1
MOST_LUX = 32_766


def kinds_of_days(n_days: int, seed: int) -> list[Kind]:
    """What each day is like; the first two are clear, so that the program can prove its clock."""
    rng = np.random.default_rng(seed)
    drawn = rng.choice(len(KINDS), n_days, p=(0.4, 0.25, 0.1, 0.1, 0.05, 0.1))
    return ["clear", "clear", *(KINDS[i] for i in drawn)][:n_days]


def day_counts(configuration: Configuration, plan: YearPlan, row: int, kind: Kind) -> NDArray[np.uint16]:
    """Counts for each second of the chip's date in `row`, midnight to midnight (86400,)."""
    site, cell = configuration.site, configuration.light_cell
    first_utc_min = float(plan.days[row]) * 1440.0 - plan.chip_offset_min
    altitude_deg = sun_altitude_deg(first_utc_min + np.arange(1441.0), site.latitude_deg, site.longitude_deg)
    lux = clear_sky_lux(altitude_deg + refraction_deg(altitude_deg)) * cell.sky_view
    minute = np.arange(DAY_S) / 60.0
    log_lux = np.interp(minute, np.arange(1441.0), np.log10(np.maximum(lux, 1e-4)))
    light_lux = 10.0 ** (log_lux + _cover(plan, row, kind, minute)) + _lamps(plan, row, kind, minute)
    if cell.kind == "lux":
        return np.asarray(np.minimum(light_lux, MOST_LUX), np.uint16)
    counts = divider_counts(light_lux, cell.r10_ohm, cell.gamma, cell.fixed_ohm, cell.adc_steps)
    return np.asarray(counts, np.uint16)


def _closing(plan: YearPlan, row: int) -> float:
    close_min = int(plan.close_min[row])
    return 1200.0 if close_min == NO_MINUTE else float(close_min)


def _cover(plan: YearPlan, row: int, kind: Kind, minute: NDArray[np.float64]) -> NDArray[np.float64]:
    """What is taken off the light [log10]; it comes and goes over minutes, as clouds and snow do."""
    close_min = _closing(plan, row)
    if kind == "dull":
        return np.full(len(minute), np.log10(DULL))
    if kind == "storm":
        edges = (close_min - 75, close_min - 70, close_min - 30, close_min - 25)
        return np.interp(minute, edges, (0.0, -STORM_DECADES, -STORM_DECADES, 0.0))
    if kind == "snow":
        # falls through the night, slides off in the forenoon
        return np.interp(minute, (0.0, 600.0, 660.0), (np.log10(SNOW), np.log10(SNOW), 0.0))
    return np.zeros(len(minute))


def _lamps(plan: YearPlan, row: int, kind: Kind, minute: NDArray[np.float64]) -> NDArray[np.float64]:
    """Light of lamps [lux]: headlights every 4 min for 20 s; a lamp of 60 lux for two hours."""
    to_close = minute - _closing(plan, row)
    if kind == "passing_lamps":
        return np.where((np.abs(to_close) < 40) & ((minute * 60) % 240 < 20), 80.0, 0.0)
    if kind == "steady_lamp":
        return np.where((to_close > -30) & (to_close < 90), 60.0, 0.0)
    return np.zeros(len(minute))
