"""What holds for every plan, whatever the site and the rules."""

from __future__ import annotations

from typing import Any

import numpy as np
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from sunsched.base.civil_time import WEEKDAYS, weekday, year_days, zone_of
from sunsched.base.errors import ConfigError
from sunsched.config.toml_file import validated
from sunsched.job.pipeline import plan_of, span_of
from sunsched.plan.reasons import Reason
from sunsched.plan.rules import evening_minute
from sunsched.plan.year import NO_MINUTE, YearPlan
from tests.support.strategies import configurations

YEARS = st.sampled_from((2026, 2027, 2028))


def planned(table: dict[str, Any], year: int) -> YearPlan:
    """The plan, or the example is left out when the year is refused (a closing before its opening)."""
    try:
        return plan_of(validated(table, "drawn"), year)
    except ConfigError:
        assume(False)
        raise


def columns(plan: YearPlan) -> list[tuple[bool, NDArray[np.int16], NDArray[np.uint8], NDArray[np.float64]]]:
    """Morning and evening: minutes, reasons and the Sun's moment asked for."""
    return [
        (False, plan.open_min, plan.open_reason, plan.dawn_utc_min),
        (True, plan.close_min, plan.close_reason, plan.dusk_utc_min),
    ]


@given(configurations(), YEARS)
@settings(max_examples=40)
def test_a_door_never_moves_before_its_moment_and_at_most_a_minute_after(table: dict[str, Any], year: int) -> None:
    plan = planned(table, year)
    for _, minutes, reasons, sun in columns(plan):
        rows = reasons == Reason.TWILIGHT
        late_min = plan.utc_min(minutes)[rows] - sun[rows]
        # Minutes since 1970 carry 4e-9 min of rounding in a float64.
        assert np.all((late_min > -1e-6) & (late_min < 1 + 1e-6))


@given(configurations(), YEARS)
@settings(max_examples=40)
def test_evening_follows_morning_and_a_day_shut_has_neither(table: dict[str, Any], year: int) -> None:
    plan = planned(table, year)
    down = plan.open_min == NO_MINUTE
    assert np.array_equal(down, plan.close_min == NO_MINUTE)
    assert np.all(plan.close_min[~down] > plan.open_min[~down])
    stays_down = np.isin(plan.open_reason, (Reason.KEPT_IN, Reason.SHUT))
    assert np.array_equal(down, stays_down)


@given(configurations(), YEARS)
@settings(max_examples=40)
def test_limits_hold_in_civil_time_and_each_reason_is_true(table: dict[str, Any], year: int) -> None:
    plan = planned(table, year)
    zone = zone_of(plan.site.zone)
    for evening, minutes, reasons, sun in columns(plan):
        rules = table["evening" if evening else "morning"]
        up = minutes != NO_MINUTE
        times = plan.utc_min(minutes)
        for key, reason in (("not_before", Reason.NOT_BEFORE), ("not_after", Reason.NOT_AFTER)):
            limit = np.zeros(plan.n_days)
            for number, day in enumerate(WEEKDAYS):
                hours, quarter = map(int, rules.get(f"weekday_{key}", {}).get(day, rules[key]).split(":"))
                civil = hours * 60 + quarter
                at = zone.utc_min_of(plan.days, evening_minute(civil) if evening else civil)
                limit = np.where(weekday(plan.days) == number, at, limit)
            late_min = (times - limit)[up]
            assert np.all(late_min > -1e-6) if reason is Reason.NOT_BEFORE else np.all(late_min < 1e-6)
            assert np.all(np.abs((times - limit)[up & (reasons == reason)]) < 1e-6)
        by_weekday = up & (reasons == Reason.WEEKDAY)
        shifted = {k: v for k, v in rules.get("weekday_later_min", {}).items() if v}
        if by_weekday.any():
            assert shifted
        never = np.isnan(sun) & up
        assert not np.any(reasons[never] == Reason.TWILIGHT)
        assert np.all(np.isnan(sun[reasons == Reason.LIMIT]))


@given(configurations())
@settings(max_examples=15)
def test_a_leap_year_has_366_rows(table: dict[str, Any]) -> None:
    plan = planned(table, 2028)
    assert plan.n_days == 366
    assert (plan.first_day, plan.n_days) == year_days(2028)


@given(configurations(), st.randoms(use_true_random=False))
@settings(max_examples=25)
def test_the_order_of_sections_changes_nothing(table: dict[str, Any], random: Any) -> None:
    keys = list(table)
    random.shuffle(keys)
    one, other = planned(table, 2027), planned({key: table[key] for key in keys}, 2027)
    assert np.array_equal(one.open_min, other.open_min)
    assert np.array_equal(one.close_min, other.close_min)
    assert np.array_equal(one.open_reason, other.open_reason)
    assert one.warnings == other.warnings


@given(configurations(), st.integers(0, 330), st.integers(1, 30))
@settings(max_examples=25)
def test_a_few_days_are_the_same_alone_as_in_their_year(table: dict[str, Any], start: int, n_days: int) -> None:
    year = planned(table, 2027)
    few = span_of(validated(table, "drawn"), year.first_day + start, n_days)
    for whole, part in ((year.open_min, few.open_min), (year.close_min, few.close_min)):
        # In a span without winter the chip's offset differs, so times are compared, not minutes.
        assert np.array_equal(year.utc_min(whole)[start : start + n_days], few.utc_min(part), equal_nan=True)
