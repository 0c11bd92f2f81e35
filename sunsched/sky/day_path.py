"""The Sun's path over single days at one place, as short polynomials: what the search for crossings works on.

Hour angle, sine and cosine of declination are each a parabola through the mean midnights and the mean noon of the day.
Over one day that departs from the ephemeris by less than 0.01 arcsec, and costs no look-up for each step.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from sunsched.sky import sun_nodes
from sunsched.sky.sun_nodes import TURN, Floats

EXTREME_STEPS = 3  # a fourth moves no extreme by a millisecond, 89.9 degrees of latitude included


class DayPath(NamedTuple):
    """Coefficients of the days 0..n-1 for time t [days from local mean noon, -0.8..0.8]; arrays of shape (n,).

    sine of altitude, from the Earth's centre = level(t) + swing(t) cos(hour_angle(t))
    """

    noon_day: Floats  # local mean noon [days since 1970-01-01, without leap seconds]
    level: Floats  # (3, n), sin(latitude) sin(declination)
    swing: Floats  # (3, n), cos(latitude) cos(declination)
    hour_angle: Floats  # (3, n) [rad]
    distance_au: Floats

    @classmethod
    def of(cls, first_day: int, n_days: int, latitude_deg: float, longitude_deg: float) -> DayPath:
        """The path of n days from a day number on; raises RangeError outside 1990 to 2052."""
        start = first_day - longitude_deg / 360.0
        sun_nodes.check_span((start - 1.0) * 1440.0, (start + n_days + 1.0) * 1440.0)
        half_days = start + 0.5 * np.arange(2 * n_days + 1, dtype=np.float64)
        slow, declination, distance = sun_nodes.slow_sun_at(half_days)
        latitude = np.radians(latitude_deg)
        hour_angle = _parabolas(slow)
        hour_angle[1] += TURN
        level = _parabolas(np.sin(latitude) * np.sin(declination))
        swing = _parabolas(np.cos(latitude) * np.cos(declination))
        return cls(half_days[1::2], level, swing, hour_angle, distance[1::2])

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
        hour_angle = _at(self.hour_angle, time)
        cosine, swing = np.cos(hour_angle), _at(self.swing, time)
        slope = _slope_at(self.level, time) + _slope_at(self.swing, time) * cosine
        slope -= swing * np.sin(hour_angle) * _slope_at(self.hour_angle, time)
        return _at(self.level, time) + swing * cosine, slope

    def extremes_day(self) -> tuple[Floats, Floats]:
        """When the Sun stands highest, and lowest before that [days from mean noon].

        There the slope of the sine of altitude is nothing; the declination's drift moves both off the meridian.
        """
        upper = np.array([[1.0], [-1.0]])  # cosine of the hour angle, about: noon, midnight
        meridian = np.array([[0.0], [-np.pi]])
        time = np.array([[0.0], [-0.5]]) + np.zeros_like(self.noon_day)
        offset = np.zeros_like(time)
        for _ in range(EXTREME_STEPS):
            turning = _slope_at(self.hour_angle, time)
            drift = _slope_at(self.level, time) + _slope_at(self.swing, time) * upper * np.cos(offset)
            offset = np.arcsin(np.clip(drift / (_at(self.swing, time) * turning), -1.0, 1.0))
            time = time + (meridian + upper * offset - _at(self.hour_angle, time)) / turning
        return time[0], time[1]


def _parabolas(half_daily: Floats) -> Floats:
    """Coefficients (3, n) of the parabolas through values half a day apart, (2n + 1,), midnight to midnight."""
    before, noon, after = half_daily[:-1:2], half_daily[1::2], half_daily[2::2]
    return np.stack((noon, after - before, 2.0 * (after + before - 2.0 * noon)))


def _at(coefficients: Floats, time: Floats) -> Floats:
    value: Floats = coefficients[0] + time * (coefficients[1] + time * coefficients[2])
    return value


def _slope_at(coefficients: Floats, time: Floats) -> Floats:
    value: Floats = coefficients[1] + 2.0 * time * coefficients[2]
    return value
