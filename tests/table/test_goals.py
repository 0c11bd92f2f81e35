"""The sizes that the layouts are for: real dawns and dusks at 6 degrees of depression, no limits, longitude 0."""

from __future__ import annotations

import pytest

from sunsched.plan.planning import year_plan
from sunsched.plan.rules import MomentRule, Rules, Warn
from sunsched.plan.site import Chip, Site
from sunsched.plan.year import YearPlan
from sunsched.table.choose import choose
from sunsched.table.layout import CODECS

RULES = Rules(morning=MomentRule(twilight="civil"), evening=MomentRule(twilight="civil"), warn=Warn(least_shut_min=0))


def plan(latitude_deg: float, year: int) -> YearPlan:
    site = Site(name="Goal", latitude_deg=latitude_deg, longitude_deg=0, zone="UTC")
    return year_plan(site, Chip(keeps="utc"), RULES, year)


# The limits are this project's own goals: 64 bytes of data, 144 of decoder, 192 together.
@pytest.mark.parametrize("latitude_deg", [0, 35, 45, 52, 55])
def test_an_exact_year_takes_64_bytes(latitude_deg: float) -> None:
    table = choose([plan(latitude_deg, 2028)], RULES, layout=CODECS["curves"])
    assert table.worst_error_min == 0
    assert table.data_bytes <= 64
    assert table.decoder_bytes <= 144
    assert table.data_bytes + table.decoder_bytes <= 192


@pytest.mark.parametrize("latitude_deg", [0, 52, 60])
def test_21_years_within_a_minute_take_64_bytes(latitude_deg: float) -> None:
    plans = [plan(latitude_deg, year) for year in range(2027, 2048)]
    table = choose(plans, RULES, worst_error_min=1)
    assert table.worst_error_min == 1
    assert table.data_bytes <= 64
    assert table.decoder_bytes <= 140
