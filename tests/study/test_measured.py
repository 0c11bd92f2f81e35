"""Measured light instead of drawn means. Records here are our own invention, made from the clear sky."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from sunsched.base.civil_time import day_number
from sunsched.base.errors import LogError
from sunsched.plan.planning import year_plan
from sunsched.plan.year import YearPlan
from sunsched.sky.crossings import sun_altitude_deg
from sunsched.sky.daylight import clear_sky_lux, refraction_deg
from sunsched.study.block import run_block, weather_rng
from sunsched.study.measured import LUX_PER_W_M2, csv_record, epw_record, measured_means
from sunsched.study.tally import year_figures
from tests.support import study_sites as sites

PLACE = (52.3, 0.0)
FIRST = day_number(dt.date(2026, 1, 1)) * 1440


def clear_lux(utc_min: NDArray[np.int64]) -> NDArray[np.float64]:
    airless = sun_altitude_deg(utc_min, *PLACE)
    return np.where(airless > -5, clear_sky_lux(airless + refraction_deg(airless)), 0.0)


def epw_lines(share: float) -> list[str]:
    """A year of hours, each with `share` of the clear light of its middle, as irradiance; UTC+1."""
    head = ["LOCATION,Meadow,-,-,made,0,52.3,0.0,1.0,20.0"] + ["COMMENTS"] * 7
    rows = []
    for hour in range(8760):
        end = dt.datetime(2026, 1, 1) + dt.timedelta(hours=hour)
        middle_utc = FIRST + hour * 60 + 30 - 60
        fields = ["0"] * 35
        fields[:5] = ["2005", str(end.month), str(end.day), str(end.hour + 1), "60"]
        fields[13] = f"{share * float(clear_lux(np.array([middle_utc]))[0]) / LUX_PER_W_M2:.3f}"
        fields[16] = "999999"
        rows.append(",".join(fields))
    return [line + "\n" for line in (*head, *rows)]


def plan() -> YearPlan:
    c = sites.configuration()
    return year_plan(c.site, c.chip, c.rules, 2026, c.light_cell)


def test_an_epw_year_gives_back_its_share_of_the_clear_sky() -> None:
    means = measured_means(epw_record(epw_lines(0.3), "meadow.epw"), plan())
    assert means.evening_log.shape == (1, 365) and means.share > 0.99
    # three decimals of a watt: better than 0.001 in log10 with the Sun above 8 degrees
    assert np.nanmax(np.abs(means.evening_log - np.log10(0.3))) < 0.002
    assert np.nanmax(np.abs(means.morning_log - np.log10(0.3))) < 0.002


@pytest.mark.parametrize(("unit", "factor"), [("lux", 1.0), ("w_m2", 1 / LUX_PER_W_M2)])
def test_csv_minutes_of_two_years_and_a_gap(unit: str, factor: float) -> None:
    minutes = np.concatenate([FIRST + np.arange(3 * 1440), FIRST + (365 + 1) * 1440 + np.arange(1440)])
    light = clear_lux(minutes) * np.where(minutes < FIRST + 1440, 0.5, 0.1) * factor
    start = dt.datetime(1970, 1, 1)
    rows = [
        f"{start + dt.timedelta(minutes=int(m)):%Y-%m-%dT%H:%M}Z,{v:.6f}\n" for m, v in zip(minutes, light, strict=True)
    ]
    means = measured_means(csv_record([f"time,{unit}\n", *rows], "yard.csv", 0), plan())
    assert means.evening_log.shape == (2, 365)
    assert means.evening_log[0, :3] == pytest.approx(np.log10([0.5, 0.1, 0.1]), abs=1e-3)
    assert means.evening_log[1, 1] == pytest.approx(-1.0, abs=1e-3)
    assert np.isnan(means.evening_log[0, 3:]).all() and np.isnan(means.morning_log[1, 0])


def test_times_without_an_offset_are_the_chips_own() -> None:
    rows = ["time,lux\n", "2026-06-01T12:00,50000\n", "2026-06-01T13:00,50000\n"]
    assert csv_record(rows, "a.csv", 60).utc_min[0] == csv_record(rows, "a.csv", 0).utc_min[0] - 60
    zoned = [row.replace(":00,", ":00+01:00,") for row in rows]
    assert csv_record(zoned, "a.csv", 0).utc_min[0] == csv_record(rows, "a.csv", 60).utc_min[0]


def test_dull_records_close_the_cell_earlier_than_bright_ones() -> None:
    c = sites.configuration()
    found = sites.scene(c)
    on = sites.stage(c, sites.settings(found), found)
    closed = []
    for share in (0.05, 0.9):
        measured = measured_means(epw_record(epw_lines(share), "meadow.epw"), plan())
        block = run_block(replace(on, measured=measured), 2, weather_rng(1, 0))
        closed.append(np.nanmean(block.close_min[0]))
        assert year_figures(block).birds.shape[0] == 2
    # log10 of 18 is 1.26 decades: at 52 N light falls a decade in 12 to 20 min, and the spread of minutes is the same.
    assert 10 < closed[1] - closed[0] < 30


@pytest.mark.parametrize(
    ("lines", "message"),
    [
        (["time;lux\n"], r"yard: row 1: the heading is 'time;lux'; wanted time,lux or time,w_m2"),
        (["time,lux\n", "2026-06-01T12:00,1\n"], "yard: 1 rows of light; wanted a year of them"),
        (["time,lux\n", "2026-06-01T12:00,1\n", "2026-06-01T11:00,1\n"], "row 3: time 2026-06-01T11:00 is not after"),
        (["time,lux\n", "2026-06-01T12:00,1,5\n"], "row 2 has 3 fields; wanted 2"),
        (["time,lux\n", "2026-06-01T12:00,bright\n"], "row 2: light is 'bright'; wanted a number"),
        (["time,lux\n", "400,2026-06-01\n"], "row 2: Invalid isoformat string"),
        (["time,lux\n", "2026-06-01T12:00,-99\n"], "row 2: light is -99; wanted 0 or more"),
        (["time,lux\n", "2026-06-01T12:00,1e6\n", "2026-06-01T13:00,1\n"], "greatest light is 1e.06 lux"),
        (["time,lux\n", "1890-06-01T12:00,1\n", "1890-06-01T13:00,1\n"], "row 2: the year 1890; wanted 1991 to 2051"),
        (["time,lux\n", "2026-06-01T12:00,\n", "2026-06-01T13:00,\n"], "every value of light is missing"),
        (["time,lux\n", "2026-06-01T00:00Z,1\n", "2026-06-01T00:10Z,1\n"], "no light with the Sun up at this site"),
    ],
)
def test_a_bad_csv_is_refused_with_its_row(lines: list[str], message: str) -> None:
    with pytest.raises(LogError, match=message):
        measured_means(csv_record(lines, "yard", 0), plan())


@pytest.mark.parametrize(
    ("lines", "message"),
    [
        (["PLACE,x\n"], "row 1 is not an EPW heading"),
        (["LOCATION,a,b,c,d,e,north,0,0,0\n"] + ["x\n"] * 9, "row 1 has no latitude"),
        (["LOCATION,a,b,c,d,e,52,0,0,0\n"] + ["x\n"] * 9, "row 9: "),
    ],
)
def test_a_bad_epw_is_refused_with_its_row(lines: list[str], message: str) -> None:
    with pytest.raises(LogError, match=message):
        epw_record(lines, "meadow")
