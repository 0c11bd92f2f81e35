"""Daylight under a clear sky from the Sun's altitude, and back.

Illuminance: cubics in the Sun's refracted altitude for log10 of lux, in Seidelmann (ed.), Explanatory Supplement to the
Astronomical Almanac (1992), ground illumination; stated error 0.01 to 0.02 in log10. The coefficients are equal in two
public codes; they were not checked against the book itself.

Refraction: Saemundsson, Sky & Telescope 72 (1986) 70, at 1010 hPa and 10 C, down to where the Sun's centre appears on
the horizon; below, where no ray reaches a level observer, it fades as 1/tan of the depression, as in the NOAA solar
calculator, joined without a step.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from sunsched.base.errors import RangeError
from sunsched.base.rounding import rounded, to_41_bits
from sunsched.sky.crossings import sun_altitude_deg
from sunsched.sky.sun_nodes import Floats

ANGLE_DIGITS = 11  # 1e-9 of the light; the halvings reach 15
LOWEST_DEG = -18.0  # below, starlight and air glow: the light no longer follows the Sun
# lower end of each cubic [degrees, refracted]; the last reaches 90
SEGMENT_DEG = np.array([-18.0, -12.0, -5.0, -0.8, 5.0, 20.0])
SEGMENT_LOG10_LUX = np.array(
    [
        [13.84, 262.72, 1447.42, 2797.93],
        [2.70, 12.17, -431.69, -1899.83],
        [2.88, 21.81, -258.11, -858.36],
        [2.88, 22.26, -207.64, 1034.30],
        [3.05, 13.28, -45.98, 64.33],
        [3.74, 3.97, -4.07, 1.47],
    ]
)
HORIZON_DEG = -0.575  # airless altitude of a Sun whose centre appears on the level horizon


def refraction_deg(altitude_deg: ArrayLike) -> Floats:
    """How much the air lifts the Sun [degrees] at an altitude without refraction [degrees, -90..90], any shape."""
    altitude = np.asarray(altitude_deg, np.float64)
    above = np.clip(altitude, HORIZON_DEG, 90.0)
    lift = _saemundsson_deg(above)
    below = np.minimum(altitude, HORIZON_DEG)
    fading = np.tan(np.radians(HORIZON_DEG)) / np.tan(np.radians(np.maximum(below, -89.9)))
    return np.asarray(np.maximum(lift * fading, 0.0), np.float64)


def _saemundsson_deg(altitude_deg: Floats) -> Floats:
    angle = np.radians(altitude_deg + 10.3 / (altitude_deg + 5.11))
    lift: Floats = 1.02 / 60.0 / np.tan(angle)
    return lift


def airless_altitude_deg(refracted_deg: ArrayLike) -> Floats:
    """The altitude without refraction that appears at `refracted_deg` [degrees, -89..90]: refraction_deg undone."""
    refracted = np.asarray(refracted_deg, np.float64)

    def excess(altitude: Floats) -> Floats:
        return altitude + refraction_deg(altitude) - refracted

    return _root(excess, refracted - 1.0, refracted)


def clear_sky_lux(altitude_deg: ArrayLike) -> Floats:
    """Illuminance of level ground under a clear sky without Moon [lux] for a refracted altitude [degrees], any shape.

    Below -18 degrees the value at -18 holds (0.0006 lux; starlight and air glow give about 0.001 to 0.002).
    """
    altitude = np.asarray(altitude_deg, np.float64)
    if np.any(np.abs(altitude) > 90.0):
        raise RangeError("an altitude beyond 90 degrees; wanted -90 to 90")
    return to_41_bits(10.0 ** _log10_lux(altitude))


def clear_sky_lux_at(utc_min: ArrayLike, latitude_deg: float, longitude_deg: float) -> Floats:
    """Illuminance of level ground under a clear sky [lux] at times of any shape [utc_min] and a place [degrees].

    sun_altitude_deg with refraction added, then clear_sky_lux. Raises RangeError outside 1990 to 2052.
    """
    altitude_deg = sun_altitude_deg(utc_min, latitude_deg, longitude_deg)
    return clear_sky_lux(altitude_deg + refraction_deg(altitude_deg))


def _log10_lux(altitude_deg: Floats) -> Floats:
    altitude = np.maximum(altitude_deg, LOWEST_DEG)
    segment = np.maximum(np.searchsorted(SEGMENT_DEG, altitude, side="right") - 1, 0)
    c0, c1, c2, c3 = np.moveaxis(SEGMENT_LOG10_LUX[segment], -1, 0)
    x = altitude / 90.0
    value: Floats = c0 + x * (c1 + x * (c2 + x * c3))
    return value


def altitude_of_lux(lux: ArrayLike) -> Floats:
    """The refracted altitude [degrees] at which a clear sky gives `lux`, any shape: clear_sky_lux undone.

    Raises RangeError outside 0.00065 to 128,800 lux, the light at altitudes from -18 to 90 degrees.
    """
    light = np.asarray(lux, np.float64)
    dimmest, brightest = clear_sky_lux([LOWEST_DEG, 90.0])
    if not np.all((light >= dimmest) & (light <= brightest)):
        raise RangeError(f"{light} lux; a clear sky gives {dimmest:.2g} to {brightest:.4g} lux")

    def excess(altitude: Floats) -> Floats:
        return _log10_lux(altitude) - np.log10(light)

    return _root(excess, np.full_like(light, LOWEST_DEG), np.full_like(light, 90.0))


@lru_cache(maxsize=4096)  # the sites of a batch share a few levels
def depression_of_clear_sky_lux(lux: float) -> float:
    """Depression of the Sun's centre without refraction [degrees, negative above the horizon] when a clear sky gives
    `lux`; its negative is an angle for altitude_crossings. Raises RangeError as altitude_of_lux does.
    """
    return -rounded(float(airless_altitude_deg(altitude_of_lux(lux))), ANGLE_DIGITS)


def _root(excess: Callable[[Floats], Floats], low: Floats, high: Floats) -> Floats:
    """The zero of an increasing function, by halving; 60 halvings reach the last bit of a double."""
    for _ in range(60):
        middle = (low + high) / 2.0
        short = excess(middle) < 0.0
        low, high = np.where(short, middle, low), np.where(short, high, middle)
    return (low + high) / 2.0
