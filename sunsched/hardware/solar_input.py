"""The Sun's energy on a panel, day by day, from a day's clearness.

One row a day; angles in degrees, irradiation in kWh/m2/day. A year is `n_days` rows long.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sunsched.base.errors import RangeError

Array = NDArray[np.float64]

SOLAR_CONSTANT_KW_M2 = 1.361  # Kopp & Lean 2011, Geophys. Res. Lett. 38, L01706
HOUR_STEPS = 288  # hour angle every 1.25 deg (5 min): tests/hardware/test_solar_input.py shows what finer changes
PATCH_DEG = 5.0  # of sky, for the diffuse share behind hills
CLEARNESS_MOST = 0.85  # no whole day is clearer: a figure above it is a slip of units


def _day_angle(day_of_year: ArrayLike) -> Array:
    return 2.0 * np.pi * (np.asarray(day_of_year, dtype=np.float64) - 1.0) / 365.0


def declination_deg(day_of_year: ArrayLike) -> Array:
    """The Sun's declination on each `day_of_year` (1 is 1 January) [degrees].

    Source: Spencer 1971, as printed by Iqbal 1983, eq. 1.3.1; good to 0.2 deg over a year, and up to 0.5 deg
    from one year to the next of a leap cycle.
    """
    a = _day_angle(day_of_year)
    series = 0.006918 - 0.399912 * np.cos(a) + 0.070257 * np.sin(a)
    series += -0.006758 * np.cos(2 * a) + 0.000907 * np.sin(2 * a)
    series += -0.002697 * np.cos(3 * a) + 0.00148 * np.sin(3 * a)
    return np.asarray(np.degrees(series))


def distance_factor(day_of_year: ArrayLike) -> Array:
    """(mean / actual distance of the Sun) squared. Source: Spencer 1971, in Iqbal 1983, eq. 1.2.1."""
    a = _day_angle(day_of_year)
    series = 1.00011 + 0.034221 * np.cos(a) + 0.00128 * np.sin(a)
    return np.asarray(series + 0.000719 * np.cos(2 * a) + 0.000077 * np.sin(2 * a), dtype=np.float64)


def sunset_hour_angle_deg(latitude_deg: float, declination: ArrayLike) -> Array:
    """Hour angle of geometric sunset [degrees]: 0 in the polar night, 180 in the polar day."""
    cosine = -np.tan(np.radians(latitude_deg)) * np.tan(np.radians(declination))
    return np.asarray(np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))))


def extraterrestrial_kwh(latitude_deg: float, day_of_year: ArrayLike) -> Array:
    """Irradiation of a level surface above the air, H0 [kWh/m2/day]; 0 in the polar night.

    Source: Duffie & Beckman, Solar Engineering of Thermal Processes, eq. 1.10.3.
    """
    latitude, declination = np.radians(latitude_deg), np.radians(declination_deg(day_of_year))
    sunset = np.radians(sunset_hour_angle_deg(latitude_deg, np.degrees(declination)))
    across = np.cos(latitude) * np.cos(declination) * np.sin(sunset)
    along = sunset * np.sin(latitude) * np.sin(declination)
    total = 24.0 / np.pi * SOLAR_CONSTANT_KW_M2 * distance_factor(day_of_year) * (across + along)
    return np.asarray(np.maximum(total, 0.0))


# Factors of the powers of clearness; summer has no fourth one.
WINTER_SHARE = (-0.2727, 2.4495, -11.9514, 9.3879)
SUMMER_SHARE = (0.2832, -2.5557, 0.8448, 0.0)


def diffuse_share(clearness: ArrayLike, sunset_deg: ArrayLike) -> Array:
    """Diffuse share of one day's irradiation, from its clearness and sunset hour angle [degrees].

    Shapes broadcast. Source: Erbs, Klein & Duffie 1982, Solar Energy 28, 293: daily relation, winter below a
    sunset hour angle of 81.4 deg (Duffie & Beckman, eq. 2.11.1).
    """
    k = np.asarray(clearness, dtype=np.float64)
    in_winter = np.asarray(sunset_deg) < 81.4
    steps = [np.where(in_winter, *pair) for pair in zip(WINTER_SHARE, SUMMER_SHARE, strict=True)]
    share = k * steps[3]
    for step in steps[2::-1]:
        share += step
        share *= k
    share += 1.0
    share = np.minimum(share, 1.0)  # summer's cubic passes 1 by 0.008 near 0.06; winter's stays below
    return np.where(k < np.where(in_winter, 0.715, 0.722), share, np.where(in_winter, 0.143, 0.175))


def monthly_diffuse_share(clearness: ArrayLike, sunset_deg: ArrayLike) -> Array:
    """Diffuse share of a month's irradiation from its mean clearness, 0.3..0.8.

    A month mixes clear and dull days: its share is not the daily relation at the mean.
    Source: Erbs, Klein & Duffie 1982 (Duffie & Beckman, eq. 2.12.1).
    """
    k = np.asarray(clearness, dtype=np.float64)
    winter = 1.391 + k * (-3.560 + k * (4.189 - k * 2.137))
    summer = 1.311 + k * (-3.022 + k * (3.427 - k * 1.821))
    return np.where(np.asarray(sunset_deg) <= 81.4, winter, summer)


@dataclass(frozen=True)
class Panel:
    """Where the panel looks: tilt from level, azimuth from north through east [degrees]; hills round it."""

    tilt_deg: float
    azimuth_deg: float
    skyline_azimuth_deg: tuple[float, ...] = ()
    skyline_altitude_deg: tuple[float, ...] = ()


def skyline_deg(panel: Panel, azimuth_deg: ArrayLike) -> Array:
    """Height of the hills at each azimuth [degrees]: straight between the points given, 0 without points."""
    azimuth = np.asarray(azimuth_deg, dtype=np.float64) % 360.0
    if not panel.skyline_azimuth_deg:
        return np.zeros_like(azimuth)
    return np.asarray(np.interp(azimuth, panel.skyline_azimuth_deg, panel.skyline_altitude_deg, period=360.0))


def beam_factor(panel: Panel, latitude_deg: float, day_of_year: ArrayLike, hour_steps: int = HOUR_STEPS) -> Array:
    """A day's beam on the panel over its beam on level open ground; 0 where no Sun rises.

    The beam follows the extraterrestrial Sun through the day, as in the tilt factor of Liu & Jordan 1962
    (Duffie & Beckman, ch. 2.19), here summed over the hour angle so that azimuth and hills may be any.
    """
    days = tuple(np.asarray(day_of_year).tolist())
    hills = panel.skyline_azimuth_deg, panel.skyline_altitude_deg
    above, on_level = _above_hills(hills, latitude_deg, days, hour_steps)
    up, north, east = _panel_axis(panel)
    # The angle between Sun and panel by the day: a constant, a part by the hour's cosine and one by its sine.
    of_day = _sun_of_day(latitude_deg, days)
    cos_hour, sin_hour = _hours(hour_steps)
    incidence = (of_day.up_cos * up + of_day.north_cos * north) * cos_hour
    incidence += of_day.up * up + of_day.north * north
    if east:
        incidence += of_day.east_sin * east * sin_hour
    np.maximum(incidence, 0.0, out=incidence)
    incidence *= above
    on_panel = incidence.sum(axis=1)
    return np.asarray(np.divide(on_panel, on_level, out=np.zeros_like(on_level), where=on_level > 0.0))


def _panel_axis(panel: Panel) -> tuple[float, float, float]:
    """The direction in which the panel's face looks: its parts up, north and east."""
    tilt, azimuth = np.radians(panel.tilt_deg), np.radians(panel.azimuth_deg)
    return float(np.cos(tilt)), float(np.sin(tilt) * np.cos(azimuth)), float(np.sin(tilt) * np.sin(azimuth))


class _SunOfDay(NamedTuple):
    """The Sun's direction on each day, (n_days, 1) each.

    At the hour angle h it is up + up_cos cos(h) upwards, north + north_cos cos(h) to the north, east_sin sin(h) east.
    """

    up: Array
    up_cos: Array
    north: Array
    north_cos: Array
    east_sin: Array


def _sun_of_day(latitude_deg: float, days: tuple[int, ...]) -> _SunOfDay:
    latitude = np.radians(latitude_deg)
    declination = np.radians(declination_deg(days))[:, None]
    along, across = np.sin(declination), np.cos(declination)
    return _SunOfDay(
        up=np.sin(latitude) * along,
        up_cos=np.cos(latitude) * across,
        north=np.cos(latitude) * along,
        north_cos=-np.sin(latitude) * across,
        east_sin=-across,
    )


def _hours(hour_steps: int) -> tuple[Array, Array]:
    """Cosine and sine of the hour angles at the middles of a day's equal steps."""
    hour = ((np.arange(hour_steps) + 0.5) / hour_steps * 2.0 - 1.0) * np.pi
    return np.cos(hour), np.sin(hour)


@functools.lru_cache(2)
def _above_hills(
    hills: tuple[tuple[float, ...], tuple[float, ...]], latitude_deg: float, days: tuple[int, ...], hour_steps: int
) -> tuple[NDArray[np.bool_], Array]:
    """Where the Sun stands above hills and horizon, (days, hours), and each day's sum of the sine of its altitude.

    The same for every panel of a place.
    """
    sun = _sun_of_day(latitude_deg, days)
    cos_hour, sin_hour = _hours(hour_steps)
    sin_altitude = sun.up_cos * cos_hour
    sin_altitude += sun.up
    above: NDArray[np.bool_] = sin_altitude > 0.0
    # Only a Sun no higher than the highest hill may stand behind one: its azimuth is asked for, and no other's.
    highest = max(hills[1], default=0.0)
    if highest > 0.0:
        day, hour = np.nonzero(above & (sin_altitude <= np.sin(np.radians(highest))))
        north = (sun.north + sun.north_cos * cos_hour)[day, hour]
        azimuth = np.degrees(np.arctan2(sun.east_sin[day, 0] * sin_hour[hour], north))
        hill = np.radians(skyline_deg(Panel(0.0, 0.0, *hills), azimuth))
        above[day, hour] = sin_altitude[day, hour] > np.sin(np.maximum(0.0, hill))
    above.flags.writeable = False
    np.maximum(sin_altitude, 0.0, out=sin_altitude)
    return above, sin_altitude.sum(axis=1)


def sky_share(panel: Panel) -> float:
    """Diffuse light on the panel over that on level open ground, the sky equally bright everywhere.

    Without hills it is (1 + cos tilt) / 2 (Liu & Jordan 1962), met to 0.002 by the sum over patches.
    """
    altitude = np.radians((np.arange(int(90 / PATCH_DEG) * 5) + 0.5) * PATCH_DEG / 5)[:, None]
    azimuth = np.radians((np.arange(int(360 / PATCH_DEG)) + 0.5) * PATCH_DEG)[None, :]
    hill = np.radians(skyline_deg(panel, np.degrees(azimuth)))
    sin_altitude = np.broadcast_to(np.sin(altitude), (altitude.size, azimuth.size))
    up, north, east = _panel_axis(panel)
    level = np.cos(altitude) * (north * np.cos(azimuth) + east * np.sin(azimuth))
    incidence = np.maximum(0.0, up * sin_altitude + level)
    patch = np.cos(altitude) * np.radians(PATCH_DEG / 5) * np.radians(PATCH_DEG)
    return float(np.sum(np.where(altitude >= hill, incidence * patch, 0.0)) / np.pi)


@dataclass(frozen=True)
class PanelYear:
    """What a panel's place makes of each day: n rows.

    level_kwh above the air, on level ground [kWh/m2/day]; sunset_deg; beam, sky: factors on the beam and the
    diffuse of open level ground; ground_per_reflectance: factor on its whole, for a reflectance of 1.
    """

    level_kwh: Array
    sunset_deg: Array
    beam: Array
    sky: float
    ground_per_reflectance: float


@functools.lru_cache(16)
def panel_year(panel: Panel, latitude_deg: float, n_days: int) -> PanelYear:
    """The factors of `panel` at `latitude_deg` for a year of `n_days` days; not to be written to."""
    day = np.arange(1, n_days + 1)
    return PanelYear(
        level_kwh=extraterrestrial_kwh(latitude_deg, day),
        sunset_deg=sunset_hour_angle_deg(latitude_deg, declination_deg(day)),
        beam=beam_factor(panel, latitude_deg, day),
        sky=sky_share(panel),
        ground_per_reflectance=(1.0 - float(np.cos(np.radians(panel.tilt_deg)))) / 2.0,
    )


def light_kwh(year: PanelYear, clearness: ArrayLike) -> tuple[Array, Array]:
    """Irradiation of level open ground, and the diffuse part of it [kWh/m2/day], the same for every panel of a place.

    clearness   (n_days,) or (n_years, n_days), 0..0.85; returns its shape twice
    Source: diffuse share of Erbs et al. 1982. Raises RangeError for clearness outside its range.
    """
    k = np.asarray(clearness, dtype=np.float64)
    if k.size and not (k.min() >= 0.0 and k.max() <= CLEARNESS_MOST):
        raise RangeError(f"clearness runs from {k.min():g} to {k.max():g}; wanted 0 to {CLEARNESS_MOST:g}")
    level = k * year.level_kwh
    diffuse = diffuse_share(k, year.sunset_deg)
    diffuse *= level
    return level, diffuse


def sky_on_panel_kwh(year: PanelYear, level: Array, diffuse: Array) -> Array:
    """Irradiation of the panel by Sun and sky, without what the ground throws back, from `light_kwh`.

    Source: isotropic sky of Liu & Jordan 1962.
    """
    found = level - diffuse
    found *= year.beam
    found += diffuse * year.sky
    return found


def panel_kwh(year: PanelYear, clearness: ArrayLike, ground_reflectance: ArrayLike) -> Array:
    """Irradiation of the panel [kWh/m2/day] for clearness of shape (n_days,) or (n_years, n_days), 0..0.85.

    ground_reflectance   one number, or (n_years, 1)

    Raises RangeError for clearness outside its range.
    """
    level, diffuse = light_kwh(year, clearness)
    ground = np.asarray(ground_reflectance) * year.ground_per_reflectance
    return np.asarray(sky_on_panel_kwh(year, level, diffuse) + level * ground)


def monthly_mean(daily: ArrayLike) -> Array:
    """Mean of each month of a year of daily values, shape (12,)."""
    values = np.asarray(daily, dtype=np.float64)
    month = month_of_row(values.size)
    return np.bincount(month, values) / np.bincount(month)


def monthly_clearness(latitude_deg: float, level_kwh_by_month: ArrayLike) -> Array:
    """Clearness of each month from its mean irradiation of level ground [kWh/m2/day], shape (12,).

    NaN where the Sun does not rise enough (H0 under 0.05 kWh/m2/day) to tell.
    """
    above = monthly_mean(extraterrestrial_kwh(latitude_deg, np.arange(1, 366)))
    measured = np.asarray(level_kwh_by_month, dtype=np.float64)
    return np.asarray(np.divide(measured, above, out=np.full(12, np.nan), where=above > 0.05))


def month_of_row(n_days: int) -> NDArray[Any]:
    """Month 0..11 of each row of a year of 365 or 366 days."""
    lengths = [31, 28 + (n_days == 366), 31, 30, 31, 30, 31, 31, 30, 31, 30, 31]
    if sum(lengths) != n_days:
        raise RangeError(f"n_days is {n_days!r}; wanted 365 or 366")
    return np.repeat(np.arange(12), lengths)
