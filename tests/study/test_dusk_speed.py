"""Speed of dusk and dull evenings, worked by hand and by published light."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from sunsched.sky.daylight import clear_sky_lux, refraction_deg
from sunsched.study.block import judged, run_clear_block
from sunsched.study.flock import exact_flock
from sunsched.study.tally import year_figures
from sunsched.study.weather import clear_years
from tests.support import study_sites as sites

DATES = {"March": 79, "June": 171, "December": 354}  # rows of 2026: 21 March, 21 June, 21 December


def evening_of(row: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    half = sites.scene(sites.configuration(latitude_deg=52.0)).evening
    return half.altitude_deg[:, row].astype(float), half.clear_log[:, row].astype(float)


# Physics: minutes a degree = 60 / (15 cos(latitude) |sin azimuth|); near -4 degrees at 52 N 6.5 at the equinox, 7.8 in
# December, 9.6 in June (worked by hand).
@pytest.mark.parametrize(("month", "minutes"), [("March", 6.5), ("December", 7.8), ("June", 9.6)])
def test_minutes_a_degree(month: str, minutes: float) -> None:
    altitude, _ = evening_of(DATES[month])
    passed = [np.count_nonzero(altitude > angle) + _part(altitude, angle) for angle in (-3.5, -4.5)]
    # refraction below the horizon fades by 0.02 degrees over this degree: 2 %; the hand figures have two digits
    assert passed[1] - passed[0] == pytest.approx(minutes, rel=0.04)


def _part(altitude: NDArray[np.float64], angle: float) -> float:
    last = np.count_nonzero(altitude > angle) - 1
    return float((altitude[last] - angle) / (altitude[last] - altitude[last + 1]))


# Worked by hand: light down tenfold under an overcast sky closes 16 min early at the equinox, 20 in December, 24 in
# June, 52 N: 2.5 degrees a decade, the speed of dusk from 250 to 25 lux. Lower down a decade takes 2 degrees.
@pytest.mark.parametrize(("month", "minutes"), [("March", 16), ("December", 20), ("June", 24)])
def test_light_down_tenfold_closes_early(month: str, minutes: float) -> None:
    _, clear = evening_of(DATES[month])
    level = np.log10(25.0)  # 10 lux at a cell that sees 0.4 of the sky
    early = np.count_nonzero(clear >= level) - np.count_nonzero(clear >= level + 1)
    assert early == pytest.approx(minutes, abs=2)  # whole minutes, and the hand figures are rounded


def test_a_sky_dimmed_tenfold_moves_the_light_rule_by_as_much() -> None:
    c = sites.configuration(latitude_deg=52.0, cell=sites.NO_SPREAD.model_copy(update={"dark_lux": 10.0}))
    found = sites.scene(c)
    on = sites.stage(c, sites.settings(found, dark_lux=(10.0,)), found)
    # A tenfold dimming with the Sun below the horizon, where nine tenths of the attenuation count.
    dull = replace(clear_years(365, 1), evening_log=np.full((1, 365), -1 / 0.9))
    clear_closing = run_clear_block(on, 1).close_min[0]
    dull_block = judged(on, dull, exact_flock(6, 1, 365), None)
    early = clear_closing - dull_block.close_min[0]
    for month, minutes in (("March", 16), ("December", 20), ("June", 24)):
        assert early[DATES[month]] == pytest.approx(minutes, abs=2)
    shifts = year_figures(dull_block).shift_counts
    assert shifts.sum() == 365


# Explanatory Supplement's cubics as evaluated elsewhere: refracted altitudes of 100, 30, 10, 3 and 1 lux.
@pytest.mark.parametrize(("lux", "altitude"), [(100, -2.74), (30, -4.00), (10, -5.04), (3, -6.11), (1, -7.07)])
def test_light_at_dusk_is_the_published_one(lux: float, altitude: float) -> None:
    assert float(clear_sky_lux(altitude)) == pytest.approx(lux, rel=0.02)  # altitudes to 0.01 degrees: 1 %
    assert float(refraction_deg(altitude)) < 0.15
