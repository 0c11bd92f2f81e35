"""Sunrise and sunset over a site's own horizon: level, below the site, or hills.

Level: the Sun's centre 50' below the horizontal (refraction 34', semidiameter 16'), as the U.S. Naval Observatory
defines it; height above the sea changes nothing. Where the ground falls away the horizon dips. Over hills, sunrise is
when the Sun's upper edge, with refraction, clears them. Neither moves a twilight.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from sunsched.base.errors import RangeError
from sunsched.sky.crossings import Crossings, State, altitude_crossings, sun_position_deg
from sunsched.sky.sun_nodes import Bools, Floats, Int8s

HORIZON_REFRACTION_DEG = 34.0 / 60.0
SEMIDIAMETER_DEG = 16.0 / 60.0
SUNRISE_ALTITUDE_DEG = -50.0 / 60.0
# 2.12' sqrt(height in m): U.S. Naval Observatory, Almanac for Computers, as quoted at vdoc.pub. It counts the extra
# refraction along the way; the dip of the sea horizon alone is 1.76' sqrt(h).
DIP_DEG_PER_ROOT_M = 2.12 / 60.0
LOOK_EVERY_MIN = 2.0  # hills hiding the Sun, or gaps showing it, for less than this (0.5 degrees) may be passed over
REFINEMENTS = 14  # halvings of two minutes: 7 ms


class Skyline(NamedTuple):
    """The horizon of a site: altitudes in rising azimuths; straight between them, round the whole circle [degrees]."""

    azimuth_deg: Floats
    altitude_deg: Floats

    def centre_altitude_deg(self, azimuth_deg: Floats) -> Floats:
        """The altitude without refraction that the Sun's centre must reach in a direction for its edge to show."""
        return centre_altitude_deg(np.interp(azimuth_deg, self.azimuth_deg, self.altitude_deg, period=360.0))


def centre_altitude_deg(horizon_deg: ArrayLike) -> Floats:
    """Altitude of the Sun's centre without refraction when its upper edge appears at `horizon_deg` [both degrees].

    Above the horizontal Bennett's refraction (Journal of Navigation 35 (1982) 255), scaled to the 34' of the
    definition at 0, so that a skyline of no height gives the sunrise of a level horizon; below it 50' throughout.
    """
    horizon = np.asarray(horizon_deg, np.float64)
    lift = HORIZON_REFRACTION_DEG * _bennett(np.maximum(horizon, 0.0)) / _bennett(np.zeros(()))
    return np.asarray(horizon - np.maximum(lift, 0.0) - SEMIDIAMETER_DEG, np.float64)


def _bennett(apparent_deg: Floats) -> Floats:
    value: Floats = 1.0 / np.tan(np.radians(apparent_deg + 7.31 / (apparent_deg + 4.4)))
    return value


def site_skyline(height_above_horizon_m: float, skyline: Sequence[tuple[float, float]]) -> Skyline:
    """The horizon of a site: entries of (azimuth, altitude) [degrees]; a single entry holds for the whole circle.

    Where no hill stands (no entries, or an entry of 0) the horizon dips by the height of the site above it. Raises
    RangeError for a negative height, azimuths outside 0..360, altitudes outside 0..90, or two altitudes for one
    azimuth (0 and 360 are one).
    """
    if not 0.0 <= height_above_horizon_m < np.inf:
        raise RangeError(f"height above the horizon {height_above_horizon_m:g} m; wanted 0 or more")
    entries = sorted({(azimuth % 360.0, altitude) for azimuth, altitude in skyline}) or [(0.0, 0.0)]
    azimuth, altitude = np.array(entries, np.float64).T
    wrong = not all(0.0 <= given[0] <= 360.0 for given in skyline)
    if wrong or not np.all((altitude >= 0.0) & (altitude <= 90.0)) or np.unique(azimuth).size < azimuth.size:
        raise RangeError(f"skyline {list(skyline)}; wanted azimuths 0 to 360, each once, and altitudes 0 to 90 degrees")
    dip = DIP_DEG_PER_ROOT_M * np.sqrt(height_above_horizon_m)
    return Skyline(azimuth, np.where(altitude > 0.0, altitude, -dip))


def sunrise_sunset(
    first_day: int,
    n_days: int,
    latitude_deg: float,
    longitude_deg: float,
    height_above_horizon_m: float = 0.0,
    skyline: Sequence[tuple[float, float]] = (),
) -> Crossings:
    """Sunrise and sunset of n solar days over the site's own horizon; shapes as altitude_crossings gives for one angle.

    Over hills, sunrise is the first appearance of the Sun's upper edge after a solar midnight, sunset its last
    disappearance before the next; a Sun seen at that midnight has none (ALWAYS_ABOVE). margin_deg is then the least
    distance of the three extremes from the horizon in their direction. Raises RangeError as altitude_crossings and
    site_skyline do.
    """
    horizon = site_skyline(height_above_horizon_m, skyline)
    least_most = centre_altitude_deg(np.array([horizon.altitude_deg.min(), horizon.altitude_deg.max()]))
    place = (latitude_deg, longitude_deg)
    if least_most[0] == least_most[1]:
        return altitude_crossings(first_day, n_days, *place, least_most[:1])
    bounds = altitude_crossings(first_day, n_days, *place, least_most)
    rise, morning_state = _first_seen(*_search_times(bounds, 1), horizon, place)
    set_, evening_state = _first_seen(*_search_times(bounds, -1), horizon, place)
    noon, midnight = bounds.noon_utc_min, bounds.midnight_utc_min
    clearances = [_clearance_deg(times, horizon, place) for times in (midnight[:-1], noon, midnight[1:])]
    margin = np.abs(clearances).min(axis=0)
    states = (morning_state[None], evening_state[None])
    return Crossings(noon, midnight, rise[None], set_[None], *states, margin[None], bounds.extreme_deg)


def _clearance_deg(utc_min: Floats, horizon: Skyline, place: tuple[float, float]) -> Floats:
    """How far the Sun's upper edge stands above the horizon in its direction [degrees]; negative when hidden."""
    altitude_deg, azimuth_deg = sun_position_deg(utc_min, *place)
    return altitude_deg - horizon.centre_altitude_deg(azimuth_deg)


def _search_times(bounds: Crossings, direction: int) -> tuple[Floats, Bools]:
    """Times (n, m) from solar midnight towards the next (direction 1), or back from the next (-1); and for each day
    whether the Sun has topped every hill at its last time.

    The Sun is hidden below every hill and visible above all; midnight itself and the time between must be checked.
    """
    midnights = bounds.midnight_utc_min
    if direction > 0:
        start, end = midnights[:-1], midnights[1:]
        enter, leave, clear = bounds.rise_utc_min[0], bounds.set_utc_min[0], bounds.rise_utc_min[1]
    else:
        start, end = midnights[1:], midnights[:-1]
        enter, leave, clear = bounds.set_utc_min[0], bounds.rise_utc_min[0], bounds.set_utc_min[1]
    first = np.where(np.isnan(enter), start, enter)
    last = np.where(np.isnan(clear), np.where(np.isnan(leave), end, leave), clear)
    dark = (bounds.morning_state[0] == State.ALWAYS_BELOW) & (bounds.evening_state[0] == State.ALWAYS_BELOW)
    last = np.where(dark, first, last)
    n_looks = int(np.ceil(np.abs(last - first).max() / LOOK_EVERY_MIN)) + 1
    looks = first[:, None] + (last - first)[:, None] * np.linspace(0.0, 1.0, n_looks)
    return np.concatenate((start[:, None], looks), axis=1), ~np.isnan(clear)


def _first_seen(times: Floats, topped: Bools, horizon: Skyline, place: tuple[float, float]) -> tuple[Floats, Int8s]:
    """The first time in each row (n, m) at which the Sun shows, and the State (n,): ALWAYS_ABOVE if from the start."""
    seen = _clearance_deg(times, horizon, place) >= 0.0
    seen[:, -1] |= topped
    which = np.argmax(seen, axis=1)
    state = np.where(seen[:, 0], State.ALWAYS_ABOVE, np.where(seen.any(axis=1), State.CROSSES, State.ALWAYS_BELOW))
    rows = np.arange(len(times))
    hidden, shown = times[rows, np.maximum(which - 1, 0)], times[rows, which]
    # before the first check after midnight the Sun is below every hill: that time need not be searched
    hidden = shown - np.clip(shown - hidden, -LOOK_EVERY_MIN, LOOK_EVERY_MIN)
    for _ in range(REFINEMENTS):
        middle = (hidden + shown) / 2.0
        up = _clearance_deg(middle, horizon, place) >= 0.0
        hidden, shown = np.where(up, hidden, middle), np.where(up, middle, shown)
    result = np.where(state == State.CROSSES, (hidden + shown) / 2.0, np.nan)
    return result, state.astype(np.int8)
