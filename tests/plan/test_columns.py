"""A plan's columns say what the plan says, day for day."""

from __future__ import annotations

import datetime as dt
from typing import Any

import numpy as np
from hypothesis import assume, given

from sunsched.base.civil_time import date_of, zone_of
from sunsched.base.errors import ConfigError
from sunsched.config.toml_file import validated
from sunsched.job.pipeline import plan_of
from sunsched.plan.columns import plan_columns
from sunsched.plan.reasons import Reason
from sunsched.plan.year import NO_MINUTE
from tests.support.strategies import configurations


@given(configurations())
def test_every_day_says_what_the_plan_says(table: dict[str, Any]) -> None:
    try:
        plan = plan_of(validated(table), 2028)
    except ConfigError:
        assume(False)
    day = plan_columns(plan)
    assert {len(column) for column in day.values()} == {366}
    assert day["date"].astype(str).tolist() == [date_of(number).isoformat() for number in plan.days.tolist()]
    for side, minutes, reasons in (
        ("open", plan.open_min, plan.open_reason),
        ("close", plan.close_min, plan.close_reason),
    ):
        shut = minutes == NO_MINUTE
        assert np.array_equal(np.isnan(day[f"{side}_min"]), shut)
        assert np.array_equal(np.isnat(day[f"{side}_utc"]), shut)
        assert np.array_equal(day[f"{side}_min"][~shut], minutes[~shut])
        assert day[f"{side}_reason"].tolist() == [Reason(reason).word for reason in reasons.tolist()]
    up = plan.open_min != NO_MINUTE
    assert np.array_equal(day["open_for_min"][up], (day["close_utc"] - day["open_utc"])[up] / np.timedelta64(60, "s"))


# By Python's own zoneinfo through `zone_of`, a time at a time: 28 March 2027 is the day on which summer time begins.
def test_civil_minutes_are_those_of_the_instants_and_the_zone() -> None:
    site = {"latitude_deg": 47.318, "longitude_deg": 8.949, "zone": "Europe/Zurich"}
    day = plan_columns(plan_of(validated({"site": site}), 2027))
    for row in (0, 85, 86, 87, 180, 303, 304, 364):
        for side in ("open", "close"):
            instant = day[f"{side}_utc"][row].astype("datetime64[m]").astype(np.float64)
            offset = zone_of("Europe/Zurich").utc_offset_min(np.array([instant]))[0]
            midnight = dt.date.fromisoformat(str(day["date"][row])).toordinal() - dt.date(1970, 1, 1).toordinal()
            assert day[f"{side}_civil_min"][row] == instant + offset - midnight * 1440


def test_they_are_copies_that_change_no_plan() -> None:
    site = {"latitude_deg": 47.318, "longitude_deg": 8.949, "zone": "Europe/Zurich"}
    plan = plan_of(validated({"site": site}), 2027)
    before = plan_columns(plan)
    for column in plan_columns(plan).values():
        column[:] = column[0]
    after = plan_columns(plan)
    assert all(np.array_equal(before[name], after[name]) for name in before)
