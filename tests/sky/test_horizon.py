"""Sunrise and sunset over level ground, from heights and over hills."""

from __future__ import annotations

import numpy as np
import pytest

from sunsched.base.civil_time import year_days
from sunsched.base.errors import RangeError
from sunsched.sky import horizon
from sunsched.sky.crossings import Crossings, State, altitude_crossings, sun_position_deg
from sunsched.sky.horizon import sunrise_sunset
from tests.sky.authority_rows import rows

FIRST, N = year_days(2027)
PLACE = (47.3, 8.9)
DEFINITIONS = {row["term"]: row["value"] for row in rows("sun_event_definitions.csv")}
VALLEY = [(60.0, 4.0), (120.0, 9.0), (180.0, 2.0), (250.0, 14.0), (320.0, 3.0)]


def same(a: Crossings, b: Crossings) -> bool:
    return all(
        np.array_equal(x, y, equal_nan=True) for x, y in zip(map(np.asarray, a), map(np.asarray, b), strict=True)
    )


def seen(times: np.ndarray, place: tuple[float, float], skyline: list[tuple[float, float]]) -> np.ndarray:
    """Whether the Sun's upper edge, lifted by the air, tops the hills: straight from the definition."""
    altitude, azimuth = sun_position_deg(times, *place)
    corners, tops = np.array(sorted(skyline), np.float64).T
    hill = np.interp(azimuth, corners, tops, period=360.0)
    # Bennett 1982: 1/tan(h + 7.31/(h + 4.4)) arcmin at the apparent altitude h, 34.46 at 0 where the almanac has 34
    lift = 34.0 / 34.478 / np.tan(np.radians(hill + 7.31 / (hill + 4.4)))
    return np.asarray(altitude + (lift + 16.0) / 60.0 > hill)


def test_sunrise_is_defined_at_50_arcmin() -> None:
    # USNO Rise, Set, and Twilight Definitions: 34' refraction and 16' semidiameter
    assert (
        pytest.approx(float(DEFINITIONS["sunrise/sunset altitude of sun centre"]), abs=4e-5)
        == horizon.SUNRISE_ALTITUDE_DEG
    )
    level = altitude_crossings(FIRST, N, *PLACE, [-50.0 / 60.0])
    assert same(sunrise_sunset(FIRST, N, *PLACE), level)
    # an open skyline is no skyline
    for open_sky in ([(0.0, 0.0)], [(110.0, 0.0), (250.0, 0.0)]):
        assert same(sunrise_sunset(FIRST, N, *PLACE, 0.0, open_sky), level)


# USNO Almanac for Computers: the horizon dips by 2.12' sqrt(height in m)
@pytest.mark.parametrize("height_m", [1.0, 100.0, 2500.0])
def test_a_height_above_the_horizon_lowers_it(height_m: float) -> None:
    assert DEFINITIONS["dip correction"] == "2.12*sqrt(h_m)"
    dip_deg = 2.12 * np.sqrt(height_m) / 60.0
    lower = altitude_crossings(FIRST, N, *PLACE, [-50.0 / 60.0 - dip_deg])
    for skyline in ([], [(200.0, 0.0)]):
        high = sunrise_sunset(FIRST, N, *PLACE, height_m, skyline)
        assert np.allclose(high.rise_utc_min, lower.rise_utc_min, atol=1e-6)
        assert np.allclose(high.set_utc_min, lower.set_utc_min, atol=1e-6)


def test_one_entry_counts_for_the_whole_circle() -> None:
    ridge = sunrise_sunset(FIRST, N, *PLACE, 0.0, [(110.0, 7.0)])
    # by hand: Bennett at 7 degrees 7.39', times 34/34.48 = 7.29'; the centre at 7 deg - 7.29' - 16' = 6.612 deg
    by_hand = altitude_crossings(FIRST, N, *PLACE, [6.612])
    assert np.abs(ridge.rise_utc_min - by_hand.rise_utc_min).max() * 60.0 < 1.0
    assert np.abs(ridge.set_utc_min - by_hand.set_utc_min).max() * 60.0 < 1.0


@pytest.mark.parametrize(
    ("place", "skyline"),
    [
        (PLACE, VALLEY),
        (PLACE, [(100.0, 0.0), (110.0, 20.0), (120.0, 0.0)]),
        ((-41.3, 174.8), VALLEY),
        ((1.3, 103.8), [(85.0, 0.0), (90.0, 6.0), (95.0, 0.0), (270.0, 10.0)]),
        ((69.65, 18.96), VALLEY),
    ],
)
def test_first_appearance_and_last_disappearance(
    place: tuple[float, float], skyline: list[tuple[float, float]]
) -> None:
    """Minute by minute from solar midnight to solar midnight, every fifth day of the year."""
    found = sunrise_sunset(FIRST, N, *place, 0.0, skyline)
    n_rises = 0
    for row in range(0, N, 5):
        times = np.arange(found.midnight_utc_min[row], found.midnight_utc_min[row + 1], 1.0)
        visible = seen(times, place, skyline)
        morning, evening = found.morning_state[0, row], found.evening_state[0, row]
        rise, set_ = found.rise_utc_min[0, row], found.set_utc_min[0, row]
        assert (morning == State.ALWAYS_ABOVE) == visible[0]
        assert (evening == State.ALWAYS_ABOVE) == visible[-1]
        assert np.isfinite(rise) == (morning == State.CROSSES)
        assert np.isfinite(set_) == (evening == State.CROSSES)
        # between two looks two minutes apart a glimpse may be passed over; none is in these valleys
        if morning == State.CROSSES:
            n_rises += 1
            assert 0.0 <= times[np.argmax(visible)] - rise < 1.0
            assert not visible[times < rise - 0.02].any()
        if evening == State.CROSSES:
            assert 0.0 <= set_ - times[::-1][np.argmax(visible[::-1])] < 1.0
            assert not visible[times > set_ + 0.02].any()
        if State.ALWAYS_BELOW in (morning, evening):
            assert not visible.any()
    assert n_rises > 30


def test_hills_that_hide_the_winter_sun_all_day() -> None:
    # a wall of 25 degrees all round; at 47.3 N the noon Sun of December stands 19 degrees high
    walls = sunrise_sunset(FIRST, N, *PLACE, 0.0, [(0.0, 25.0), (180.0, 25.5)])
    december = 344
    assert walls.morning_state[0, december] == State.ALWAYS_BELOW
    assert walls.evening_state[0, december] == State.ALWAYS_BELOW
    assert np.isnan(walls.rise_utc_min[0, december])
    assert walls.morning_state[0, 171] == State.CROSSES


def test_a_skyline_beyond_north_is_straight_across_it() -> None:
    # entries at 350 and 10 degrees: due north half-way between them
    line = horizon.site_skyline(0.0, [(350.0, 2.0), (10.0, 4.0)])
    assert line.centre_altitude_deg(np.array(0.0)) == pytest.approx(horizon.centre_altitude_deg(3.0))
    assert line.centre_altitude_deg(np.array(360.0)) == pytest.approx(horizon.centre_altitude_deg(3.0))
    # 0 and 360 name the same direction
    closed = horizon.site_skyline(0.0, [(0.0, 2.0), (90.0, 4.0), (360.0, 2.0)])
    assert closed.azimuth_deg.tolist() == [0.0, 90.0]


def test_a_height_counts_only_where_no_hill_stands() -> None:
    half = [(0.0, 8.0), (170.0, 8.0), (180.0, 0.0), (350.0, 0.0)]
    low, high = (sunrise_sunset(FIRST, N, *PLACE, height, half) for height in (0.0, 400.0))
    at_equinox = 78
    assert abs(low.rise_utc_min - high.rise_utc_min)[0, at_equinox] < 0.01
    assert (high.set_utc_min - low.set_utc_min)[0, at_equinox] > 4.0


def test_neither_height_nor_hills_touch_noon_and_midnight() -> None:
    level, hilly = sunrise_sunset(FIRST, N, *PLACE), sunrise_sunset(FIRST, N, *PLACE, 50.0, VALLEY)
    assert np.array_equal(level.noon_utc_min, hilly.noon_utc_min)
    assert np.array_equal(level.midnight_utc_min, hilly.midnight_utc_min)


@pytest.mark.parametrize(
    ("height_m", "skyline", "words"),
    [
        (-1.0, [], r"^height above the horizon -1 m; wanted 0 or more$"),
        (float("nan"), [], r"^height above the horizon nan m; wanted 0 or more$"),
        (0.0, [(361.0, 2.0)], r"^skyline \[\(361\.0, 2\.0\)\]; wanted azimuths 0 to 360"),
        (0.0, [(90.0, -2.0)], r"altitudes 0 to 90 degrees$"),
        (0.0, [(90.0, 2.0), (90.0, 3.0)], r"each once"),
        (0.0, [(0.0, 2.0), (360.0, 3.0)], r"each once"),
    ],
)
def test_a_horizon_that_cannot_be(height_m: float, skyline: list[tuple[float, float]], words: str) -> None:
    with pytest.raises(RangeError, match=words):
        sunrise_sunset(FIRST, N, *PLACE, height_m, skyline)
