"""The light at a plan's own minutes, and the program's folder that has one window of the cell for the whole year."""

from __future__ import annotations

import datetime as dt
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sunsched.base.civil_time import day_number
from sunsched.base.errors import ConfigError
from sunsched.config.toml_file import validated
from sunsched.emit.stamp import Stamp
from sunsched.job.firmware_folder import machine_of
from sunsched.job.pipeline import Built, plan_of, span_of
from sunsched.plan.window_light import LIKE_DARK, MOST_LEAD_MIN, WindowLight, window_light
from sunsched.sky.crossings import altitude_crossings, sun_altitude_deg
from sunsched.sky.daylight import clear_sky_lux, depression_of_clear_sky_lux, refraction_deg

DATE = dt.date(2027, 3, 9)
LATITUDE_DEG, LONGITUDE_DEG = 46.63, 9.82
SITE = {"name": "Alp", "latitude_deg": LATITUDE_DEG, "longitude_deg": LONGITUDE_DEG, "zone": "Europe/Zurich"}
DARK_LUX, SKY_VIEW = 5.0, 0.4  # the light cell's defaults
DARK_DEPRESSION_DEG = depression_of_clear_sky_lux(DARK_LUX / SKY_VIEW)
PLACES = st.tuples(st.floats(-55.0, 55.0), st.floats(6.0, 14.0))


def found(evening: dict[str, Any], site: dict[str, Any] = SITE, n_days: int = 1, **morning: Any) -> WindowLight:
    """The window light of the days from DATE on."""
    c = validated({"site": site, "evening": evening, "morning": morning}, "by hand")
    return window_light(span_of(c, day_number(DATE), n_days), c.rules, c.light_cell)


def down_utc_min(depression_deg: float) -> float:
    """When the Sun sinks below that depression in the evening of DATE."""
    crossings = altitude_crossings(day_number(DATE), 1, LATITUDE_DEG, LONGITUDE_DEG, [-depression_deg])
    return float(crossings.set_utc_min[0, 0])


def lux_on_the_cell(utc_min: float) -> float:
    altitude_deg = sun_altitude_deg(utc_min, LATITUDE_DEG, LONGITUDE_DEG)
    return float(clear_sky_lux(altitude_deg + refraction_deg(altitude_deg))) * SKY_VIEW


def test_one_day_by_hand() -> None:
    """The chip's minute of the Sun at -4.5 degrees is rounded up and shifted; the light there, and since when dark."""
    close_utc_min = np.ceil(down_utc_min(4.5)) + 25.0
    light = found({"depression_deg": 4.5, "later_min": 25})
    assert light.brightest_close_lux == pytest.approx(lux_on_the_cell(close_utc_min), rel=1e-9)
    # As many whole minutes before the closing, it included, as lie after the cell's dark level.
    assert light.dark_before_close_min == np.ceil(close_utc_min - down_utc_min(DARK_DEPRESSION_DEG))
    assert light.dark_before_close_min > 15


def test_the_darkest_opening_is_taken_at_the_end_of_its_window() -> None:
    crossings = altitude_crossings(day_number(DATE), 1, LATITUDE_DEG, LONGITUDE_DEG, [-9.0])
    open_utc_min = np.ceil(float(crossings.rise_utc_min[0, 0]))
    light = found({"twilight": "civil"}, depression_deg=9.0, cell_from_min=-5, cell_until_min=25)
    assert light.darkest_open_lux == pytest.approx(lux_on_the_cell(open_utc_min + 25.0), rel=1e-9)


# The Sun's own moments of one date, from the U.S. Naval Observatory's definitions: nautical dusk is at -12 degrees,
# where a clear sky gives under 0.02 lux (common practice: 0.008 lux), sunset some 400 lux (common practice).
def test_nautical_dusk_is_far_darker_than_the_cell_and_sunset_far_brighter() -> None:
    nautical, sunset = found({"twilight": "nautical"}), found({"twilight": "sunset"})
    assert nautical.brightest_close_lux < 0.02 and nautical.dark_before_close_min > 20
    assert 40.0 < sunset.brightest_close_lux < 600.0 and sunset.dark_before_close_min == 0


def test_a_closing_that_the_clock_decides_has_no_light_to_speak_of() -> None:
    light = found({"twilight": "nautical", "not_after": "15:00"}, twilight="civil", not_before="09:30")
    assert light == LIKE_DARK


def test_a_shift_of_more_than_half_an_hour_is_the_keepers_not_the_suns() -> None:
    assert found({"twilight": "civil", "later_min": 31}).brightest_close_lux == 0.0
    assert found({"twilight": "civil", "later_min": 30}).brightest_close_lux > 0.0


def test_the_longest_lead_is_held() -> None:
    """In spring at 59 degrees north the Sun takes hours to sink to -18 degrees."""
    north = SITE | {"latitude_deg": 59.0, "zone": "Europe/Stockholm", "longitude_deg": 15.0}
    crossings = altitude_crossings(day_number(DATE), 60, 59.0, 15.0, [-DARK_DEPRESSION_DEG, -18.0])
    dusk_utc_min, night_utc_min = crossings.set_utc_min
    assert np.nanmax(night_utc_min - dusk_utc_min) + 30.0 > MOST_LEAD_MIN
    light = found({"twilight": "astronomical", "later_min": 30}, north, n_days=60)
    assert light.dark_before_close_min == MOST_LEAD_MIN


@settings(max_examples=30, deadline=None)
@given(PLACES, st.lists(st.integers(-30, 30), min_size=2, max_size=2, unique=True))
def test_an_earlier_closing_is_brighter_and_less_long_after_dark(
    place: tuple[float, float], later_min: list[int]
) -> None:
    site = SITE | {"latitude_deg": place[0], "longitude_deg": place[1]}
    early, late = (found({"depression_deg": 4.5, "later_min": one}, site, n_days=40) for one in sorted(later_min))
    assert early.brightest_close_lux > late.brightest_close_lux
    assert early.dark_before_close_min <= late.dark_before_close_min
    assert early.darkest_open_lux == late.darkest_open_lux


@settings(max_examples=30, deadline=None)
@given(PLACES, st.floats(1.0, 14.0))
def test_a_closing_at_the_cells_own_dark_angle_comes_as_it_gets_dark(
    place: tuple[float, float], dark_lux: float
) -> None:
    """But for the rounding up to the chip's minute."""
    site = SITE | {"latitude_deg": place[0], "longitude_deg": place[1]}
    table = {"site": site, "light_cell": {"dark_lux": dark_lux}}
    closing = {"depression_deg": depression_of_clear_sky_lux(dark_lux / SKY_VIEW)}
    c = validated(table | {"evening": closing}, "drawn")
    light = window_light(span_of(c, day_number(DATE), 40), c.rules, c.light_cell)
    assert 0 <= light.dark_before_close_min <= 2
    assert light.brightest_close_lux == pytest.approx(dark_lux, rel=0.35)
    assert light.brightest_close_lux <= dark_lux * 1.001


def test_a_season_with_a_window_of_its_own_is_refused() -> None:
    """The chip keeps one window a side for the whole year; a season's other keys are in the table."""
    season = {"name": "cubs", "from": "04-15", "to": "07-10", "evening": {"later_min": -5, "cell_from_min": -25}}
    table = {"site": SITE, "evening": {"cell_from_min": -10, "cell_until_min": 15}, "season": [season]}
    c = validated(table, "alp.toml")
    work = Built(c, plan_of(c, 2027), Stamp("0", "by hand", "", ""))
    with pytest.raises(ConfigError) as refused:
        machine_of(work, "alp.toml")
    (problem,) = refused.value.problems
    assert (problem.file, problem.key, problem.got) == ("alp.toml", "season[0].evening.cell_from_min", "-25")
    assert problem.wanted.startswith("-10, as in [evening]")


def test_a_season_with_the_years_own_window_is_not_refused() -> None:
    season = {"name": "cubs", "from": "04-15", "to": "07-10", "evening": {"later_min": -5, "cell_from_min": -10}}
    table = {"site": SITE, "evening": {"cell_from_min": -10, "cell_until_min": 15}, "season": [season]}
    c = validated(table, "alp.toml")
    machine = machine_of(Built(c, plan_of(c, 2027), Stamp("0", "by hand", "", "")), "alp.toml")
    assert machine.settings.evening_from_min == -10


def test_a_second_chance_without_a_closing_by_light_is_refused() -> None:
    table: dict[str, Any] = {"site": SITE, "door": {"reopen_once": True, "reopen_for_s": 120}}
    c = validated(table, "alp.toml")
    with pytest.raises(ConfigError) as refused:
        machine_of(Built(c, plan_of(c, 2027), Stamp("0", "by hand", "", "")), "alp.toml")
    assert [problem.key for problem in refused.value.problems] == ["door.reopen_once"]
    c = validated(table | {"evening": {"cell_from_min": -10, "cell_until_min": 15}}, "alp.toml")
    result = machine_of(Built(c, plan_of(c, 2027), Stamp("0", "by hand", "", ""))).settings
    assert (result.reopen_after_min, result.reopen_s) == (10, 120)
