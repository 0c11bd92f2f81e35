"""When the Sun passes an altitude: morning and evening of every solar day in a span.

Between a solar midnight and the noon beside it the altitude only rises or only falls, so each half-day holds one
crossing or none; the altitudes at its ends decide which. The crossing is then found by Newton's method on the sine of
the altitude, kept inside the half-day.

The search works on the Sun's path over single days at one place: hour angle, sine and cosine of declination are each a
parabola through the mean midnights and the mean noon of the day. Over one day it differs from the ephemeris by less
than 0.01 arcsec, and no step needs a look-up.
"""

from __future__ import annotations

from collections.abc import Sequence
from enum import IntEnum
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from sunsched.base.errors import RangeError
from sunsched.sky import sun_nodes
from sunsched.sky.sun_nodes import TURN, Floats, Int8s

Places = Any  # a number, or a column (places, 1) of them

EXTREME_STEPS = 3  # a fourth moves no extreme by a millisecond, 89.9 degrees of latitude included


class DayPath(NamedTuple):
    """Coefficients of the days 0..n-1 for time t [days from local mean noon, -0.8..0.8]; arrays of shape (n,), of
    several places (places, n).

    sine of altitude, from the Earth's centre = level(t) + swing(t) cos(hour_angle(t))
    """

    noon_day: Floats  # local mean noon [days since 1970-01-01, without leap seconds]
    level: Floats  # (3, ..., n), sin(latitude) sin(declination)
    swing: Floats  # (3, ..., n), cos(latitude) cos(declination)
    hour_angle: Floats  # (3, ..., n) [rad]
    distance_au: Floats

    @classmethod
    def of(cls, first_day: Places, n_days: int, latitude_deg: Places, longitude_deg: Places) -> DayPath:
        """The path of n days from a day number on, for one place or columns (places, 1) of several.

        Raises RangeError outside 1990 to 2052.
        """
        start = first_day - longitude_deg / 360.0
        sun_nodes.check_span(float((np.min(start) - 1.0) * 1440.0), float((np.max(start) + n_days + 1.0) * 1440.0))
        half_days = start + 0.5 * np.arange(2 * n_days + 1, dtype=np.float64)
        slow, declination, distance = sun_nodes.slow_sun_half_days(half_days[..., :1], 2 * n_days + 1)
        latitude = np.radians(latitude_deg)
        hour_angle = _parabolas(slow)
        hour_angle[1] += TURN
        level = _parabolas(np.sin(latitude) * np.sin(declination))
        swing = _parabolas(np.cos(latitude) * np.cos(declination))
        return cls(half_days[..., 1::2], level, swing, hour_angle, distance[..., 1::2])

    def rows(self, which: Any) -> DayPath:
        """The days chosen by a slice or an array of indices."""
        return DayPath(*(part[..., which] for part in self))

    def utc_min(self, time: Floats) -> Floats:
        """Times of these days as [utc_min]."""
        even_min = (self.noon_day + time) * 1440.0
        return even_min - sun_nodes.even_minus_utc_min(even_min)

    def sine(self, time: Floats) -> Floats:
        """Sine of the altitude seen from the Earth's centre."""
        return _at(self.level, time) + _at(self.swing, time) * np.cos(_at(self.hour_angle, time))

    def sine_and_slope(self, time: Floats) -> tuple[Floats, Floats]:
        """Sine of the altitude seen from the Earth's centre, and its change [per day]."""
        hour_angle, swing, sine = _at(self.hour_angle, time), _at(self.swing, time), _at(self.level, time)
        cosine = np.cos(hour_angle)
        # In place: new arrays for each step take as long as the sums.
        slope = _slope_at(self.swing, time)
        slope *= cosine
        slope += _slope_at(self.level, time)
        np.sin(hour_angle, out=hour_angle)
        hour_angle *= swing
        hour_angle *= _slope_at(self.hour_angle, time)
        slope -= hour_angle
        swing *= cosine
        sine += swing
        return sine, slope

    def extremes_day(self) -> tuple[Floats, Floats]:
        """When the Sun stands highest, and lowest before that [days from mean noon].

        The slope of the sine of altitude is 0 there; the declination's drift moves both off the meridian.
        """
        ends = (2, *[1] * self.noon_day.ndim)
        upper = np.reshape([1.0, -1.0], ends)  # cosine of the hour angle, about: noon, midnight
        meridian = np.reshape([0.0, -np.pi], ends)
        time = np.reshape([0.0, -0.5], ends) + np.zeros_like(self.noon_day)
        offset = np.zeros_like(time)
        for _ in range(EXTREME_STEPS):
            turning = _slope_at(self.hour_angle, time)
            drift = _slope_at(self.level, time) + _slope_at(self.swing, time) * upper * np.cos(offset)
            offset = np.arcsin(np.clip(drift / (_at(self.swing, time) * turning), -1.0, 1.0))
            time = time + (meridian + upper * offset - _at(self.hour_angle, time)) / turning
        return time[0], time[1]


def _parabolas(half_daily: Floats) -> Floats:
    """Coefficients (3, ..., n) of the parabolas through values half a day apart, (..., 2n + 1), from midnight on."""
    before, noon, after = half_daily[..., :-1:2], half_daily[..., 1::2], half_daily[..., 2::2]
    return np.stack((noon, after - before, 2.0 * (after + before - 2.0 * noon)))


def _at(coefficients: Floats, time: Floats) -> Floats:
    value: Floats = time * coefficients[2]
    value += coefficients[1]
    value *= time
    value += coefficients[0]
    return value


def _slope_at(coefficients: Floats, time: Floats) -> Floats:
    value: Floats = 2.0 * time
    value *= coefficients[2]
    value += coefficients[1]
    return value


LATITUDE_LIMIT_DEG = 89.9  # beyond it a day has no clear highest and lowest Sun
PARALLAX_RAD = np.radians(8.794 / 3600.0)  # the Sun's at 1 au (IAU 1976); leaving it out costs 1.1 s at 52 N
GRAZING_DEG = 0.01  # with an extreme this close to the angle, the day's refraction decides whether the event happens
FLATTENING = 1.0 / 298.257223563  # WGS 84
NEWTON_STEPS = 2  # a third moves no crossing by 1 ms to 89 degrees of latitude: tests/sky/test_refinements.py


class State(IntEnum):
    """Whether the Sun passes the angle in a half-day."""

    CROSSES = 0
    ALWAYS_ABOVE = 1
    ALWAYS_BELOW = 2


class Crossings(NamedTuple):
    """Events of n solar days for k angles. Row i is the solar noon of local mean date first_day + i.

    noon_utc_min      (n,)   the Sun at its highest [utc_min]
    midnight_utc_min  (n+1,) the Sun at its lowest, before and after each noon [utc_min]
    rise_utc_min      (k, n) between midnight i and noon i, NaN where none [utc_min]
    set_utc_min       (k, n) between noon i and midnight i+1, NaN where none [utc_min]
    morning_state, evening_state   (k, n) State of either half-day
    margin_deg        (k, n) least distance of the day's three extremes from the angle [degrees]
    extreme_deg       (3, n) altitude at the midnight before, the noon, and the midnight after [degrees]
    """

    noon_utc_min: Floats
    midnight_utc_min: Floats
    rise_utc_min: Floats
    set_utc_min: Floats
    morning_state: Int8s
    evening_state: Int8s
    margin_deg: Floats
    extreme_deg: Floats


def altitude_crossings(
    first_day: int, n_days: int, latitude_deg: float, longitude_deg: float, angles_deg: Sequence[float] | Floats
) -> Crossings:
    """Find when the Sun's centre passes each of k altitudes, morning and evening of n solar days.

    first_day, n_days   local mean dates as day numbers since 1970-01-01, n_days >= 1
    latitude_deg, longitude_deg   geodetic, north and east positive [degrees]
    angles_deg   (k,) altitudes without refraction, topocentric, -90..90 [degrees]
    A day without the event is data (a State and NaN), not an error. Raises RangeError above 89.9 degrees of latitude
    and outside 1990 to 2052. Within 0.1 s of Skyfield with DE421 at 52 N: tests/sky/test_against_skyfield.py.
    """
    check_place(latitude_deg, longitude_deg)
    return _crossings(first_day, n_days, latitude_deg, longitude_deg, angles_deg)


def crossings_of_places(
    first_days: Sequence[int],
    n_days: int,
    latitudes_deg: Sequence[float],
    longitudes_deg: Sequence[float],
    angles_deg: Sequence[float] | Floats,
) -> Crossings:
    """The same for several places at once, their days one after the other.

    first_days, latitudes_deg, longitudes_deg   of each place
    The columns are those of `altitude_crossings` for days and places in a row, n = places x n_days; midnight_utc_min
    alone is of shape (places, n_days + 1). Raises RangeError as `altitude_crossings` does.
    """
    for place in zip(latitudes_deg, longitudes_deg, strict=True):
        check_place(*place)
    columns = (np.array(values)[:, None] for values in (first_days, latitudes_deg, longitudes_deg))
    first, latitude, longitude = columns
    found = _crossings(first, n_days, latitude, longitude, angles_deg)
    flat: list[Any] = [part.reshape(*part.shape[:-2], -1) for part in found]
    return Crossings(*flat)._replace(midnight_utc_min=found.midnight_utc_min)


def _crossings(
    first_day: Places, n_days: int, latitude_deg: Places, longitude_deg: Places, angles_deg: Sequence[float] | Floats
) -> Crossings:
    """Crossings whose n is (n_days,) for one place, (places, n_days) for columns of several."""
    angles = np.asarray(angles_deg, np.float64).reshape(-1, 1)
    if n_days < 1 or not np.all(np.abs(angles) <= 90.0):
        raise RangeError(f"got {n_days} days, angles {angles.ravel().tolist()}; wanted >= 1 day, -90..90 degrees")
    # one row more than asked for: the midnight after the last noon is the one before the next
    path = DayPath.of(first_day, n_days + 1, latitude_deg, longitude_deg)
    angles = angles.reshape(-1, *[1] * path.noon_day.ndim)
    noon, midnight = path.extremes_day()
    noon_sine, midnight_sine = path.sine(noon)[..., :-1], path.sine(midnight)
    path, noon = path.rows(slice(n_days)), noon[..., :-1]
    # to first order in the parallax and with the Earth's radius at that latitude: 0.001 arcsec from the exact vector
    radius = 1.0 - FLATTENING * np.sin(np.radians(latitude_deg)) ** 2
    parallax = PARALLAX_RAD * radius / path.distance_au
    sought = np.sin(np.radians(angles)) + parallax * np.cos(np.radians(angles)) ** 2
    ends = np.stack((midnight[..., :-1], midnight[..., 1:] + 1.0))[:, None]
    end_sines = np.stack((midnight_sine[..., :-1], midnight_sine[..., 1:]))[:, None]
    event = _solve(path, ends, np.broadcast_to(noon, ends.shape), end_sines, noon_sine, sought)
    state = np.where(end_sines >= sought, State.ALWAYS_ABOVE, State.CROSSES).astype(np.int8)
    state[(end_sines < sought) & (noon_sine <= sought)] = State.ALWAYS_BELOW
    event[state != State.CROSSES] = np.nan
    last_midnight = path.utc_min(midnight[..., 1:] + 1.0)[..., -1:]
    rise, set_ = path.utc_min(event)
    extreme_deg = _altitude_deg(np.stack((end_sines[0, 0], noon_sine, end_sines[1, 0])), parallax)
    return Crossings(
        path.utc_min(noon),
        np.concatenate((path.utc_min(midnight[..., :-1]), last_midnight), axis=-1),
        rise,
        set_,
        state[0],
        state[1],
        np.abs(extreme_deg[:, None] - angles).min(axis=0),
        extreme_deg,
    )


def check_place(latitude_deg: float, longitude_deg: float) -> None:
    """Raise RangeError unless the Sun's day is well defined there."""
    if not abs(latitude_deg) <= LATITUDE_LIMIT_DEG:
        raise RangeError(f"latitude {latitude_deg:g} degrees; wanted {-LATITUDE_LIMIT_DEG} to {LATITUDE_LIMIT_DEG}")
    if not abs(longitude_deg) <= 180.0:
        raise RangeError(f"longitude {longitude_deg:g} degrees; wanted -180 to 180")


def _altitude_deg(sines: Floats, parallax: Floats) -> Floats:
    """Topocentric altitudes (3, ..., n) of geocentric sines (3, ..., n) [degrees]."""
    altitude = np.arcsin(np.clip(sines, -1.0, 1.0))
    altitude_deg: Floats = np.degrees(altitude - parallax * np.cos(altitude))
    return altitude_deg


def _solve(path: DayPath, end: Floats, noon: Floats, end_sine: Floats, noon_sine: Floats, sought: Floats) -> Floats:
    """Times (2, k, ..., n) [days from mean noon] at which the sine of altitude is `sought`; any number where it is not.

    The first guess takes the sine of altitude for a cosine curve between its extremes, which is right beside them too:
    Newton's method starts close to the crossing everywhere.
    """
    part = np.clip((sought - end_sine) / (noon_sine - end_sine), 0.0, 1.0)
    time = end + (noon - end) * (np.arccos(1.0 - 2.0 * part) / np.pi)
    low, high = np.minimum(end, noon), np.maximum(end, noon)
    with np.errstate(divide="ignore", invalid="ignore"):
        for _ in range(NEWTON_STEPS):
            sine, slope = path.sine_and_slope(time)
            time = np.clip(time - (sine - sought) / slope, low, high)
    return time


def sun_altitude_deg(utc_min: ArrayLike, latitude_deg: float, longitude_deg: float) -> Floats:
    """Altitude of the Sun's centre, topocentric and without refraction [degrees], at times of any shape [utc_min]."""
    return sun_position_deg(utc_min, latitude_deg, longitude_deg)[0]


def sun_azimuth_deg(utc_min: ArrayLike, latitude_deg: float, longitude_deg: float) -> Floats:
    """Azimuth of the Sun, from north by east, 0..360 [degrees], at times of any shape [utc_min]."""
    return sun_position_deg(utc_min, latitude_deg, longitude_deg)[1]


def sun_position_deg(utc_min: ArrayLike, latitude_deg: float, longitude_deg: float) -> tuple[Floats, Floats]:
    """Altitude and azimuth, as sun_altitude_deg and sun_azimuth_deg give them."""
    east, north, up = _direction(utc_min, latitude_deg, longitude_deg)
    altitude_deg = np.degrees(np.arctan2(up, np.hypot(east, north)))
    return altitude_deg, np.degrees(np.arctan2(east, north)) % 360.0


def _direction(utc_min: ArrayLike, latitude_deg: float, longitude_deg: float) -> tuple[Floats, Floats, Floats]:
    """The Sun seen from a place on the WGS 84 ellipsoid: east, north, up [au], at times of any shape."""
    times = np.asarray(utc_min, np.float64)
    sun = sun_nodes.sun_at(times.ravel())
    latitude = np.radians(latitude_deg)
    sin_lat, cos_lat = np.sin(latitude), np.cos(latitude)
    local = sun.hour_angle_rad + np.radians(longitude_deg)
    across = sun.distance_au * np.cos(sun.declination_rad)
    polar_ratio = (1.0 - FLATTENING) ** 2
    curve = PARALLAX_RAD / np.sqrt(cos_lat**2 + polar_ratio * sin_lat**2)
    outward = across * np.cos(local) - curve * cos_lat
    along_axis = sun.distance_au * np.sin(sun.declination_rad) - curve * polar_ratio * sin_lat
    east = -across * np.sin(local)
    north = cos_lat * along_axis - sin_lat * outward
    up = sin_lat * along_axis + cos_lat * outward
    return east.reshape(times.shape), north.reshape(times.shape), up.reshape(times.shape)
