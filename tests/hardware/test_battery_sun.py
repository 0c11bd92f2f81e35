"""The Sun on the panel against published examples, a reference library and two stations' hourly data."""

from __future__ import annotations

import csv
import os
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from sunsched.base.errors import RangeError
from sunsched.hardware import solar_input as sun
from sunsched.hardware.battery import SKY_MODEL
from sunsched.study.weather import daily_clearness
from tests.support.later import Later

if TYPE_CHECKING:
    import pandas
    import pvlib
else:
    pandas = Later("pandas")
    pvlib = Later("pvlib")

DAYS = np.arange(1, 366)
AUTHORITIES = Path(__file__).parent.parent / "authorities"
SOUTH = sun.Panel(0.0, 180.0)


# pvlib's own coding of the same series (Spencer 1971): equal to rounding.
def test_declination_and_distance_are_the_published_series() -> None:
    theirs = np.degrees(pvlib.solarposition.declination_spencer71(DAYS))
    assert sun.declination_deg(DAYS) == pytest.approx(theirs, abs=1e-9)
    extra = pvlib.irradiance.get_extra_radiation(pandas.Series(DAYS), solar_constant=1.0, method="spencer")
    assert sun.distance_factor(DAYS) == pytest.approx(np.asarray(extra), abs=1e-6)


# Duffie & Beckman, example 1.6.1: 13 February (day 44), -14 deg; example 2.11.1: 3 September (day 246), 7 deg, sunset
# at 95.6 deg for 38.6 N [from memory]
def test_declination_and_sunset_of_the_worked_examples() -> None:
    assert sun.declination_deg(44) == pytest.approx(-14, abs=0.5)
    assert sun.declination_deg(246) == pytest.approx(7, abs=1.0)  # theirs is Cooper's sine: 0.9 deg apart in autumn
    assert sun.sunset_hour_angle_deg(38.6, 7.0) == pytest.approx(95.6, abs=0.1)


# Duffie & Beckman, example 1.10.1: 43 N on 15 April (day 105), H0 = 33.8 MJ/m2; example 2.11.1: 38.6 N on 3 September,
# 33.3 MJ/m2 [from memory]. 1 %: their solar constant is 1367 W/m2 and their declination Cooper's.
@pytest.mark.parametrize(("latitude_deg", "day", "mj"), [(43.0, 105, 33.8), (38.6, 246, 33.3)])
def test_irradiation_above_the_air_of_the_worked_examples(latitude_deg: float, day: int, mj: float) -> None:
    assert 3.6 * sun.extraterrestrial_kwh(latitude_deg, [day])[0] == pytest.approx(mj, rel=0.01)


# pvlib: get_extra_radiation (NREL SPA distance) times the cosine of its solar zenith, every 5 min through the day.
# 2.5 % or 0.08: the series' declination is up to 0.5 deg off the real one near the equinoxes.
@pytest.mark.parametrize("latitude_deg", [0.0, 36.1, 52.0, 60.0, 69.65, -43.5])
def test_irradiation_above_the_air_against_the_reference_library(latitude_deg: float) -> None:
    for date in ("2027-01-15", "2027-03-21", "2027-06-21", "2027-10-10", "2027-12-10"):
        times = pandas.date_range(f"{date} 00:02:30", periods=288, freq="5min", tz="UTC")
        zenith = pvlib.solarposition.get_solarposition(times, latitude_deg, 0.0)["zenith"].to_numpy()
        normal = np.asarray(pvlib.irradiance.get_extra_radiation(times, solar_constant=1361.0, method="nrel"))
        theirs = (normal * np.maximum(0.0, np.cos(np.radians(zenith)))).sum() / 12.0 / 1000.0
        day = pandas.Timestamp(date).day_of_year
        ours = sun.extraterrestrial_kwh(latitude_deg, [day])[0]
        assert ours == pytest.approx(theirs, rel=0.025, abs=0.08), (latitude_deg, date)


# By hand, 52 N on 10 December [physics]: H0 = 1.80 kWh/m2 with Cooper's declination and 1367 W/m2; 3 %: ours is
# Spencer's and 1361. K 0.30 (user's input), Erbs and Liu-Jordan: 0.54 flat, 0.99 at 30 deg, 1.25 at 75 deg.
def test_the_winter_panel_worked_by_hand() -> None:
    above = sun.extraterrestrial_kwh(52.0, [344])[0]
    assert above == pytest.approx(1.80, rel=0.03)
    assert 0.30 * above == pytest.approx(0.54, rel=0.03)
    for tilt_deg, kwh in ((30.0, 0.99), (75.0, 1.25)):
        year = sun.panel_year(sun.Panel(tilt_deg, 180.0), 52.0, 365)
        share = float(sun.monthly_diffuse_share(0.30, year.sunset_deg[343]))
        factor = (1 - share) * year.beam[343] + share * year.sky + 0.2 * year.ground_per_reflectance
        assert 0.30 * year.level_kwh[343] * factor == pytest.approx(kwh, rel=0.03)


# The same place and month by the daily relation over 400 drawn years: a month of mixed days is within 8 % of the
# monthly relation of the same authors (Erbs, Klein & Duffie 1982).
@pytest.mark.parametrize(("latitude_deg", "clearness"), [(52.0, 0.30), (36.1, 0.45)])
@pytest.mark.parametrize("tilt_deg", [30.0, 75.0])
def test_drawn_days_agree_with_the_monthly_relation(latitude_deg: float, clearness: float, tilt_deg: float) -> None:
    drawn = daily_clearness([clearness] * 12, 400, 3)
    year = sun.panel_year(sun.Panel(tilt_deg, 180.0), latitude_deg, 365)
    december = slice(334, 365)
    by_day = sun.panel_kwh(year, drawn, 0.2)[:, december].mean()
    share = sun.monthly_diffuse_share(clearness, year.sunset_deg[december])
    beam = (1 - share) * year.beam[december] + share * year.sky + 0.2 * year.ground_per_reflectance
    by_month = (clearness * year.level_kwh[december] * beam).mean()
    assert by_day == pytest.approx(by_month, rel=0.08)


# Duffie & Beckman, example 2.11.1: H/H0 = 0.69 in September gives a diffuse share of 0.26 [from memory]
def test_diffuse_share_of_the_worked_example() -> None:
    assert sun.diffuse_share(0.69, 95.6) == pytest.approx(0.26, abs=0.01)


# Erbs, Klein & Duffie 1982: the winter and summer relations end at 0.143 and 0.175 for clear days, start at 1 for
# dull ones, and join within 0.02 [public: Duffie & Beckman, eq. 2.11.1]
def test_diffuse_share_at_its_ends() -> None:
    for sunset_deg, most, end in ((60.0, 0.715, 0.143), (100.0, 0.722, 0.175)):
        assert sun.diffuse_share(0.0, sunset_deg) == pytest.approx(1.0, abs=0.001)
        assert sun.diffuse_share(0.8, sunset_deg) == end
        assert sun.diffuse_share(most - 1e-9, sunset_deg) == pytest.approx(end, abs=0.02)


@given(st.floats(0, 0.85), st.floats(0, 180))
def test_a_share_is_a_share(clearness: float, sunset_deg: float) -> None:
    # physics: between 0 and 1
    assert 0.0 <= float(sun.diffuse_share(clearness, sunset_deg)) <= 1.0


# Liu & Jordan 1962 for a panel that faces the equator: closed form (Duffie & Beckman, eq. 2.19.3). 1 %: the sum takes
# whole 5-minute steps at sunrise.
@pytest.mark.parametrize("latitude_deg", [20.0, 36.1, 52.0])
@pytest.mark.parametrize("tilt_deg", [30.0, 60.0, 75.0])
def test_beam_factor_is_the_closed_form(latitude_deg: float, tilt_deg: float) -> None:
    lat, tilted, dec = (
        np.radians(latitude_deg),
        np.radians(latitude_deg - tilt_deg),
        np.radians(sun.declination_deg(DAYS)),
    )
    on_level = np.arccos(-np.tan(lat) * np.tan(dec))
    on_panel = np.minimum(on_level, np.arccos(-np.tan(tilted) * np.tan(dec)))

    def day_sum(angle: float, until: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.asarray(np.cos(angle) * np.cos(dec) * np.sin(until) + until * np.sin(angle) * np.sin(dec))

    published = day_sum(tilted, on_panel) / day_sum(lat, on_level)
    assert sun.beam_factor(sun.Panel(tilt_deg, 180.0), latitude_deg, DAYS) == pytest.approx(published, rel=0.01)


# Duffie & Beckman, example 2.19.1: Madison, 43 N, tilt 60 deg, January: Rb = 2.79 [from memory]; mean day is 17 January
def test_beam_factor_of_the_worked_example() -> None:
    assert sun.beam_factor(sun.Panel(60.0, 180.0), 43.0, [17])[0] == pytest.approx(2.79, rel=0.02)


# pvlib: angle of incidence and solar position every 5 min, the beam following the extraterrestrial Sun; 3 % or 0.03,
# again for the declination of the series
@pytest.mark.parametrize(
    ("latitude_deg", "tilt_deg", "azimuth_deg"), [(52, 60, 120), (52, 75, 250), (-43.5, 45, 0), (60, 90, 90)]
)
def test_beam_factor_for_any_azimuth_against_the_reference_library(
    latitude_deg: float, tilt_deg: int, azimuth_deg: int
) -> None:
    for date in ("2027-01-15", "2027-04-20", "2027-06-21", "2027-10-10"):
        times = pandas.date_range(f"{date} 00:02:30", periods=288, freq="5min", tz="UTC")
        place = pvlib.solarposition.get_solarposition(times, latitude_deg, 0.0)
        up = place["zenith"].to_numpy() < 90.0
        cosine = pvlib.irradiance.aoi_projection(tilt_deg, azimuth_deg, place["zenith"], place["azimuth"])
        on_panel = np.where(up, np.maximum(0.0, cosine), 0.0).sum()
        theirs = on_panel / np.where(up, np.cos(np.radians(place["zenith"])), 0.0).sum()
        day = pandas.Timestamp(date).day_of_year
        ours = sun.beam_factor(sun.Panel(tilt_deg, azimuth_deg), latitude_deg, [day])[0]
        assert ours == pytest.approx(theirs, rel=0.03, abs=0.03), date


# pvlib's isotropic sky and its ground reflection; 0.2 % for the sum over patches
@pytest.mark.parametrize("tilt_deg", [0.0, 30.0, 60.0, 90.0])
def test_sky_and_ground_are_those_of_the_reference_library(tilt_deg: float) -> None:
    assert sun.sky_share(sun.Panel(tilt_deg, 180.0)) == pytest.approx(
        pvlib.irradiance.isotropic(tilt_deg, 1.0), abs=0.002
    )
    ground = pvlib.irradiance.get_ground_diffuse(tilt_deg, 1.0, albedo=1.0)
    assert sun.panel_year(sun.Panel(tilt_deg, 180.0), 52.0, 365).ground_per_reflectance == pytest.approx(ground)


def station(
    file_name: str,
) -> tuple[pandas.DataFrame, dict[str, float], pandas.DatetimeIndex, NDArray[np.int32]]:
    """A typical year of hourly data shipped with pvlib: table, latitude, middle of each hour, day of each hour."""
    folder = os.path.join(os.path.dirname(pvlib.solarposition.__file__), "data")
    table, about = pvlib.iotools.read_tmy3(os.path.join(folder, file_name), coerce_year=1990, map_variables=True)
    middle = table.index - pandas.Timedelta("30min")
    return table, about, middle, middle.day_of_year.to_numpy()


def by_day(hourly: NDArray[np.float64] | NDArray[np.int64], day: NDArray[np.int32]) -> NDArray[np.float64]:
    return np.bincount(day, np.nan_to_num(hourly), minlength=367)[1:366] / 1000.0


# NREL TMY3, Greensboro 36.1 N and Sand Point 55.3 N, shipped with pvlib; tilted hour by hour by pvlib (isotropic sky)
# from measured beam and diffuse. Found: year -1 % and -8 %, months -18 % to +8 %: the cloudy coast is under-rated,
# which errs to the careful side; turned away from the south months run to +12 %. The printed range of -10..+20 % on the
# truth holds that.
@pytest.mark.parametrize(
    ("file_name", "tilt_deg", "azimuth_deg", "year_low", "year_high", "month_low", "month_high"),
    [
        ("723170TYA.CSV", 60, 180, 0.98, 1.0, 0.95, 1.08),
        ("723170TYA.CSV", 60, 120, 1.04, 1.07, 1.0, 1.13),
        ("703165TY.csv", 60, 180, 0.91, 0.93, 0.81, 1.0),
        ("703165TY.csv", 60, 120, 0.98, 1.0, 0.83, 1.08),
    ],
)
def test_panel_irradiation_against_hourly_data(
    file_name: str,
    tilt_deg: int,
    azimuth_deg: int,
    year_low: float,
    year_high: float,
    month_low: float,
    month_high: float,
) -> None:
    table, about, middle, day = station(file_name)
    place = pvlib.solarposition.get_solarposition(middle, about["latitude"], about["longitude"])
    theirs = pvlib.irradiance.get_total_irradiance(
        tilt_deg,
        azimuth_deg,
        place["apparent_zenith"].to_numpy(),
        place["azimuth"].to_numpy(),
        table["dni"].to_numpy(),
        table["ghi"].to_numpy(),
        table["dhi"].to_numpy(),
        albedo=0.2,
        model="isotropic",
    )["poa_global"]
    theirs = by_day(theirs, day)
    clearness = by_day(table["ghi"].to_numpy(), day) / sun.extraterrestrial_kwh(about["latitude"], DAYS)
    ours = sun.panel_kwh(sun.panel_year(sun.Panel(tilt_deg, azimuth_deg), about["latitude"], 365), clearness, 0.2)
    assert year_low < ours.sum() / theirs.sum() < year_high
    months = sun.monthly_mean(ours) / sun.monthly_mean(theirs)
    assert month_low < months.min() and months.max() < month_high


# The same two tables tilted by pvlib with the sky of Perez et al. 1990, brighter towards the Sun and the horizon. An
# independent check found 1.24 to 1.39 times the tool in winter; the printed range on the truth must hold it.
@pytest.mark.parametrize("file_name", ["723170TYA.CSV", "703165TY.csv"])
@pytest.mark.parametrize("tilt_deg", [45, 60, 75])
def test_the_sky_models_range_holds_the_winter_of_a_brighter_sky(file_name: str, tilt_deg: int) -> None:
    table, about, middle, day = station(file_name)
    place = pvlib.solarposition.get_solarposition(middle, about["latitude"], about["longitude"])
    extra = pvlib.irradiance.get_extra_radiation(pandas.Series(day))
    theirs = pvlib.irradiance.get_total_irradiance(
        tilt_deg,
        180,
        place["apparent_zenith"].to_numpy(),
        place["azimuth"].to_numpy(),
        table["dni"].to_numpy(),
        table["ghi"].to_numpy(),
        table["dhi"].to_numpy(),
        dni_extra=np.asarray(extra),
        airmass=np.asarray(pvlib.atmosphere.get_relative_airmass(place["apparent_zenith"])),
        albedo=0.2,
        model="perez",
    )["poa_global"]
    clearness = by_day(table["ghi"].to_numpy(), day) / sun.extraterrestrial_kwh(about["latitude"], DAYS)
    ours = sun.panel_kwh(sun.panel_year(sun.Panel(tilt_deg, 180.0), about["latitude"], 365), clearness, 0.2)
    months = sun.monthly_mean(by_day(theirs, day)) / sun.monthly_mean(ours)
    winter = months[[10, 11, 0, 1]]
    assert SKY_MODEL.low < winter.min() and winter.max() < SKY_MODEL.high
    assert winter.max() > 1.0


# Monthly means of the same Greensboro table, computed apart from this code: authorities/monthly_ghi_kwh_m2_day.csv
def test_monthly_clearness_gives_back_the_monthly_sun() -> None:
    with (AUTHORITIES / "monthly_ghi_kwh_m2_day.csv").open(newline="") as file:
        rows = list(csv.DictReader(file))
    measured = [float(row["ghi_kwh_m2_day_horizontal"]) for row in rows]
    table, about, _, day = station("723170TYA.CSV")
    assert sun.monthly_mean(by_day(table["ghi"].to_numpy(), day)) == pytest.approx(measured, abs=0.02)
    clearness = sun.monthly_clearness(about["latitude"], measured)
    assert np.all((clearness > 0.4) & (clearness < 0.6))
    # the station's own H0 column (NREL's solar position), 1.5 %
    above = sun.monthly_mean(by_day(table["ghi_extra"].to_numpy(), day))
    assert clearness == pytest.approx(np.asarray(measured) / above, rel=0.015)


# Physics: hills never add beam or sky; a ring of hills up to the zenith leaves nothing.
def test_hills_only_take_away() -> None:
    open_ground = sun.Panel(60.0, 180.0)
    hills = sun.Panel(60.0, 180.0, (90.0, 180.0, 270.0), (5.0, 12.0, 0.0))
    assert np.all(sun.beam_factor(hills, 52.0, DAYS) <= sun.beam_factor(open_ground, 52.0, DAYS) + 1e-12)
    assert sun.sky_share(hills) < sun.sky_share(open_ground)
    # at 52 N on 21 December the Sun stands 14.6 deg high at noon: 20 deg of hill take all beam
    ring = sun.Panel(60.0, 180.0, (0.0,), (20.0,))
    assert sun.beam_factor(ring, 52.0, [355])[0] == 0.0
    assert sun.beam_factor(ring, 52.0, [172])[0] > 0.0


# Physics: hills of `a` degrees all round leave cos^2(a) of the sky to a level panel.
@pytest.mark.parametrize("hill_deg", [10.0, 25.0, 45.0])
def test_a_ring_of_hills_takes_the_published_share_of_sky(hill_deg: float) -> None:
    ring = sun.Panel(0.0, 180.0, (0.0,), (hill_deg,))
    assert sun.sky_share(ring) == pytest.approx(np.cos(np.radians(hill_deg)) ** 2, abs=0.02)


# Astronomy: the Sun stays down at 69.65 N from 27 November to 15 January and up from 18 May; no division by nothing
def test_polar_night_and_day() -> None:
    above = sun.extraterrestrial_kwh(69.65, DAYS)
    assert above[354] == 0.0 and above[171] > 11.0
    factor = sun.beam_factor(sun.Panel(75.0, 180.0), 69.65, DAYS)
    assert factor[354] == 0.0 and np.all(np.isfinite(factor))
    assert sun.sunset_hour_angle_deg(69.65, -23.4) == 0.0 and sun.sunset_hour_angle_deg(69.65, 23.4) == 180.0
    assert np.isnan(sun.monthly_clearness(75.0, [1.0] * 12)[11])


def test_finer_hours_change_nothing() -> None:
    # four times as many steps, hills and all
    panel = sun.Panel(60.0, 150.0, (100.0, 160.0, 220.0), (8.0, 3.0, 10.0))
    coarse, fine = (sun.beam_factor(panel, 52.0, DAYS, steps) for steps in (sun.HOUR_STEPS, 4 * sun.HOUR_STEPS))
    assert coarse == pytest.approx(fine, rel=0.02, abs=0.02)
    plain = sun.Panel(60.0, 150.0)
    coarse, fine = (sun.beam_factor(plain, 52.0, DAYS, steps) for steps in (sun.HOUR_STEPS, 4 * sun.HOUR_STEPS))
    assert coarse == pytest.approx(fine, rel=0.01)


def test_clearness_outside_its_range_is_refused() -> None:
    year = sun.panel_year(SOUTH, 52.0, 365)
    with pytest.raises(RangeError, match=r"^clearness runs from 0\.3 to 1\.2; wanted 0 to 0\.85$"):
        sun.panel_kwh(year, np.r_[np.full(364, 0.3), 1.2], 0.2)
    with pytest.raises(RangeError, match=r"^n_days is 364; wanted 365 or 366$"):
        sun.month_of_row(364)
