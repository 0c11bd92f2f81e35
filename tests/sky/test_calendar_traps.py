"""Days on which date and Sun part company. Times: Skyfield 1.55 with JPL DE421."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from sunsched.base.civil_time import date_of, year_days, zone_of
from sunsched.sky.crossings import Crossings, State, altitude_crossings
from sunsched.sky.horizon import SUNRISE_ALTITUDE_DEG
from sunsched.sky.second_opinion import skyfield_events
from tests.sky.authority_rows import day_of, utc_min

SUNRISE, CIVIL, NAUTICAL = SUNRISE_ALTITUDE_DEG, -6.0, -12.0
YEAR = 2027


def around_the_year(latitude_deg: float, longitude_deg: float, angle_deg: float) -> Crossings:
    """The year and a few days beyond either end."""
    first, n = year_days(YEAR)
    return altitude_crossings(first - 3, n + 6, latitude_deg, longitude_deg, [angle_deg])


def by_local_date(times: np.ndarray, zone: str) -> dict[dt.date, list[float]]:
    times = times[~np.isnan(times)]
    local = times + zone_of(zone).utc_offset_min(times)
    found: dict[dt.date, list[float]] = {}
    for time, day in zip(times, local // 1440, strict=True):
        found.setdefault(date_of(day), []).append(float(time))
    return found


def apart_s(times: list[float], *wanted: str) -> float:
    assert len(times) == len(wanted)
    return max(abs(time - utc_min(text)) * 60.0 for time, text in zip(times, wanted, strict=True))


@pytest.mark.parametrize(
    ("latitude_deg", "longitude_deg", "zone", "angle_deg", "none_on", "two_on"),
    [
        (52.0, 5.0, "Europe/Amsterdam", NAUTICAL, "06-09", "07-07"),
        (60.0, 25.0, "Europe/Helsinki", CIVIL, "06-04", "07-11"),
        (64.15, -21.94, "Atlantic/Reykjavik", SUNRISE, "06-16", "06-29"),
        (64.84, -147.72, "America/Anchorage", SUNRISE, "05-30", "07-15"),
        (64.5, -165.4, "America/Nome", SUNRISE, "05-11", "08-04"),
        (41.0, -90.0, "UTC", SUNRISE, "03-10", "09-21"),  # a chip that keeps UTC
    ],
)
def test_a_date_with_no_dusk_and_one_with_two(
    latitude_deg: float, longitude_deg: float, zone: str, angle_deg: float, none_on: str, two_on: str
) -> None:
    found = around_the_year(latitude_deg, longitude_deg, angle_deg)
    dusks = by_local_date(found.set_utc_min[0], zone)
    assert dt.date.fromisoformat(f"{YEAR}-{none_on}") not in dusks
    assert len(dusks[dt.date.fromisoformat(f"{YEAR}-{two_on}")]) == 2
    # yet every solar noon around those dates has its one dusk
    for day in (day_of(f"{YEAR}-{none_on}"), day_of(f"{YEAR}-{two_on}")):
        row = day - (year_days(YEAR)[0] - 3)
        assert np.all(found.evening_state[0, row - 2 : row + 3] == State.CROSSES)


def test_the_dusk_that_falls_on_the_next_date() -> None:
    # 52 N 5 E, nautical dusk of the evening of 2027-06-09 is at 22:00:54Z: the 10th in Amsterdam
    found = around_the_year(52.0, 5.0, NAUTICAL)
    row = day_of("2027-06-09") - (year_days(YEAR)[0] - 3)
    assert apart_s([float(found.set_utc_min[0, row])], "2027-06-09T22:00:54Z") < 1.0
    tenth = by_local_date(found.set_utc_min[0], "Europe/Amsterdam")[dt.date(2027, 6, 10)]
    assert apart_s(tenth[:1], "2027-06-09T22:00:54Z") < 1.0


@pytest.mark.parametrize(
    ("latitude_deg", "longitude_deg", "zone", "angle_deg", "evening", "date", "times"),
    [
        # two dusks on one date
        (69.65, 18.96, "Europe/Oslo", CIVIL, True, "2027-08-15", ["2027-08-14T22:20:25Z", "2027-08-15T21:58:54Z"]),
        # two seconds after midnight of a chip on UTC
        (-30.0, -100.0, "UTC", SUNRISE, True, "2027-07-20", ["2027-07-20T00:00:02Z"]),
        # sunrise on the UTC date before
        (39.47, 75.99, "Asia/Shanghai", SUNRISE, False, "2027-04-30", ["2027-04-29T23:59:06Z"]),
        (43.8, 87.6, "Asia/Shanghai", SUNRISE, False, "2027-03-28", ["2027-03-27T23:59:26Z"]),
        # 13 hours ahead: the year's first sunrise is on 31 December in UTC
        (-21.14, -175.2, "Pacific/Tongatapu", SUNRISE, False, "2027-01-01", ["2026-12-31T17:02:02Z"]),
        # beside an extreme
        (78.0, 15.6, "UTC", SUNRISE, False, "2027-02-15", ["2027-02-15T10:34:30Z"]),
        (69.65, 18.96, "UTC", SUNRISE, False, "2027-01-15", ["2027-01-15T10:35:17Z"]),
        # dawn after dusk on one date; astral, which adds refraction, has 23:06:52 and 21:36:52
        (60.0, 25.0, "UTC", CIVIL, False, "2027-06-21", ["2027-06-21T23:09:21Z"]),
        (60.0, 25.0, "UTC", CIVIL, True, "2027-06-21", ["2027-06-21T21:34:22Z"]),
    ],
)
def test_known_moments_on_local_dates(
    latitude_deg: float, longitude_deg: float, zone: str, angle_deg: float, evening: bool, date: str, times: list[str]
) -> None:
    found = around_the_year(latitude_deg, longitude_deg, angle_deg)
    events = found.set_utc_min[0] if evening else found.rise_utc_min[0]
    assert apart_s(by_local_date(events, zone)[dt.date.fromisoformat(date)], *times) < 1.0


def test_fourteen_hours_ahead() -> None:
    # USNO API rstt/oneday 2026 for 1.87 N 157.43 W is among the published events; here the date must be local:
    # every date of Kiritimati's year has one sunrise, all of them on the UTC date before
    found = around_the_year(1.87, -157.4, SUNRISE)
    sunrises = by_local_date(found.rise_utc_min[0], "Pacific/Kiritimati")
    first, n = year_days(YEAR)
    for day in range(first, first + n):
        (sunrise,) = sunrises[date_of(day)]
        assert date_of(int(sunrise // 1440)) == date_of(day - 1)


@pytest.mark.parametrize(
    ("latitude_deg", "longitude_deg", "zone"),
    [
        (-33.87, 151.21, "Australia/Sydney"),
        (35.68, 139.69, "Asia/Tokyo"),
        (39.74, -104.99, "America/Denver"),
        (51.88, -176.65, "America/Adak"),
    ],
)
def test_the_right_days_sun(latitude_deg: float, longitude_deg: float, zone: str) -> None:
    """Searching on the UTC date gives the local date the Sun of its neighbour, here more than 45 s away."""
    first = day_of("2027-03-18")
    found = altitude_crossings(first, 6, latitude_deg, longitude_deg, [SUNRISE])
    offset = float(zone_of(zone).utc_offset_min(found.noon_utc_min)[0])
    for row in range(1, 5):
        midnight = (first + row) * 1440.0 - offset
        theirs = skyfield_events(midnight, midnight + 1440.0, latitude_deg, longitude_deg, [SUNRISE])
        for ours, events in ((found.rise_utc_min[0], theirs.rise_utc_min), (found.set_utc_min[0], theirs.set_utc_min)):
            assert abs(ours[row] - events[0][0]) * 60.0 < 1.0
            neighbours = ours[[row - 1, row + 1]] + np.array([1440.0, -1440.0])
            assert np.abs(neighbours - events[0][0]).min() * 60.0 > 45.0


def test_no_dawn_just_below_an_angle() -> None:
    # 78.2 N 15.6 E, 2027-11-08: the noon Sun stays below -4.5 degrees
    found = around_the_year(78.2, 15.6, -4.5)
    row = day_of("2027-11-08") - (year_days(YEAR)[0] - 3)
    assert found.morning_state[0, row] == State.ALWAYS_BELOW
    assert found.evening_state[0, row] == State.ALWAYS_BELOW
    assert np.isnan(found.rise_utc_min[0, row])


def test_short_nights_lose_nothing() -> None:
    # 52 N: a finder that steps too far loses nautical twilight from May to July (594 of 730 events found)
    first, n = year_days(YEAR)
    found = altitude_crossings(first, n, 52.0, 5.0, [NAUTICAL])
    assert np.isfinite(found.rise_utc_min).sum() + np.isfinite(found.set_utc_min).sum() == 730


# Latitude beyond which a twilight lasts through the night at the solstice: 90 - 23.44 - depression (geometry)
@pytest.mark.parametrize(("depression_deg", "limit_deg"), [(6.0, 60.56), (12.0, 54.56)])
def test_where_white_nights_begin(depression_deg: float, limit_deg: float) -> None:
    day = day_of("2027-06-21")
    inside = altitude_crossings(day, 1, limit_deg - 0.03, 0.0, [-depression_deg])
    beyond = altitude_crossings(day, 1, limit_deg + 0.03, 0.0, [-depression_deg])
    assert inside.evening_state[0, 0] == State.CROSSES
    assert beyond.evening_state[0, 0] == State.ALWAYS_ABOVE
