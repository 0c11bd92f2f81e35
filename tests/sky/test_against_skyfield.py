"""Whole site-years against Skyfield's own finder and, looser, against astral."""

from __future__ import annotations

import numpy as np
import pytest

from sunsched.base.civil_time import year_days
from sunsched.base.errors import RangeError
from sunsched.sky.crossings import altitude_crossings
from sunsched.sky.second_opinion import agreement, astral_events, skyfield_events
from tests.sky.skyfield_proof import Place, compared, faults, places

N_SAMPLE = 12


def test_a_sample_of_the_random_places() -> None:
    """Same set of events, within 1 s to 60 degrees of latitude and 2 s beyond: skyfield_proof.py has all 300."""
    n_events, n_grazing, wrong = 0, 0, []
    for place in places(N_SAMPLE):
        found = compared(place)
        wrong += faults(place, found)
        n_events += sum(result.apart_s.size for result in found)
        n_grazing += sum(result.grazing_utc_min.size for result in found)
    assert wrong == []
    assert n_events > 4000 * N_SAMPLE
    assert n_grazing < 0.001 * n_events


@pytest.mark.parametrize("latitude_deg", [52.0, -37.0, 0.0])
def test_accuracy_stated_for_the_solver(latitude_deg: float) -> None:
    place = Place(latitude_deg, 5.0, 2027, (0.8333, 6.0, 12.0, 18.0))
    assert max(result.worst_s for result in compared(place)) < 0.1


@pytest.mark.parametrize("latitude_deg", [69.65, -78.0])
def test_polar_days_have_no_events_in_either(latitude_deg: float) -> None:
    """Without its mask Skyfield would have one rising and one setting on each day."""
    place = Place(latitude_deg, 18.96, 2027, (0.8333, 6.0))
    found = compared(place)
    assert faults(place, found) == []
    assert all(0 < result.apart_s.size < 620 for result in found)


def test_the_comparison_notices_a_wrong_event() -> None:
    first, n = year_days(2027)
    ours = altitude_crossings(first, n, 52.0, 5.0, [-6.0])
    span = float(ours.midnight_utc_min[0]), float(ours.midnight_utc_min[-1])
    rises = ours.rise_utc_min.copy()
    rises[0, 100] += 3.0 / 60.0
    rises[0, 200] = np.nan
    result = agreement(ours._replace(rise_utc_min=rises), skyfield_events(*span, 52.0, 5.0, [-6.0]), 0)
    assert result.worst_s == pytest.approx(3.0, abs=0.1)
    assert result.only_ours.size == 0
    assert np.abs(result.only_theirs - ours.rise_utc_min[0, 200]).max() < 0.01
    assert result.only_theirs.size == 1


def test_parallax_shows() -> None:
    """8.794 arcsec (IAU 1976) move sunrise at 52 N by about 1.1 s; without it the comparison would miss 1 s."""
    first, n = year_days(2027)
    plain = altitude_crossings(first, n, 52.0, 5.0, [-0.8333])
    raised = altitude_crossings(first, n, 52.0, 5.0, [-0.8333 - 8.794 / 3600.0])
    later_s = (plain.rise_utc_min - raised.rise_utc_min) * 60.0
    assert 0.8 < later_s.min() < later_s.max() < 1.4


@pytest.mark.parametrize(("latitude_deg", "longitude_deg"), [(0.0, 37.0), (-33.9, 151.2), (40.0, -105.0), (52.0, 5.0)])
def test_astral_an_independent_formula(latitude_deg: float, longitude_deg: float) -> None:
    # astral 3.2, without the refraction that it would add to twilight: a short series after Meeus, 4 s found at worst
    first, n = year_days(2027)
    angles = [-0.8333, -6.0]
    ours = altitude_crossings(first, n, latitude_deg, longitude_deg, angles)
    span = float(ours.midnight_utc_min[0]), float(ours.midnight_utc_min[-1])
    theirs = astral_events(*span, latitude_deg, longitude_deg, angles)
    for k in range(2):
        result = agreement(ours, theirs, k)
        assert result.apart_s.size == 2 * n
        assert result.only_ours.size == result.only_theirs.size == 0
        assert result.worst_s < 6.0


def test_astral_is_not_asked_where_it_misplaces_events() -> None:
    with pytest.raises(RangeError, match=r"^latitude 60 degrees; astral is asked only up to 58$"):
        astral_events(0.0, 1.0, 60.0, 0.0, [-6.0])
