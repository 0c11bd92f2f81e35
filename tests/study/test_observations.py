"""Noted nights, the chance of a later one, and who follows the light."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from numpy.typing import NDArray

from sunsched.base.civil_time import day_number
from sunsched.base.errors import LogError
from sunsched.study import observations
from sunsched.study.observations import Nights, NotedNight
from tests.support.known import known

LONDON = {"latitude_deg": 51.5, "longitude_deg": 0.0}


def test_ways_to_write_a_list() -> None:
    lines = ["# last bird in", "date,time", "2027-03-01,18:12", "2027-03-02;18:14:30;six birds", "3.3.2027 18:15", ""]
    found = observations.noted_nights(lines, "nights.csv")
    assert [(night.row, night.date.day, night.minute) for night in found] == [
        (3, 1, 1092.0),
        (4, 2, 1094.5),
        (5, 3, 1095.0),
    ]


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("2027-03-01", "row 2: '2027-03-01'; wanted a date and a time"),
        ("2027-02-30,18:12", "row 2: date '2027-02-30'; wanted such as"),
        ("03/01/2027,18:12", "row 2: date '03/01/2027'; wanted such as"),
        ("18:12,2027-03-01", "row 2: date '18:12'; wanted such as"),
        ("2027-03-01,24:12", "row 2: time '24:12'; wanted such as"),
        ("2027-03-01,6.12 pm", "row 2: time '6.12'; wanted such as"),
    ],
)
def test_rows_that_are_refused(line: str, words: str) -> None:
    with pytest.raises(LogError, match=words):
        observations.noted_nights(["date,time", line], "nights.csv")


def test_a_list_without_nights() -> None:
    with pytest.raises(LogError, match=r"nights.csv: no night in it"):
        observations.noted_nights(["date,time", ""], "nights.csv")


# 1/(n+1) for exchangeable nights: n = 19 gives 5 % [mathematics]
def test_nineteen_nights_leave_five_per_cent() -> None:
    assert observations.chance_next_later(19) == pytest.approx(0.05)
    assert observations.nights_needed(0.05) == 19
    assert observations.nights_needed(0.01) == 99


# Of 19 nights the latest leaves out 1/20, the second latest 2/20 [mathematics: order statistics]
@pytest.mark.parametrize(("share", "place"), [(0.05, 19), (0.1, 18), (0.2, 16), (0.5, 10), (0.04, None)])
def test_the_night_that_leaves_out_a_share(share: float, place: int | None) -> None:
    values = np.random.default_rng(1).permutation(np.arange(1.0, 20.0))
    level = observations.level_for_share(values, share)
    assert level == (None if place is None else float(place))


def test_the_share_holds_over_many_nights_to_come() -> None:
    # 4000 draws: the mean share left out has a standard error of about 0.001
    rng = np.random.default_rng(2)
    left_out = [float(np.mean(rng.normal(size=200) > rng.normal(size=19).max())) for _ in range(4000)]
    assert np.mean(left_out) == pytest.approx(0.05, abs=0.004)


def at(date: str, minute: int, row: int = 1) -> NotedNight:
    return NotedNight(row, dt.date.fromisoformat(date), minute)


def sun(noted: list[NotedNight]) -> Nights:
    return observations.sun_on_nights(noted, "nights.csv", **LONDON, utc_of=float)


# U.S. Naval Observatory, London 51.5 N 0: civil dusk (6 degrees below) 2027-03-20 is 18:47 UTC within a minute by
# almanac practice sunset 18:14 and 33 min of twilight; a minute at the equinox there is 0.155 degrees [physics]
def test_depression_at_civil_dusk() -> None:
    nights = sun([at("2027-03-20", 18 * 60 + 47)])
    assert nights.depression_deg[0] == pytest.approx(6.0, abs=0.25)
    assert nights.after_sunset_min[0] == pytest.approx(33, abs=2)
    # the published cubics give 3.41 lux at -6 degrees of refracted altitude; refraction there lifts by 0.06
    assert nights.clear_lux[0] == pytest.approx(3.41, rel=0.25)


def test_nights_are_put_in_order_and_doubles_told() -> None:
    nights = sun([at("2027-03-21", 1125, 1), at("2027-03-20", 1120, 2), at("2027-03-20", 1122, 3)])
    assert [night.row for night in nights.noted] == [3, 1]
    assert nights.warnings == ("row 3: 2027-03-20 is noted twice; the later time counts",)


@pytest.mark.parametrize(
    ("date", "minute", "words"),
    [
        ("2027-06-01", 720, r"the Sun stands 6\d degrees high"),
        ("2027-12-01", 1320, r"the Sun is \d\d degrees below the horizon"),
        ("2027-03-20", 6 * 60 + 12, "is a morning"),
        ("1970-01-01", 1080, "nights.csv: "),
    ],
)
def test_times_that_are_no_evening(date: str, minute: int, words: str) -> None:
    with pytest.raises(LogError, match=words):
        sun([at(date, minute)])


def test_a_night_that_decides_alone_is_told() -> None:
    noted = [at(f"2027-03-{day:02d}", 1110 + (day % 3), day) for day in range(10, 20)]
    assert sun(noted).warnings == ()
    late = [*noted, at("2027-03-20", 1150, 99)]
    assert sun(late).warnings == ("row 99: 2027-03-20 is far later than the other nights and decides the angle alone",)


def entries(
    share: float, n: int = 40, jitter_min: float = 4.0, seed: int = 3
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    rng = np.random.default_rng(seed)
    clear = np.arange(n, dtype=np.float64) * 1440 + 1100
    light = clear - np.abs(rng.normal(0, 9, n))
    return share * light + (1 - share) * clear + 5 + rng.normal(0, jitter_min, n), light, clear


@pytest.mark.parametrize("share", [0.0, 0.5, 1.0])
def test_the_share_that_follows_the_light_is_found(share: float) -> None:
    found = [observations.following(*entries(share, seed=seed)) for seed in range(300)]
    inside = np.mean([abs(known(one).share - share) < 2 * known(one).error for one in found])
    # two standard errors hold 95 %; 300 draws give that share to about 1.3 %
    assert 0.91 < inside < 0.985
    assert np.mean([known(one).share for one in found]) == pytest.approx(share, abs=0.03)


def test_what_is_said_of_it() -> None:
    assert known(observations.following(*entries(1.0))).words == "the birds follow the light"
    assert known(observations.following(*entries(0.0))).words.startswith("the birds follow the Sun")
    assert known(observations.following(*entries(0.5, jitter_min=12.0, seed=8))).words == "cannot tell"


def test_few_nights_or_one_weather_tell_nothing() -> None:
    entry, light, clear = entries(1.0)
    assert observations.following(entry[:7], light[:7], clear[:7]) is None
    assert observations.following(entry, clear - 10, clear) is None
    light[:35] = np.nan
    assert observations.following(entry, light, clear) is None


def test_day_numbers_agree_with_dates() -> None:
    assert day_number(dt.date(2027, 3, 20)) == 20_897
