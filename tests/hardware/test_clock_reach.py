"""Drift of a chip's clock against datasheet figures and sums done by hand."""

import pytest

from sunsched.base.errors import RangeError
from sunsched.hardware import clock_reach as clock


# Maxim MAX6902 datasheet, example: 20 ppm = 1.728 s a day, 52.6 s in 30.44 days [public source read]
def test_twenty_ppm_a_day_and_a_month() -> None:
    assert clock.drift_s_per_day(20) == pytest.approx(1.728)
    assert clock.drift_s_per_day(20) * 30.44 == pytest.approx(52.6, abs=0.05)


# By hand: 20 x 0.0864 x 365.25 / 60 = 10.5 min a year; 120 s / 1.728 = 69.4 days; at 2 ppm 694.4 [physics]
@pytest.mark.parametrize(("ppm", "days"), [(20, 69), (2, 694)])
def test_two_minutes_last_so_many_days(ppm: int, days: int) -> None:
    assert clock.reach_days(2, ppm) == days


def test_twenty_ppm_a_year() -> None:
    # by hand, as above
    assert clock.clock_reach(2, 20).worst_min_per_year == pytest.approx(10.5, abs=0.05)


# By hand: 1 % of a day = 864 s = 14.4 min: not a clock [physics]; a ceramic resonator's 0.5 % = 432 s
# [0.5 % from memory]
def test_oscillators_that_are_no_clock() -> None:
    assert clock.drift_s_per_day(10_000) / 60 == pytest.approx(14.4)
    assert clock.drift_s_per_day(5_000) == pytest.approx(432)
    assert clock.reach_days(2, 10_000) == 0


# By hand: -0.034 (-10 - 25)^2 = -41.65 ppm [coefficient from memory]
def test_tuning_fork_in_the_cold() -> None:
    assert clock.tuning_fork_ppm(-10) == pytest.approx(-41.65)
    assert clock.tuning_fork_ppm(25) == 0


# Maxim MAX6902 datasheet: -0.035 +- 0.005 ppm/C^2; ours must lie within it
def test_parabola_lies_within_the_datasheets_range() -> None:
    assert -0.040 <= clock.PARABOLA_PPM <= -0.030


def test_cold_comes_on_top_on_the_slow_side_alone() -> None:
    # by hand: -20 - 41.65 = -61.65 ppm; 61.65 x 0.0864 = 5.327 s a day; 120 / 5.327 = 22.5 days
    reach = clock.clock_reach(2, 20, coldest_c=-10, hottest_c=35)
    assert reach.slow_ppm == pytest.approx(-61.65)
    assert reach.fast_ppm == 20
    assert reach.reset_days == 22


def test_greatest_ppm_is_the_inverse_of_reach() -> None:
    # by hand: 120 s in 365.25 days = 3.80 ppm
    assert clock.greatest_ppm(2, 365.25) == pytest.approx(3.80, abs=0.005)
    assert clock.reach_days(2, clock.greatest_ppm(2, 100) * 0.999) == 100


def test_every_kind_says_how_it_was_read() -> None:
    assert {kind.how_read for kind in clock.CLOCK_KINDS} <= {"read", "from memory"}
    worst = [kind.worst_ppm for kind in clock.CLOCK_KINDS]
    assert worst == sorted(worst)


def test_a_clock_that_never_drifts_needs_no_setting() -> None:
    assert clock.reach_days(2, 0) is None


@pytest.mark.parametrize("error_min", [0, -1, float("nan"), float("inf")])
def test_a_budget_that_is_none_is_refused(error_min: float) -> None:
    with pytest.raises(RangeError, match="error_min"):
        clock.reach_days(error_min, 20)


@pytest.mark.parametrize(
    ("error_s", "words"),
    [
        (40, "drift"),
        (-850, "drift"),
        (2000, "set wrong"),
        (3600 + 120, "summer time"),
        (-3600 - 120, "summer time"),
        (5400, "set wrong"),
        (-4 * 3600, "4 whole hours"),
        (12 * 3600 - 30, "twelve hours"),
        (86400 * 3, "3 day(s)"),
    ],
)
def test_what_an_error_looks_like(error_s: int, words: str) -> None:
    assert words in clock.likeness(error_s)


def test_a_noted_reading_gives_rate_and_days_left() -> None:
    # by hand: 60 s fast after 100 days = 60 / 8 640 000 = 6.944 ppm; sd sqrt(2) / 8.64e6 = 0.164 ppm;
    # 60 s of the two minutes left at 20 ppm: 60 / 1.728 = 34.7 days
    reading = clock.noted_reading(144_001.0, 144_000.0, 2, 20, set_utc_min=0.0)
    assert reading.error_s == pytest.approx(60)
    assert reading.measured_ppm == pytest.approx(6.944, abs=0.001)
    assert reading.measured_ppm_sd == pytest.approx(0.164, abs=0.001)
    assert reading.days_left == 34


def test_a_reading_past_the_budget_leaves_no_day() -> None:
    assert clock.noted_reading(10.0, 7.0, 2, 20).days_left == 0


def test_a_setting_after_the_reading_is_refused() -> None:
    with pytest.raises(RangeError, match="before"):
        clock.noted_reading(10.0, 10.0, 2, 20, set_utc_min=11.0)
