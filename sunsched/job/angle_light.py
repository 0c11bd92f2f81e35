"""Noted nights beside a light log of the same evenings: did the birds follow the light or the Sun?"""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from sunsched.config.configuration import Configuration
from sunsched.job.log_settling import SettledLog, settled
from sunsched.job.replay import chip_offset_of
from sunsched.sky.crossings import sun_altitude_deg
from sunsched.sky.daylight import clear_sky_lux, refraction_deg
from sunsched.study import light_log
from sunsched.study.log_clock import FILL_MIN, filled
from sunsched.study.log_light import LEAST_LUX, lux_of
from sunsched.study.observations import Following, Nights, following

AROUND_MIN = 110  # minutes before and after the noted time in which both crossings are sought
NEAR_MIN = 45  # the log must have light for so long on either side
STEADY_MIN = 5  # minutes below the level that make it a crossing
SMOOTH_MIN = 3


def light_on_nights(
    configuration: Configuration, path: Path, nights: Nights
) -> tuple[tuple[float | None, ...], Following | None, tuple[str, ...]]:
    """Measured lux at each noted time, how far the birds follow the light, and warnings of the log.

    The level is the middle (in log) of the light measured at the noted times; where the log has too few of them
    nothing is told.
    """
    log = light_log.read(path)
    found = settled(log, configuration, chip_offset_of(configuration, min(log.days)), None, None)
    evenings = [_evening(found, configuration, float(at)) for at in nights.utc_min]
    at_entry = np.array([evening[AROUND_MIN] for evening in evenings])
    told = ~np.isnan(at_entry)
    lux = tuple(float(10**value) if known else None for value, known in zip(at_entry, told, strict=True))
    if not told.any():
        return lux, None, (*found.warnings, f"{path}: no light at any of the noted times")
    level_log = float(np.median(at_entry[told]))
    start = np.floor(nights.utc_min) - AROUND_MIN
    light = start + np.array([_crossing(evening, level_log) for evening in evenings])
    clear = start + np.array([_crossing(_clear(configuration, first), level_log) for first in start])
    return lux, following(nights.utc_min, light, clear), found.warnings


def _evening(found: SettledLog, configuration: Configuration, at_utc_min: float) -> NDArray[np.float64]:
    """Log10 lux of the minutes around a time, NaN where the log has none."""
    start = np.floor(at_utc_min) - AROUND_MIN
    log_start = round(float(start + found.clock.offset_min(np.array([at_utc_min]))[0]))
    values = found.log.span(log_start, 2 * AROUND_MIN + 1)
    if np.isnan(values).all():
        return values
    lux = np.maximum(lux_of(values, found.unit, configuration.light_cell), LEAST_LUX)
    return filled(np.log10(lux), FILL_MIN)


def _clear(configuration: Configuration, start_utc_min: float) -> NDArray[np.float64]:
    site = configuration.site
    when = start_utc_min + np.arange(2 * AROUND_MIN + 1)
    airless = sun_altitude_deg(when, site.latitude_deg, site.longitude_deg)
    lux = clear_sky_lux(airless + refraction_deg(airless)) * configuration.light_cell.sky_view
    return np.asarray(np.log10(lux))


def _crossing(light_log10: NDArray[np.float64], level_log: float) -> float:
    """The first minute from which the light stays below the level for `STEADY_MIN`; NaN where it never does."""
    known = ~np.isnan(light_log10)
    if not known[AROUND_MIN - NEAR_MIN : AROUND_MIN + NEAR_MIN].all():
        return float("nan")
    held = np.interp(np.arange(len(known)), np.flatnonzero(known), light_log10[known])
    padded = np.pad(held, SMOOTH_MIN // 2, mode="edge")
    smooth = np.convolve(padded, np.ones(SMOOTH_MIN) / SMOOTH_MIN, mode="valid")
    below = smooth < level_log
    run = np.convolve(below, np.ones(STEADY_MIN), mode="valid") == STEADY_MIN
    if not run.any() or below[0]:
        return float("nan")
    return float(run.argmax())
