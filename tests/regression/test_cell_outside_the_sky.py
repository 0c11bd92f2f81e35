"""A cell that sees very little sky, or one set to very little light, stopped the plan with a bare range of lux.

The clear sky's light is known from 0.00065 to 128,800 lux. What a cell asks for beyond that is never said to be
expected; the minutes do not depend on it.
"""

from __future__ import annotations

import numpy as np
import pytest

from sunsched.config.toml_file import validated
from sunsched.job.pipeline import plan_of

SITE = {"latitude_deg": 52.1, "longitude_deg": 5.2, "zone": "Europe/Amsterdam"}


def test_light_above_the_brightest_sky_is_never_expected() -> None:
    plan = plan_of(validated({"site": SITE, "light_cell": {"light_lux": 500.0, "sky_view": 0.01}}, "x"), 2027)
    assert not plan.light_expected.any()
    assert plan.dark_expected.all()


def test_dark_below_the_darkest_sky_is_never_expected() -> None:
    plan = plan_of(validated({"site": SITE, "light_cell": {"dark_lux": 0.001, "sky_view": 1.0}}, "x"), 2027)
    assert not plan.dark_expected.any()
    assert plan.light_expected.all()


# 2000 lux / 0.001 / 10 = 200,000 lux: darker than that is every night, white ones too.
def test_dark_above_the_brightest_sky_is_always_expected() -> None:
    cell = {"dark_lux": 2000.0, "light_lux": 2500.0, "sky_view": 0.001}
    assert plan_of(validated({"site": SITE, "light_cell": cell}, "x"), 2027).dark_expected.all()


@pytest.mark.parametrize("sky_view", [0.001, 0.01, 0.1, 1.0])
def test_the_minutes_do_not_depend_on_the_cell(sky_view: float) -> None:
    plain = plan_of(validated({"site": SITE}, "x"), 2027)
    other = plan_of(validated({"site": SITE, "light_cell": {"sky_view": sky_view}}, "x"), 2027)
    assert np.array_equal(plain.open_min, other.open_min)
    assert np.array_equal(plain.close_min, other.close_min)
