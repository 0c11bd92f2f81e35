"""Crossings: what must hold at any place, day and angle, and what is refused."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sunsched.base.civil_time import year_days
from sunsched.base.errors import RangeError
from sunsched.sky.crossings import GRAZING_DEG, Crossings, State, altitude_crossings, sun_altitude_deg, sun_azimuth_deg
from sunsched.sky.sun_nodes import FIRST_MIN, LAST_MIN

FIRST, N = year_days(2027)
DAYS = st.integers(int(FIRST_MIN // 1440) + 3, int(LAST_MIN // 1440) - 25)
LATITUDES = st.floats(-89.9, 89.9)
LONGITUDES = st.floats(-180.0, 180.0)
ANGLES = st.lists(st.floats(-30.0, 30.0), min_size=1, max_size=4)


@settings(max_examples=150)
@given(DAYS, LATITUDES, LONGITUDES, ANGLES)
def test_what_holds_anywhere(day: int, latitude_deg: float, longitude_deg: float, angles_deg: list[float]) -> None:
    found = altitude_crossings(day, 20, latitude_deg, longitude_deg, angles_deg)
    before, after = found.midnight_utc_min[:-1], found.midnight_utc_min[1:]
    assert np.all((before < found.noon_utc_min) & (found.noon_utc_min < after))
    # the equation of time stays below 16.6 min (Meeus 1998, ch. 28); the declination's drift, at most 0.00110 rad
    # while the Earth turns by 1 rad, moves the highest Sun off the meridian by its product with tan(latitude)
    mean_noon = 1440.0 * (day + np.arange(20) + 0.5) - 4.0 * longitude_deg
    off_meridian = np.arcsin(0.00110 * (np.tan(np.radians(abs(latitude_deg))) + 0.44))
    assert np.abs(found.noon_utc_min - mean_noon).max() < 16.6 + np.degrees(off_meridian) * 4.0
    for times, state, low, high in (
        (found.rise_utc_min, found.morning_state, before, found.noon_utc_min),
        (found.set_utc_min, found.evening_state, found.noon_utc_min, after),
    ):
        assert np.array_equal(np.isfinite(times), state == State.CROSSES)
        assert np.all((low <= times) & (times <= high) | np.isnan(times))
    assert np.all(found.margin_deg >= 0.0)
    lies_where_stated(found, latitude_deg, longitude_deg, angles_deg)


def lies_where_stated(found: Crossings, latitude_deg: float, longitude_deg: float, angles_deg: list[float]) -> None:
    """The altitude at each event is the angle; at the extremes it is on the side that the state says."""
    noon_deg = sun_altitude_deg(found.noon_utc_min, latitude_deg, longitude_deg)
    midnight_deg = sun_altitude_deg(found.midnight_utc_min, latitude_deg, longitude_deg)
    arcsec = 0.05 / 3600.0  # interpolation of the nodes and of the day, both below 0.05
    for k, angle_deg in enumerate(angles_deg):
        for times in (found.rise_utc_min[k], found.set_utc_min[k]):
            happens = times[np.isfinite(times)]
            altitude_deg = sun_altitude_deg(happens, latitude_deg, longitude_deg)
            assert np.abs(altitude_deg - angle_deg).max(initial=0.0) < arcsec
        lowest = np.stack((midnight_deg[:-1], midnight_deg[1:]))
        for state, low in zip((found.morning_state[k], found.evening_state[k]), lowest, strict=True):
            assert np.all(low[state == State.ALWAYS_ABOVE] > angle_deg - arcsec)
            assert np.all(noon_deg[state == State.ALWAYS_BELOW] < angle_deg + arcsec)
            assert np.all(low[state == State.CROSSES] < angle_deg + arcsec)
            assert np.all(noon_deg[state == State.CROSSES] > angle_deg - arcsec)


@settings(max_examples=60)
@given(DAYS, LATITUDES, LONGITUDES, st.floats(-25.0, 20.0), st.floats(0.01, 8.0))
def test_a_higher_sun_is_a_shorter_day(
    day: int, latitude_deg: float, longitude_deg: float, angle_deg: float, more_deg: float
) -> None:
    found = altitude_crossings(day, 20, latitude_deg, longitude_deg, [angle_deg, angle_deg + more_deg])
    both = np.isfinite(found.rise_utc_min).all(axis=0)
    assert np.all(found.rise_utc_min[0, both] < found.rise_utc_min[1, both])
    both = np.isfinite(found.set_utc_min).all(axis=0)
    assert np.all(found.set_utc_min[0, both] > found.set_utc_min[1, both])
    for state in (found.morning_state, found.evening_state):
        assert not np.any((state[0] == State.ALWAYS_BELOW) & (state[1] != State.ALWAYS_BELOW))
        assert not np.any((state[1] == State.ALWAYS_ABOVE) & (state[0] != State.ALWAYS_ABOVE))


@settings(max_examples=40)
@given(DAYS, LATITUDES, st.floats(-179.0, 179.0), st.floats(-20.0, 10.0))
def test_a_span_may_be_cut_anywhere(day: int, latitude_deg: float, longitude_deg: float, angle_deg: float) -> None:
    whole = altitude_crossings(day, 20, latitude_deg, longitude_deg, [angle_deg])
    part = altitude_crossings(day + 7, 5, latitude_deg, longitude_deg, [angle_deg])
    for name in ("noon_utc_min", "rise_utc_min", "set_utc_min", "morning_state", "evening_state", "margin_deg"):
        mine, theirs = getattr(part, name), getattr(whole, name)[..., 7:12]
        assert np.allclose(mine, theirs, rtol=0.0, atol=1e-6, equal_nan=True)
    assert np.allclose(part.midnight_utc_min, whole.midnight_utc_min[7:13], rtol=0.0, atol=1e-6)


def test_the_evening_of_one_side_mirrors_the_morning_of_the_other() -> None:
    # Sun and Earth turn alike seen from north and south but for the date: at an equinox both halves last alike
    north, south = (altitude_crossings(FIRST + 78, 1, latitude, 0.0, [-6.0]) for latitude in (40.0, -40.0))
    lengths = [float((side.set_utc_min - side.rise_utc_min)[0, 0]) for side in (north, south)]
    assert lengths[0] == pytest.approx(lengths[1], abs=3.0)


def test_margin_is_the_least_distance_of_an_extreme() -> None:
    found = altitude_crossings(FIRST, N, 60.0, 25.0, [-6.0, -18.0])
    noon_deg = sun_altitude_deg(found.noon_utc_min, 60.0, 25.0)
    midnight_deg = sun_altitude_deg(found.midnight_utc_min, 60.0, 25.0)
    extremes = np.stack((midnight_deg[:-1], noon_deg, midnight_deg[1:]))
    for k, angle_deg in enumerate((-6.0, -18.0)):
        wanted = np.abs(extremes - angle_deg).min(axis=0)
        assert np.abs(found.margin_deg[k] - wanted).max() < 2e-5


def test_a_grazing_day_is_flagged() -> None:
    # the noon Sun of 2027-11-08 at 78.2 N 15.6 E, taken as the angle itself
    noon = altitude_crossings(FIRST + 311, 1, 78.2, 15.6, [0.0]).noon_utc_min
    highest_deg = float(sun_altitude_deg(noon, 78.2, 15.6)[0])
    angles_deg = [highest_deg - 0.004, highest_deg + 0.004, highest_deg - 0.02]
    near = altitude_crossings(FIRST + 311, 1, 78.2, 15.6, angles_deg)
    assert (near.margin_deg[:, 0] < GRAZING_DEG).tolist() == [True, True, False]
    assert near.morning_state[:, 0].tolist() == [State.CROSSES, State.ALWAYS_BELOW, State.CROSSES]
    assert near.rise_utc_min[0, 0] < near.noon_utc_min[0] < near.set_utc_min[0, 0]


@pytest.mark.parametrize("latitude_deg", [89.9, -89.9])
def test_the_last_latitude_still_has_extremes(latitude_deg: float) -> None:
    found = altitude_crossings(FIRST, N, latitude_deg, 0.0, [-0.8333])
    noon_deg = sun_altitude_deg(found.noon_utc_min, latitude_deg, 0.0)
    for shift_min in (-20.0, 20.0):
        assert np.all(sun_altitude_deg(found.noon_utc_min + shift_min, latitude_deg, 0.0) < noon_deg)


def test_one_long_day_at_the_pole() -> None:
    # at 89 degrees the Sun rises once in March and sets once in September, give or take the days of crossing
    found = altitude_crossings(FIRST, N, 89.0, 0.0, [-0.8333])
    above = found.morning_state[0] == State.ALWAYS_ABOVE
    assert 180 < above.sum() < 195
    assert np.sum(np.diff(above.astype(int)) != 0) == 2


# Where the Sun is at noon, common knowledge of geometry: 90 - latitude + declination; due south, due north
@pytest.mark.parametrize(("latitude_deg", "azimuth_deg"), [(52.0, 180.0), (-34.0, 0.0)])
def test_azimuth_at_noon(latitude_deg: float, azimuth_deg: float) -> None:
    noon = altitude_crossings(FIRST, N, latitude_deg, 0.0, [0.0]).noon_utc_min
    away = (sun_azimuth_deg(noon, latitude_deg, 0.0) - azimuth_deg + 180.0) % 360.0 - 180.0
    assert np.abs(away).max() < 0.25


def test_shapes() -> None:
    times = np.full((2, 3), FIRST * 1440.0)
    assert sun_altitude_deg(times, 52.0, 5.0).shape == (2, 3)
    assert sun_azimuth_deg(times[0, 0], 52.0, 5.0).shape == ()
    found = altitude_crossings(FIRST, 3, 52.0, 5.0, [-6.0, 0.0])
    assert [part.shape for part in found] == [(3,), (4,), *[(2, 3)] * 5, (3, 3)]
    assert altitude_crossings(FIRST, 3, 52.0, 5.0, []).rise_utc_min.shape == (0, 3)
    # The extremes are those of sun_altitude_deg at their times, to the first-order parallax of both.
    for row, times in enumerate((found.midnight_utc_min[:-1], found.noon_utc_min, found.midnight_utc_min[1:])):
        assert np.abs(found.extreme_deg[row] - sun_altitude_deg(times, 52.0, 5.0)).max() < 1e-5


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((FIRST, N, 89.91, 0.0, [0.0]), r"^latitude 89\.91 degrees; wanted -89\.9 to 89\.9$"),
        ((FIRST, N, -90.0, 0.0, [0.0]), r"^latitude -90 degrees; wanted -89\.9 to 89\.9$"),
        ((FIRST, N, float("nan"), 0.0, [0.0]), r"^latitude nan degrees; wanted -89\.9 to 89\.9$"),
        ((FIRST, N, 0.0, 180.1, [0.0]), r"^longitude 180\.1 degrees; wanted -180 to 180$"),
        ((FIRST, 0, 0.0, 0.0, [0.0]), r"^got 0 days, angles \[0\.0\]; wanted >= 1 day, -90\.\.90 degrees$"),
        ((FIRST, N, 0.0, 0.0, [-91.0]), r"^got 365 days, angles \[-91\.0\]; wanted"),
        ((FIRST, N, 0.0, 0.0, [float("nan")]), r"^got 365 days, angles \[nan\]; wanted"),
        ((year_days(1989)[0], N, 0.0, 0.0, [0.0]), r"^the Sun is known from 1990 to 2052; asked for 1988-12-3"),
        ((year_days(2053)[0], N, 0.0, 0.0, [0.0]), r"^the Sun is known from 1990 to 2052; asked for 2052-12-3"),
    ],
)
def test_what_is_refused(arguments: tuple[int, int, float, float, list[float]], words: str) -> None:
    with pytest.raises(RangeError, match=words):
        altitude_crossings(*arguments)


@pytest.mark.parametrize("year", [1990, 2052])
def test_first_and_last_year_are_whole(year: int) -> None:
    first, n = year_days(year)
    for longitude_deg in (-180.0, 180.0):
        found = altitude_crossings(first - 3, n + 6, 10.0, longitude_deg, [-6.0])
        assert np.isfinite(found.rise_utc_min).all()
