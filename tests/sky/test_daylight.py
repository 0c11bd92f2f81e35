"""Clear-sky light and refraction: tests/authorities/illuminance.csv, and values named above each check."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from sunsched.base.errors import RangeError
from sunsched.sky import daylight
from sunsched.sky.crossings import altitude_crossings
from tests.sky.authority_rows import rows

COEFFICIENT_COLUMNS = ("L0", "L1", "L2", "L3")


def published(source_id: str, quantity: str) -> list[dict[str, str]]:
    return [
        row for row in rows("illuminance.csv") if row["source_id"] == source_id and row["quantity"].startswith(quantity)
    ]


def test_the_coefficients_are_the_published_ones() -> None:
    # Seidelmann (ed.) 1992, Explanatory Supplement, ground illumination, as read from two public codes
    found = 0
    for row in published("ES92", "coefficient L"):
        segment = list(daylight.SEGMENT_DEG).index(float(row["sun_altitude_deg"].split("..")[0]))
        column = COEFFICIENT_COLUMNS.index(row["quantity"].split()[-1])
        assert daylight.SEGMENT_LOG10_LUX[segment, column] == float(row["value"])
        found += 1
    assert found == daylight.SEGMENT_LOG10_LUX.size


def test_every_tabulated_illuminance() -> None:
    # evaluated from the published coefficients to five digits, rows ES92 of illuminance.csv
    table = published("ES92", "horizontal illuminance")
    altitude = [float(row["sun_altitude_deg"]) for row in table]
    assert len(table) == 30
    assert daylight.clear_sky_lux(altitude) == pytest.approx([float(row["value"]) for row in table], rel=1e-4)


def test_joins_jump_by_no_more_than_the_stated_error() -> None:
    # max_error_log10 of each cubic, Explanatory Supplement: 0.02 above -5 degrees, 0.01 below
    errors = [float(row["value"]) for row in published("ES92", "coefficient max_error")]
    joins = daylight.SEGMENT_DEG[1:]
    jump = np.log10(daylight.clear_sky_lux(joins) / daylight.clear_sky_lux(joins - 1e-9))
    assert min(errors) == 0.01
    assert np.abs(jump).max() < min(errors)


# Wikipedia, "Daylight", intensity in different conditions (secondary source); round figures, hence a factor two
@pytest.mark.parametrize(
    ("condition", "refracted_deg"),
    [("brightest sunlight", 90.0), ("bright sunlight", 60.0), ("sunrise or sunset on a clear day", 0.0)],
)
def test_order_of_magnitude_of_common_daylight(condition: str, refracted_deg: float) -> None:
    value = next(float(row["value"]) for row in published("WIKI-DAY", "") if row["condition"] == condition)
    assert value / 2.0 < daylight.clear_sky_lux(refracted_deg) < value * 2.0


# BSRN station Payerne, June 2016, one-minute global irradiance [W/m2], Vuilleumier & Felix; 95th percentile of each
# bin of altitude (clear minutes), at 108 lm/W (Littlefair 1988: 107 to 109). Compared with the bin's upper end.
@pytest.mark.parametrize(
    ("upper_deg", "clear_w_m2"),
    [(1.0, 12.1), (2.0, 17.0), (3.0, 24.0), (4.0, 41.1), (5.0, 55.0), (7.5, 88.4), (10.0, 124.0), (15.0, 189.65),
     (20.0, 286.0), (30.0, 454.0), (45.0, 701.4), (70.0, 1002.85)],
)  # fmt: skip
def test_measured_clear_sky_light(upper_deg: float, clear_w_m2: float) -> None:
    refracted = upper_deg + daylight.refraction_deg(upper_deg)
    ratio = clear_w_m2 * 108.0 / float(daylight.clear_sky_lux(refracted))
    # aerosol and the efficacy of a low Sun leave a third; a wrong cubic is out by more
    assert 0.65 < ratio < 1.35


# Janiczek & DeYoung 1987 (U.S. Naval Observatory Circular 171), values as quoted: another program, not these cubics
@pytest.mark.parametrize(("refracted_deg", "lux"), [(0.0, 984.0), (-4.0, 24.0), (-6.0, 3.0), (-12.0, 0.0049)])
def test_another_model_within_a_quarter_of_a_decade(refracted_deg: float, lux: float) -> None:
    assert abs(np.log10(daylight.clear_sky_lux(refracted_deg) / lux)) < 0.25


# Altitudes of round light levels, worked out once from the published cubics
@pytest.mark.parametrize(("lux", "altitude_deg"), [(100, -2.74), (30, -4.00), (10, -5.04), (3, -6.11), (1, -7.07)])
def test_altitude_of_round_levels(lux: float, altitude_deg: float) -> None:
    assert daylight.altitude_of_lux(lux) == pytest.approx(altitude_deg, abs=0.005)


def test_lux_and_altitude_undo_each_other() -> None:
    altitude = np.linspace(-17.99, 89.99, 4001)
    back = daylight.altitude_of_lux(daylight.clear_sky_lux(altitude))
    # the jumps at the joins hide 0.004 in log10, at most 0.06 degrees (at -12)
    near_join = np.abs(altitude[:, None] - daylight.SEGMENT_DEG).min(axis=1) < 0.1
    assert np.abs(back - altitude)[~near_join].max() < 1e-9
    assert np.abs(back - altitude).max() < 0.06


def test_below_18_degrees_the_light_no_longer_follows_the_sun() -> None:
    assert np.all(daylight.clear_sky_lux([-18.0, -30.0, -90.0]) == daylight.clear_sky_lux(-18.0))
    # full Moon, clear: 0.25 lux; starlight with air glow 0.002 (Wikipedia, "Daylight")
    assert daylight.clear_sky_lux(-18.0) < 0.002


# Saemundsson, Sky & Telescope 72 (1986) 70: 1.02 cot(h + 10.3/(h + 5.11)) arcmin, by hand at three altitudes;
# the almanac's 34' at the horizon holds for the apparent altitude 0
@pytest.mark.parametrize(
    ("airless_deg", "arcmin", "within"), [(0.0, 28.98, 0.01), (10.0, 5.41, 0.01), (45.0, 1.01, 0.01)]
)
def test_refraction_by_hand(airless_deg: float, arcmin: float, within: float) -> None:
    assert daylight.refraction_deg(airless_deg) * 60.0 == pytest.approx(arcmin, abs=within)


def test_refraction_of_a_sun_that_appears_on_the_horizon() -> None:
    # 34 arcmin by definition of sunrise, U.S. Naval Observatory; the formula has 34.4
    assert -daylight.airless_altitude_deg(0.0) * 60.0 == pytest.approx(34.0, abs=0.5)


# NOAA Solar Calculator, refraction below -0.575 degrees: -20.774 arcsec / tan(altitude)
@pytest.mark.parametrize("airless_deg", [-0.6, -1.0, -4.5, -6.0, -18.0])
def test_refraction_fades_below_the_horizon(airless_deg: float) -> None:
    noaa_deg = -20.774 / 3600.0 / np.tan(np.radians(airless_deg))
    assert daylight.refraction_deg(airless_deg) == pytest.approx(noaa_deg, rel=0.003)


def test_refraction_has_no_step_and_can_be_undone() -> None:
    altitude = np.arange(-89.0, 90.0, 0.01)
    refracted = altitude + daylight.refraction_deg(altitude)
    assert np.all(np.diff(refracted) > 0.0)
    assert np.diff(refracted).max() < 0.025
    assert np.abs(daylight.airless_altitude_deg(refracted) - altitude).max() < 1e-9


def test_depression_of_a_light_level_counts_refraction_once() -> None:
    for lux in (0.01, 1.0, 5.0, 10.0, 30.0, 400.0, 1500.0, 20_000.0):
        altitude = -daylight.depression_of_clear_sky_lux(lux)
        seen = altitude + float(daylight.refraction_deg(altitude))
        assert daylight.clear_sky_lux(seen) == pytest.approx(lux, rel=1e-9)


@pytest.mark.parametrize("lux", [0.0, -1.0, 1e-4, 2e5, float("nan")])
def test_light_that_no_clear_sky_gives_is_refused(lux: float) -> None:
    with pytest.raises(RangeError, match=r"lux; a clear sky gives 0\.00064 to 1\.288e\+05 lux$"):
        daylight.depression_of_clear_sky_lux(lux)


def test_an_altitude_beyond_the_zenith_is_refused() -> None:
    with pytest.raises(RangeError, match="beyond 90 degrees"):
        daylight.clear_sky_lux(90.5)


# Stated: a clear sky gives a level when the Sun passes the depression worked out for it; the crossing is good to 0.1 s
# (tests/sky/test_refinements.py), in which the light of dusk changes by less than 0.1 %.
@given(st.floats(0.01, 1000), st.floats(-55, 55), st.floats(-180, 180), st.integers(0, 364))
def test_light_at_a_time_is_the_level_whose_moment_it_is(lux: float, latitude: float, longitude: float, n: int) -> None:
    angle = -daylight.depression_of_clear_sky_lux(lux)
    found = altitude_crossings(20820 + n, 1, latitude, longitude, [angle])
    times = np.array([found.rise_utc_min[0, 0], found.set_utc_min[0, 0]])
    assume(not np.isnan(times).any())
    assert daylight.clear_sky_lux_at(times, latitude, longitude) == pytest.approx(lux, rel=1e-3)
    assert daylight.clear_sky_lux_at(times[:, None], latitude, longitude).shape == (2, 1)
