"""Day numbers, zones, gaps and overlaps against zoneinfo and published rules."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from zoneinfo import ZoneInfo, reset_tzpath

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sunsched.base.civil_time import (
    clock_text,
    date_of,
    day_number,
    iso_utc,
    month_day,
    weekday,
    year_days,
    zone_names,
    zone_of,
)
from sunsched.base.errors import RangeError

ZONES = (
    "Europe/Zurich",
    "America/Anchorage",
    "Australia/Lord_Howe",
    "Africa/Casablanca",
    "Asia/Kathmandu",
    "Pacific/Apia",
    "Europe/Dublin",
    "America/Sao_Paulo",
)


@pytest.fixture(autouse=True)
def zones_of_the_package() -> Iterator[None]:
    """The reference reads the tzdata package too, not the machine's own zone files of another release."""
    reset_tzpath(to=())
    ZoneInfo.clear_cache()
    yield
    reset_tzpath()


@given(st.dates(dt.date(1990, 1, 1), dt.date(2052, 12, 31)))
def test_day_numbers_go_both_ways_and_know_their_weekday(date: dt.date) -> None:
    day = day_number(date)
    assert date_of(day) == date
    assert int(weekday(np.array([day]))[0]) == date.weekday()
    assert int(month_day(np.array([day]))[0]) == date.month * 100 + date.day


# Gregorian calendar: 2027 has 365 days, 2028 is a leap year.
def test_years_have_their_days() -> None:
    assert year_days(2027)[1] == 365
    assert year_days(2028)[1] == 366
    assert date_of(year_days(2028)[0]) == dt.date(2028, 1, 1)


# The standard library's zoneinfo, reading the same zone data time by time, is the reference.
@pytest.mark.parametrize("name", ZONES)
def test_offsets_equal_zoneinfo_every_six_hours(name: str) -> None:
    first, n_days = year_days(2027)
    times = first * 1440.0 + np.arange(0, n_days * 1440, 360) + 7
    start = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)
    wanted = [(start + dt.timedelta(minutes=float(t))).astimezone(ZoneInfo(name)).utcoffset() for t in times]
    assert [offset.total_seconds() / 60 for offset in wanted if offset is not None] == zone_of(name).utc_offset_min(
        np.asarray(times, np.float64)
    ).tolist()


# The same reference, minute by minute around every change of offset, PEP 495 with fold=0.
@pytest.mark.parametrize("name", ZONES)
@pytest.mark.parametrize("civil_minute", [0, 30, 125, 150, 180, 200, 1439, 1460])
def test_civil_minutes_equal_zoneinfo_on_every_day(name: str, civil_minute: int) -> None:
    first, n_days = year_days(2026)
    days = first + np.arange(n_days)
    found = zone_of(name).utc_min_of(days, civil_minute)
    for day, utc_min in zip(days.tolist(), found.tolist(), strict=True):
        date = date_of(day + civil_minute // 1440)
        local = dt.datetime.combine(date, dt.time(civil_minute % 1440 // 60, civil_minute % 60))
        offset = local.replace(tzinfo=ZoneInfo(name)).utcoffset()
        assert offset is not None
        assert utc_min == day * 1440 + civil_minute - offset.total_seconds() / 60, date


# IANA tz: Zurich is UTC+1 in winter; Dublin's winter is UTC+0 though its law calls summer the standard.
def test_standard_time_is_winter_time() -> None:
    assert zone_of("Europe/Zurich").standard_offset_min(*year_days(2027)) == 60
    assert zone_of("Europe/Dublin").standard_offset_min(*year_days(2027)) == 0
    assert zone_of("Pacific/Auckland").standard_offset_min(*year_days(2027)) == 720
    assert zone_of("Asia/Kathmandu").standard_offset_min(*year_days(2027)) == 345


def test_zones_outside_the_list_are_refused() -> None:
    for name in ("../../etc/passwd", "Europe", "posixrules", "europe/zurich"):
        assert name not in zone_names()
        with pytest.raises(RangeError):
            zone_of(name)


def test_times_as_text() -> None:
    assert clock_text(0) == "00:00"
    assert clock_text(1460) == "24:20"
    assert clock_text(-5) == "-00:05"
    assert iso_utc(day_number(dt.date(2027, 3, 28)) * 1440 + 59.9999) == "2027-03-28T01:00:00Z"
