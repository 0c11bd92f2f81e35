"""The clock's report, and readings noted in chip time against civil time."""

from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sunsched.base.civil_time import zone_of
from sunsched.base.errors import UsageError
from sunsched.config.configuration import Configuration
from sunsched.job.clock import Reading, chip_utc_min, civil_utc_min, clock_of, set_line_of, soon
from sunsched.report.text.clock import clock_text
from tests.support.known import known

RANGE_C = (-10.0, 35.0)


def configuration(keeps: str = "standard", **clock: str) -> Configuration:
    site = {"name": "Pale gate", "latitude_deg": 47.0, "longitude_deg": 8.0, "zone": "Europe/Zurich"}
    return Configuration.model_validate({"site": site, "chip": {"keeps": keeps}, "clock": clock})


def test_reach_by_hand() -> None:
    # 120 s / 1.728 s a day = 69.4 days
    report = clock_of(configuration(), 2, RANGE_C, None)
    assert known(report.reach).reset_days == 69
    assert report.temperature_range_c is None
    assert "69 days" in clock_text(report)


def test_a_bare_crystal_feels_the_cold() -> None:
    # 61.65 ppm: 120 / 5.327 = 22.5 days
    report = clock_of(configuration(source="crystal"), 2, RANGE_C, None)
    assert known(report.reach).reset_days == 22
    assert "-10 to 35 C" in clock_text(report)


def test_a_chip_without_a_clock() -> None:
    report = clock_of(configuration(source="none"), 2, RANGE_C, None)
    assert report.reach is None
    assert "nothing drifts" in clock_text(report)
    with pytest.raises(UsageError, match="no clock to read"):
        clock_of(configuration(source="none"), 2, RANGE_C, Reading("2027-06-01 12:00", "2027-06-01 13:00"))


# Zurich in summer: civil = UTC + 2 h, standard = UTC + 1 h; in winter both + 1 h (tzdata)
@pytest.mark.parametrize(
    ("keeps", "noted", "true", "error_s"),
    [
        ("standard", "2027-06-01 12:03:20", "2027-06-01 13:03:00", 20),
        ("standard", "2027-01-01 12:03:20", "2027-01-01 12:03:30", -10),
        ("standard", "2027-06-01T13:03", "2027-06-01T13:03", 3600),
        ("utc", "2027-06-01 11:03:00", "2027-06-01 13:03:00", 0),
        ("civil", "2027-06-01 13:03:05", "2027-06-01 13:03:00", 5),
        ("standard", "2026-12-31 23:59:50", "2027-01-01 00:00:00", -10),
    ],
)
def test_a_noted_reading(keeps: str, noted: str, true: str, error_s: int) -> None:
    report = clock_of(configuration(keeps), 2, RANGE_C, Reading(noted, true))
    assert known(report.noted).error_s == pytest.approx(error_s, abs=1e-3)


def test_the_day_of_the_next_setting() -> None:
    # 20 s of 120 gone: 100 / 1.728 = 57.9 days after 2027-06-01
    report = clock_of(configuration(), 2, RANGE_C, Reading("2027-06-01 12:03:20", "2027-06-01 13:03:00"))
    assert (known(report.noted).days_left, report.reset_due) == (57, "2027-07-28")


def test_the_rate_since_the_last_setting() -> None:
    # 20 s in 150.96 days = 1.53 ppm
    reading = Reading("2027-06-01 12:03:20", "2027-06-01 13:03:00", "2027-01-01 14:00")
    report = clock_of(configuration(), 2, RANGE_C, reading)
    assert known(report.noted).measured_ppm == pytest.approx(20 / (150.9188 * 86400) * 1e6, rel=1e-4)


@pytest.mark.parametrize(
    ("reading", "words"),
    [
        (Reading("12:03", "2027-06-01 13:03"), "--noted is '12:03'; wanted"),
        (Reading("2027-06-01 12:03", "1 June"), "--true is '1 June'; wanted"),
        (Reading("2027-06-01 12:03", "2027-06-01 13:03", "2027-06-02 12:00"), "--set is '2027-06-02 12:00', not"),
    ],
)
def test_readings_that_cannot_be_understood(reading: Reading, words: str) -> None:
    with pytest.raises(UsageError, match=words):
        clock_of(configuration(), 2, RANGE_C, reading)


# Zurich: civil = UTC + 2 h from 28 March to 31 October 2027, else + 1 h (tzdata); standard = UTC + 1 h all year
@pytest.mark.parametrize(
    ("keeps", "civil", "line"),
    [
        ("standard", "2027-06-01 18:00", "t 2027-06-01 17:00:00"),
        ("standard", "2027-01-01 18:00:30", "t 2027-01-01 18:00:30"),
        ("utc", "2027-06-01 01:30", "t 2027-05-31 23:30:00"),
        ("civil", "2027-06-01 18:00", "t 2027-06-01 18:00:00"),
    ],
)
def test_the_line_that_sets_the_clock(keeps: str, civil: str, line: str) -> None:
    assert set_line_of(configuration(keeps), civil).line == line


@given(st.sampled_from(["standard", "utc"]), st.datetimes(dt.datetime(2000, 1, 2), dt.datetime(2050, 12, 30)))
def test_the_line_means_the_moment_it_is_sent(keeps: str, when: dt.datetime) -> None:
    set_line = set_line_of(configuration(keeps), f"{when:%Y-%m-%d %H:%M:%S}")
    zone = zone_of("Europe/Zurich")
    sent = civil_utc_min(zone, set_line.civil, "--at")
    assert chip_utc_min(configuration(keeps), zone, set_line.line.removeprefix("t "), sent) == pytest.approx(
        sent, abs=1e-6
    )


def test_the_time_to_set_it_is_a_whole_minute_ahead() -> None:
    now = dt.datetime(2027, 6, 1, 15, 58, 59, tzinfo=dt.UTC)
    assert soon(configuration(), now) == "2027-06-01 18:00"
    assert set_line_of(configuration(), soon(configuration(), now)).line == "t 2027-06-01 17:00:00"


@pytest.mark.parametrize("civil", ["tomorrow", "1999-12-31 23:00", "2100-01-01 12:00"])
def test_a_time_no_chip_can_take_is_refused(civil: str) -> None:
    with pytest.raises(UsageError, match="--at is"):
        set_line_of(configuration(), civil)
