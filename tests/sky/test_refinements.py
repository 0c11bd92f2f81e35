"""The solver's counts of steps: more change nothing that can be seen, fewer would."""

from __future__ import annotations

import numpy as np
import pytest

from sunsched.base.civil_time import year_days
from sunsched.sky import crossings
from sunsched.sky.crossings import Crossings, DayPath, altitude_crossings, sun_altitude_deg

FIRST, N = year_days(2027)


def grazing_angles_deg(latitude_deg: float) -> list[float]:
    """Ordinary angles, and some within 0.1 to 0.0001 degrees of a day's highest or lowest Sun."""
    draw = np.random.default_rng(1)
    found = altitude_crossings(FIRST, N, latitude_deg, 0.0, [0.0])
    extremes = sun_altitude_deg(np.concatenate((found.noon_utc_min, found.midnight_utc_min)), latitude_deg, 0.0)
    away = 10.0 ** draw.uniform(-4.0, -1.0, 12) * draw.choice([-1.0, 1.0], 12)
    return [-0.8333, -6.0, -18.0, *(float(angle) for angle in draw.choice(extremes, 12) + away)]


def apart_s(some: Crossings, others: Crossings) -> float:
    pairs = ((some.rise_utc_min, others.rise_utc_min), (some.set_utc_min, others.set_utc_min))
    return max(float(np.nanmax(np.abs(a - b))) * 60.0 for a, b in pairs)


@pytest.mark.parametrize(
    ("latitude_deg", "within_s", "one_is_enough"),
    [
        (0.0, 0.001, True),
        (-52.0, 0.001, True),
        (66.0, 0.001, True),
        (78.0, 0.001, True),
        (-89.0, 0.001, False),
        (89.9, 0.5, False),
    ],
)
def test_newton_steps(
    latitude_deg: float, within_s: float, one_is_enough: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    angles = grazing_angles_deg(latitude_deg)

    def with_steps(n: int) -> Crossings:
        monkeypatch.setattr(crossings, "NEWTON_STEPS", n)
        return altitude_crossings(FIRST, N, latitude_deg, 0.0, angles)

    usual = altitude_crossings(FIRST, N, latitude_deg, 0.0, angles)
    settled = with_steps(12)
    assert apart_s(usual, settled) < within_s
    assert (apart_s(with_steps(1), settled) < 10.0 * within_s) == one_is_enough
    assert apart_s(with_steps(0), settled) > 1.0


@pytest.mark.parametrize("latitude_deg", [0.0, 52.0, -78.0, 89.9])
def test_steps_to_the_extremes(latitude_deg: float, monkeypatch: pytest.MonkeyPatch) -> None:
    path = DayPath.of(FIRST, N, latitude_deg, 0.0)
    usual = np.stack(path.extremes_day())
    monkeypatch.setattr(crossings, "EXTREME_STEPS", 6)
    assert np.abs(np.stack(path.extremes_day()) - usual).max() * 86_400.0 < 0.001
    if latitude_deg == 89.9:
        monkeypatch.setattr(crossings, "EXTREME_STEPS", 2)
        assert np.abs(np.stack(path.extremes_day()) - usual).max() * 86_400.0 > 0.001


@pytest.mark.parametrize("latitude_deg", [0.0, 52.0, 78.0, -89.0])
def test_a_parabola_a_day_is_enough(latitude_deg: float) -> None:
    # against the six-point interpolation itself: 0.01 arcsec
    path = DayPath.of(FIRST, N, latitude_deg, 0.0)
    for time in (-0.6, -0.27, 0.11, 0.6):
        moment = path.utc_min(np.full(N, time))
        parallax_deg = 8.794 / 3600.0 / path.distance_au
        geocentric_deg = np.degrees(np.arcsin(path.sine(np.full(N, time))))
        ours = geocentric_deg - parallax_deg * np.cos(np.radians(geocentric_deg))
        # the Earth's flattening takes 0.03 arcsec off the parallax near the poles
        assert np.abs(ours - sun_altitude_deg(moment, latitude_deg, 0.0)).max() * 3600.0 < 0.04
