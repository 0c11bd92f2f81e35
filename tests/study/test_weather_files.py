"""Weather files as keepers get them: real heads of PVGIS files against pvlib's readers, and what is refused."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest

from sunsched.base.errors import LogError
from sunsched.plan.planning import year_plan
from sunsched.plan.year import YearPlan
from sunsched.study.measured import LUX_PER_W_M2, Record, measured_climate, measured_means
from sunsched.study.weather import Floats
from sunsched.study.weather_files import weather_record
from tests.study.test_measured import FIRST, clear_lux, epw_lines
from tests.support import study_sites as sites
from tests.support.later import Later

if TYPE_CHECKING:
    import pandas
    import pvlib
else:
    pandas = Later("pandas")
    pvlib = Later("pvlib")

AUTHORITIES = Path(__file__).parents[1] / "authorities"
TYPICAL_CSV, TYPICAL_EPW = "pvgis_typical_45N_8E_excerpt.csv", "pvgis_typical_45N_8E_excerpt.epw"
TILTED = "pvgis_hourly_45N_8E_tilted.csv"


def record_of(name: str) -> Record:
    with (AUTHORITIES / name).open(encoding="utf-8-sig") as lines:
        return weather_record(lines, name, 0)


# PVGIS typical year of 45 N 8 E, as it ships in the source distribution of pvlib 0.16.1: its first days and its end.
# Read apart by pandas, column by column.
def test_a_pvgis_typical_year_is_read_whole() -> None:
    ours = record_of(TYPICAL_CSV)
    table = pandas.read_csv(AUTHORITIES / TYPICAL_CSV, skiprows=17, nrows=len(ours.lux))
    assert ours.lux / LUX_PER_W_M2 == pytest.approx(np.maximum(table["G(h)"].to_numpy(), 0))
    assert ours.temperature_c == pytest.approx(table["T2m"].to_numpy())
    assert ours.place_deg == (45.0, 8.0)


# The same year as EPW and as CSV, both from PVGIS: the light is of one moment, 10.6 min after the UTC hour, though the
# EPW numbers its hours by their end and has zone 1.
def test_epw_and_csv_of_one_place_agree_on_the_moments() -> None:
    by_csv, by_epw = record_of(TYPICAL_CSV), record_of(TYPICAL_EPW)
    n = 60
    assert by_epw.utc_min[:n] == pytest.approx(by_csv.utc_min[:n], abs=0.01)
    assert by_epw.lux[:n] == pytest.approx(by_csv.lux[:n], abs=0.01)
    assert by_epw.utc_min[0] % 60 == pytest.approx(0.1761 * 60, abs=0.01)


# The one PVGIS hourly CSV that pvlib ships is of a plane tilted by 30 degrees: no use for evenings, and said so.
def test_light_on_a_tilted_plane_is_refused() -> None:
    with pytest.raises(LogError, match="slope is 30 deg; wanted slope 0"):
        record_of(TILTED)


def level() -> list[str]:
    return (AUTHORITIES / TILTED).read_text(encoding="utf-8").replace("Slope: 30 deg.", "Slope: 0 deg.").splitlines()


def test_pvgis_hours_of_level_ground_are_the_sum_of_their_parts() -> None:
    found = weather_record(level(), "level.csv", 0)
    # by hand from the file: 1 January 2016 08:10 UTC, 26.71 + 8.28 + 0.21 W/m2
    at = int(np.argmax(found.lux))
    assert found.lux[at] == pytest.approx((26.71 + 8.28 + 0.21) * LUX_PER_W_M2)
    assert found.utc_min[at] == (16_801 * 1440) + 8 * 60 + 10  # 16,801 days from 1970-01-01 to 2016-01-01
    assert found.temperature_c is not None and found.temperature_c[at] == 3.87
    theirs = pvlib.iotools.read_pvgis_hourly(AUTHORITIES / TILTED, map_variables=False)[0]
    assert found.lux / LUX_PER_W_M2 == pytest.approx(theirs[["Gb(i)", "Gd(i)", "Gr(i)"]].sum(axis=1).to_numpy())


# The file's form from memory, the place our own invention: hourly means of the hour before their stamp, UTC+1.
def open_meteo(unit: str = "W/m²", shift_s: int = 3600, light: float = 100.0) -> list[str]:
    rows = [
        "latitude,longitude,elevation,utc_offset_seconds,timezone,timezone_abbreviation",
        f"52.3,0.0,20.0,{shift_s},Europe/Somewhere,CET",
        "",
        f"time,shortwave_radiation ({unit}),temperature_2m (°C)",
    ]
    return rows + [f"2026-01-01T{hour:02d}:00,{light if hour == 12 else 0.0},{hour}" for hour in range(24)]


def test_open_meteo_hours_are_means_of_the_hour_before() -> None:
    found = weather_record(open_meteo(), "meteo.csv", 0)
    at = int(np.argmax(found.lux))
    assert found.lux[at] == pytest.approx(100.0 * LUX_PER_W_M2)
    assert found.utc_min[at] == FIRST + 12 * 60 - 60 - 30
    assert found.place_deg == (52.3, 0.0) and found.interval_min == 60


@pytest.mark.parametrize(
    ("lines", "said"),
    [
        (open_meteo("MJ/m²"), "row 4: shortwave_radiation is in 'mj/m²'; wanted W/m2"),
        (open_meteo(light=9000.0), "row 17: light is 9000; wanted 0 to 1600 W/m2"),
        ([row.replace("shortwave", "longwave") for row in open_meteo()], "no column shortwave_radiation"),
        ([*open_meteo()[:1], "x,0.0"], "row 2 has no latitude, longitude and utc_offset_seconds"),
        ([*level()[:20], "20160101:0010,0,0,0,0,0,0,0"], "its time is not after the row before it"),
        ([row.replace("Gb(i)", "Gb(n)") for row in level()], "no light in"),
        ([*level()[:12], "1.1.2016,0"], "wanted a time such as 20160101:0010"),
    ],
)
def test_what_cannot_be_read_is_refused_by_row(lines: list[str], said: str) -> None:
    with pytest.raises(LogError) as refused:
        weather_record(lines, "a.csv", 0)
    assert said in str(refused.value)


def plan() -> YearPlan:
    c = sites.configuration()
    return year_plan(c.site, c.chip, c.rules, 2026, c.light_cell)


def test_a_wrong_zone_is_refused() -> None:
    right = weather_record(epw_lines(0.3), "meadow.epw", 0)
    measured_means(right, plan())
    wrong = [row.replace(",0.0,1.0,20.0", ",0.0,2.0,20.0") for row in epw_lines(0.3)]
    with pytest.raises(LogError, match=r"the light's middle of the day lies -\d\d min from the Sun's"):
        measured_means(weather_record(wrong, "meadow.epw", 0), plan())


def test_gaps_are_counted() -> None:
    rows = open_meteo()
    rows[10] = rows[10].split(",")[0] + ",,"
    assert weather_record(rows, "meteo.csv", 0).missing_share == pytest.approx(1 / 24)


def made_year(clearness: Floats) -> Record:
    """Days of known clearness at 52.3 N: the clear sky's course scaled to the day's sum."""
    from sunsched.hardware.solar_input import extraterrestrial_kwh

    minutes = FIRST + np.arange(365 * 24) * 60 + 30
    course = clear_lux(minutes).reshape(365, 24)
    kwh = course.sum(axis=1) / LUX_PER_W_M2 / 1000
    wanted = clearness * extraterrestrial_kwh(52.3, np.arange(1, 366))
    return Record(minutes.astype(np.float64), (course * (wanted / kwh)[:, None]).ravel(), 60.0, None, "made")


def test_clearness_and_memory_come_back_from_made_days() -> None:
    from sunsched.study.weather import daily_clearness

    drawn = daily_clearness((0.3, 0.35, 0.4, 0.4, 0.45, 0.45, 0.45, 0.45, 0.4, 0.35, 0.3, 0.28), 1, 5, 0.5)[0]
    found = measured_climate(made_year(drawn), 52.3, 0.0)
    assert found.clearness[5] == pytest.approx(drawn[151:181].mean(), abs=0.002)
    # the correlation of these very days about their months' means, and its range over the true 0.475
    assert found.memory_low < 0.475 < found.memory_high
    assert found.n_days > 350


def test_a_month_without_whole_days_is_refused() -> None:
    short = made_year(np.full(365, 0.4))
    cut = Record(short.utc_min[: 24 * 200], short.lux[: 24 * 200], 60.0, None, "short")
    with pytest.raises(LogError, match="month 7 has 19 whole days"):
        measured_climate(cut, 52.3, 0.0)
