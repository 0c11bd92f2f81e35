"""Sites planned together: each plan is the one that the site gets by itself, and a refused site refuses no other."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sunsched.base.errors import ConfigError, RangeError
from sunsched.plan.planning import SITES_AT_ONCE, year_plan, year_plans
from sunsched.plan.rules import MomentRule, Rules
from sunsched.plan.site import Chip, Site
from sunsched.plan.year import YearPlan
from sunsched.sky.crossings import altitude_crossings, crossings_of_places

YEAR = 2027
ZONES = (("Europe/Zurich", 8.0), ("America/Chicago", -88.0), ("Pacific/Auckland", 174.0))


def site(latitude_deg: float, zone: str = "Europe/Zurich", longitude_deg: float = 8.0, **more: object) -> Site:
    return Site.model_validate(
        {"name": "x", "latitude_deg": latitude_deg, "longitude_deg": longitude_deg, "zone": zone, **more}
    )


def same(plan: YearPlan, other: YearPlan) -> bool:
    """All the same; the Sun's own moments but for the last bits, which may hang on a column's place in a register."""
    pairs = ((getattr(plan, f.name), getattr(other, f.name)) for f in dataclasses.fields(YearPlan))
    return all(
        a == b
        if not isinstance(a, np.ndarray)
        else np.allclose(a, b, rtol=0, atol=1e-8, equal_nan=True)
        if a.dtype.kind == "f"
        else np.array_equal(a, b)
        for a, b in pairs
    )


@settings(max_examples=8)
@given(st.lists(st.tuples(st.floats(-50, 50), st.sampled_from(ZONES)), min_size=1, max_size=SITES_AT_ONCE + 2))
def test_together_and_alone_are_the_same_plan(places: list[tuple[float, tuple[str, float]]]) -> None:
    sites = [site(latitude_deg, *zone) for latitude_deg, zone in places]
    rules, chip = Rules(), Chip()
    plans = year_plans(sites, chip, rules, YEAR)
    assert len(plans) == len(sites)
    for one, plan in zip(sites, plans, strict=True):
        assert isinstance(plan, YearPlan)
        assert same(plan, year_plan(one, chip, rules, YEAR))


HILLS = ({"azimuth_deg": 90.0, "altitude_deg": 8.0}, {"azimuth_deg": 270.0, "altitude_deg": 3.0})


def test_each_has_its_own_horizon() -> None:
    rules = Rules(morning=MomentRule(twilight="sunrise"))
    sites = [site(47.0), site(47.0, skyline=HILLS), site(47.0, height_above_horizon_m=300.0)]
    plans = year_plans(sites, Chip(), rules, YEAR)
    assert len({plan.open_min.tobytes() for plan in plans if isinstance(plan, YearPlan)}) == 3
    for one, plan in zip(sites, plans, strict=True):
        assert isinstance(plan, YearPlan) and same(plan, year_plan(one, Chip(), rules, YEAR))


def test_one_that_is_refused_refuses_no_other() -> None:
    odd = site(47.0, longitude_deg=-170.0)  # solar noon at night on this zone's clock
    sites = [site(47.0), odd, site(46.0, skyline=HILLS), site(69.0), site(52.0)]
    plans = year_plans(sites, Chip(), Rules(), YEAR)
    for one, plan in zip(sites, plans, strict=True):
        if isinstance(plan, YearPlan):
            assert same(plan, year_plan(one, Chip(), Rules(), YEAR))
            continue
        with pytest.raises((ConfigError, RangeError)) as refused:
            year_plan(one, Chip(), Rules(), YEAR)
        assert str(refused.value) == str(plan)
    assert [isinstance(plan, YearPlan) for plan in plans] == [True, False, True, False, True]


def test_crossings_of_places_are_those_of_each() -> None:
    latitudes, longitudes, first = [-45.0, 0.0, 60.0], [170.0, -60.0, 25.0], [20_000, 20_001, 19_990]
    angles = [-12.0, -0.8]
    together = crossings_of_places(first, 30, latitudes, longitudes, angles)
    for n, place in enumerate(zip(latitudes, longitudes, strict=True)):
        alone = altitude_crossings(first[n], 30, *place, angles)
        for name, column in alone._asdict().items():
            found = getattr(together, name)
            part = found[n] if name == "midnight_utc_min" else found[..., 30 * n : 30 * (n + 1)]
            # a microsecond, see `same`
            np.testing.assert_allclose(part, column, rtol=0, atol=1e-8)
    with pytest.raises(RangeError, match="latitude 91"):
        crossings_of_places([20_000, 20_000], 3, [0.0, 91.0], [0.0, 0.0], angles)
