"""A weekday's own limit, in place of the limit of every day; a weekday's shift that a limit swallows is told."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sunsched.base.civil_time import WEEKDAYS, date_of, weekday
from sunsched.base.errors import ConfigError
from sunsched.config.sample import Answers, text
from sunsched.config.toml_file import parsed, validated
from sunsched.job.pipeline import plan_of
from sunsched.plan.reasons import Reason
from sunsched.plan.rules import Rules
from sunsched.plan.year import YearPlan
from sunsched.report.page.sections import rule_words
from sunsched.report.pictures.nights import limit_lines
from sunsched.table.rule_block import applied, groups

VIENNA = {"latitude_deg": 48.2, "longitude_deg": 16.3, "zone": "Europe/Vienna"}


def plan(morning: dict[str, Any], year: int = 2027, **more: Any) -> YearPlan:
    """A year in Vienna, with these rules."""
    return plan_of(validated({"site": VIENNA, "morning": morning, **more}), year)


def of_weekdays(found: YearPlan, *days: int) -> Any:
    """The rows of some weekdays, Monday 0."""
    return np.isin(weekday(found.days), days)


def test_a_lie_in_that_the_limit_swallows_is_told_and_a_limit_of_the_day_s_own_mends_it() -> None:
    asked = {"not_before": "07:00", "weekday_later_min": {"sat": 30, "sun": 30}}
    swallowed = plan(asked)
    weekend = of_weekdays(swallowed, 5, 6)
    without = plan({"not_before": "07:00"})
    unmoved = weekend & (swallowed.open_min == without.open_min)
    assert 40 < unmoved.sum() < weekend.sum()
    told = [words for words in swallowed.warnings if "weekday_later_min" in words.text]
    assert len(told) == 1
    first, last = (date_of(swallowed.days[row]) for row in np.flatnonzero(unmoved)[[0, -1]])
    assert told[0].text.startswith(
        f"morning.weekday_later_min does nothing on {unmoved.sum()} of its 104 days, first on {first}, last on {last}: "
    )
    assert told[0].to_do == "morning.weekday_not_before gives a weekday a limit of its own."
    mended = plan(asked | {"weekday_not_before": {"sat": "07:30", "sun": "07:30"}})
    assert not [words for words in mended.warnings if "weekday_later_min" in words.text]
    assert np.array_equal(mended.open_min[~weekend], swallowed.open_min[~weekend])
    assert np.all(mended.civil_min(mended.open_min)[weekend] >= 450)
    assert np.all(mended.open_min[weekend] - without.open_min[weekend] >= 30)


def test_no_shift_and_a_shift_that_moves_draw_no_warning() -> None:
    for morning in ({"not_before": "07:00"}, {"weekday_later_min": {"sat": 30}}):
        assert not [words for words in plan(morning).warnings if "weekday_later_min" in words.text]


def test_days_kept_in_are_not_counted_as_swallowed() -> None:
    morning = {"not_before": "11:00", "weekday_later_min": {"sat": 5}}
    kept = plan(morning, kept_in=[{"from": "01-01", "to": "12-31"}])
    assert not [words for words in kept.warnings if "weekday_later_min" in words.text]


@given(
    st.sampled_from(("morning", "evening")),
    st.sampled_from(WEEKDAYS),
    st.sampled_from(("not_before", "not_after")),
    st.integers(-60, 60),
    st.sampled_from((2026, 2028)),
)
@settings(max_examples=25)
def test_a_day_s_own_limit_is_that_limit_on_that_day_and_nothing_on_others(
    section: str, day: str, key: str, moved_min: int, year: int
) -> None:
    every = {
        "morning": {"not_before": "06:30", "not_after": "08:00"},
        "evening": {"not_before": "17:00", "not_after": "20:00"},
    }
    hour, minute = divmod(int(every[section][key][:2]) * 60 + int(every[section][key][3:]) + moved_min, 60)
    own = f"{hour:02d}:{minute:02d}"
    # Two settings without the key stand for it: one with the limit of every day, one with the day's own.
    usual, moved = (
        plan_of(validated({"site": VIENNA, **every | {section: every[section] | {key: limit}}}), year)
        for limit in (every[section][key], own)
    )
    found = plan_of(
        validated({"site": VIENNA, **every | {section: every[section] | {f"weekday_{key}": {day: own}}}}), year
    )
    rows = of_weekdays(found, WEEKDAYS.index(day))
    for name in ("open_min", "close_min", "open_reason", "close_reason"):
        wanted = np.where(rows, getattr(moved, name), getattr(usual, name))
        assert np.array_equal(getattr(found, name), wanted), name


def test_a_polar_night_opens_at_the_day_s_own_limit() -> None:
    site = {"latitude_deg": 78.2, "longitude_deg": 15.6, "zone": "Arctic/Longyearbyen"}
    morning = {"not_before": "04:00", "not_after": "10:00", "no_twilight": ["limit"]}
    evening = {"not_before": "14:15", "not_after": "22:00", "no_twilight": ["limit"]}
    found = plan_of(
        validated({"site": site, "morning": morning | {"weekday_not_after": {"sun": "11:30"}}, "evening": evening}),
        2026,
    )
    night = np.isin(found.open_reason, (Reason.LIMIT,)) & np.isnan(found.dawn_utc_min) & (found.days < found.days[30])
    sundays = of_weekdays(found, 6)
    assert set(found.open_min[night & sundays].tolist()) == {690}
    assert set(found.open_min[night & ~sundays].tolist()) == {600}


def refused(morning: dict[str, Any], **more: Any) -> list[str]:
    """What is wrong with a morning."""
    with pytest.raises(ConfigError) as caught:
        validated({"site": VIENNA, "morning": morning, **more}, "hut.toml")
    return [str(problem) for problem in caught.value.problems]


def test_crossed_limits_of_a_weekday_are_named() -> None:
    assert refused({"not_after": "08:00", "weekday_not_before": {"sun": "08:30"}}) == [
        "hut.toml: morning.weekday_not_before.sun is '08:30', after not_after '08:00'; "
        "wanted a time at or before not_after"
    ]
    both = {"weekday_not_before": {"sun": "08:30"}, "weekday_not_after": {"sun": "08:15"}}
    assert refused(both) == [
        "hut.toml: morning.weekday_not_before.sun is '08:30', after weekday_not_after.sun '08:15'; "
        "wanted a time at or before weekday_not_after.sun"
    ]
    # A day's own limit stands in place of the other one: here nothing crosses on any day.
    validated(
        {
            "site": VIENNA,
            "morning": {"not_before": "06:00", "not_after": "08:00", **both | {"weekday_not_after": {"sun": "09:00"}}},
        }
    )


def test_a_season_keeps_and_replaces_the_weekday_s_limits() -> None:
    morning = {"not_before": "06:00", "weekday_not_before": {"sat": "09:00"}}
    season = {"name": "holidays", "from": "07-01", "to": "08-31"}
    for patch, wanted in (({"not_before": "07:00"}, 540), ({"weekday_not_before": {"sat": "10:00"}}, 600)):
        found = plan(morning, season=[season | {"morning": patch}])
        row = found.row(np.datetime64("2027-07-03").astype(object))
        assert found.civil_min(found.open_min)[row] == wanted


def test_settings_show_the_keys_only_where_they_are_written_and_read_back_equal() -> None:
    plain = validated({"site": VIENNA})
    assert "weekday_not_before" not in plain.as_written()["morning"]
    with_key = validated({"site": VIENNA, "evening": {"weekday_not_after": {"fri": "23:00"}}})
    assert with_key.as_written()["evening"]["weekday_not_after"] == {"fri": "23:00"}
    assert validated(with_key.as_written()) == with_key


def test_the_sample_shows_the_keys_as_they_are_read() -> None:
    shown = text(Answers())
    for key in ("weekday_not_before", "weekday_not_after"):
        assert f"{key}]" in shown
    lines = shown.splitlines()
    at = lines.index(next(line for line in lines if "[morning.weekday_not_before]" in line))
    active = "\n".join([*lines[:at], *(line.removeprefix("# ") for line in lines[at : at + 3]), *lines[at + 3 :]])
    assert parsed(active.encode(), "sample").morning.weekday_not_before is not None


def test_the_decoder_s_rules_give_the_weekday_s_limit() -> None:
    limits = {"not_before": "06:30", "not_after": "09:00", "weekday_not_before": {"sat": "08:30", "sun": "08:30"}}
    found, free = plan(limits), plan({})
    minutes = np.array([free.open_min, free.close_min], np.int32)
    decoded = applied(groups([found], Rules.model_validate({"morning": limits}))["limits"], 2027, minutes)
    assert np.array_equal(decoded, np.array([found.open_min, found.close_min]))


def test_words_and_map_of_a_weekday_s_limit() -> None:
    rules = Rules.model_validate({"morning": {"not_before": "06:30", "weekday_not_before": {"sat": "08:30"}}})
    words = rule_words(rules.morning)
    assert "planned not before 06:30 civil time" in words
    assert "planned not before on sat 08:30 civil time, in place of that" in words
    year = plan({"not_before": "06:30", "weekday_not_before": {"sat": "08:30"}})
    assert [(m - 1440, a, b) for _, m, a, b in limit_lines(year, rules)] == [(390, 0, 365), (510, 0, 365)]
