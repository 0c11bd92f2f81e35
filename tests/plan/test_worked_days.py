"""Ten days worked out by hand: a published moment of the Sun, then the rules by arithmetic.

Published tables round to the minute; the plan rounds up. A plan's minute is therefore the
published one or the one after it: `within(published)`.
"""

from __future__ import annotations

import datetime as dt
from typing import Any

from sunsched.base.civil_time import day_number
from sunsched.config.toml_file import validated
from sunsched.job.pipeline import plan_of
from sunsched.plan.reasons import Reason
from sunsched.plan.year import NO_MINUTE

ANCHORAGE = {"latitude_deg": 61.216667, "longitude_deg": -149.866667, "zone": "America/Anchorage"}
LONGYEARBYEN = {"latitude_deg": 78.216667, "longitude_deg": 15.65, "zone": "Arctic/Longyearbyen"}
N60 = {"latitude_deg": 60.0, "longitude_deg": 0.0, "zone": "Etc/UTC"}
LONDON = {"latitude_deg": 51.5, "longitude_deg": -0.13, "zone": "Europe/London"}
KASHGAR = {"latitude_deg": 39.47, "longitude_deg": 75.99, "zone": "Asia/Kashgar"}


ANCHORAGE_OFFSET_MIN = -540


def worked(site: dict[str, Any], date: str, **sections: Any) -> tuple[int, int, Reason, Reason]:
    """Opening, closing and their reasons on one date."""
    day = dt.date.fromisoformat(date)
    plan = plan_of(validated({"site": site, **sections}, "by hand"), day.year)
    row = plan.row(day)
    return (
        int(plan.open_min[row]),
        int(plan.close_min[row]),
        Reason(plan.open_reason[row]),
        Reason(plan.close_reason[row]),
    )


def within(published_min: int) -> tuple[int, int]:
    """A minute-rounded moment, rounded up, is that minute or the next."""
    return published_min, published_min + 1


# U.S. Naval Observatory, one-year table 2020, civil twilight, Anchorage (61 13 N 149 52 W): 21 June has none, the
# Sun stays above -6 deg. The limits decide: 04:00 and 23:30 civil are 03:00 and 22:30 on a chip without summer time.
def test_white_night_opens_at_not_before_and_closes_at_not_after() -> None:
    limits: dict[str, dict[str, Any]] = {"morning": {"not_before": "04:00"}, "evening": {"not_after": "23:30"}}
    for side in limits.values():
        side["no_twilight"] = ["limit"]
    assert worked(ANCHORAGE, "2020-06-21", **limits) == (180, 1350, Reason.LIMIT, Reason.LIMIT)


# U.S. Naval Observatory, one-year table 2023, civil twilight, Longyearbyen: 21 December has none, the Sun stays
# below -6 deg. The door opens at not_after and closes at not_before; the zone is UTC+1 in winter, as is the chip.
def test_polar_night_opens_at_not_after_and_closes_at_not_before() -> None:
    morning = {"not_before": "04:00", "not_after": "10:30", "no_twilight": ["limit"]}
    evening = {"not_before": "14:15", "not_after": "22:00", "no_twilight": ["limit"]}
    found = worked(LONGYEARBYEN, "2023-12-21", morning=morning, evening=evening)
    assert found == (10 * 60 + 30, 14 * 60 + 15, Reason.LIMIT, Reason.LIMIT)


# U.S. Naval Observatory, one-year table 2020, civil twilight, Anchorage: dusk 2020-06-06 09:42 UTC, dawn
# 2020-06-05 10:24 UTC. The chip keeps UTC-9: 00:42 on the 6th belongs to the evening of the 5th, minute 1482.
def test_dusk_after_midnight_belongs_to_the_evening_before() -> None:
    opens, closes, _, why = worked(ANCHORAGE, "2020-06-05", **open_nights())
    assert opens in within(1 * 60 + 24)
    assert closes in within(24 * 60 + 42)
    assert why is Reason.TWILIGHT


def open_nights() -> dict[str, Any]:
    """Fallbacks that let Anchorage's white nights pass, far from the day looked at."""
    return {
        "morning": {"no_twilight": ["shut"]},
        "evening": {"no_twilight": ["shut"]},
        "warn": {"least_shut_min": 0},
    }


# Skyfield 1.55 with DE421, masked finder: 39.47 N 75.99 E, sunrise of local 2027-04-30 at 2027-04-29T23:59:06Z.
# Ten minutes earlier is 23:49:06; a chip on UTC counts from its midnight of the 30th: -10.9, rounded up -10.
def test_chip_on_utc_far_east_opens_before_its_midnight() -> None:
    found = worked(KASHGAR, "2027-04-30", chip={"keeps": "utc"}, morning={"twilight": "sunrise", "later_min": -10})
    assert (found[0], found[2]) == (-10, Reason.LATER)


# IANA tz, rule EU: in 2026 summer time begins on 29 March at 01:00 UTC. 07:00 civil is minute 420 of the chip's UTC
# on the 28th and minute 360 on the 29th. Both days' civil dawns (05:2x UTC) lie earlier.
def test_civil_limit_steps_by_an_hour_on_the_chip_when_summer_time_begins() -> None:
    rules = {"morning": {"not_before": "07:00"}}
    assert worked(LONDON, "2026-03-28", **rules)[::2] == (420, Reason.NOT_BEFORE)
    assert worked(LONDON, "2026-03-29", **rules)[::2] == (360, Reason.NOT_BEFORE)


# U.S. Naval Observatory, one-year table 2020, civil twilight, Anchorage: 29 February dawn 16:17 UTC; the dusk of
# that day is the one of 1 March 04:08 UTC. On UTC-9: 07:17 and 19:08.
def test_leap_day_has_its_own_row() -> None:
    opens, closes, *_ = worked(ANCHORAGE, "2020-02-29", **open_nights())
    assert opens in within(7 * 60 + 17)
    assert closes in within(19 * 60 + 8)


# U.S. Naval Observatory, one-year table 2019, 60 N 0 E: sunset 25 December 14:57, 5 January 15:11, 6 January 15:13.
# A season from 20 December to 5 January closes 20 min after sunset; on the 6th the year's own 5 min hold again.
def test_season_wraps_the_year() -> None:
    season = {"name": "turn", "from": "12-20", "to": "01-05", "evening": {"later_min": 20}}
    rules = {"evening": {"twilight": "sunset", "later_min": 5}, "season": [season]}
    assert worked(N60, "2019-12-25", **rules)[1] in within(14 * 60 + 57 + 20)
    assert worked(N60, "2019-01-05", **rules)[1] in within(15 * 60 + 11 + 20)
    assert worked(N60, "2019-01-06", **rules)[1] in within(15 * 60 + 13 + 5)


# By definition: a kept-in day has no minutes, whatever the Sun does; the day after has its own again.
# U.S. Naval Observatory, one-year table 2019, 60 N 0 E: sunset 16 June 21:26.
def test_kept_in_day_stays_down() -> None:
    rules = {
        "evening": {"twilight": "sunset"},
        "morning": {"twilight": "sunrise"},
        "kept_in": [{"from": "06-10", "to": "06-15", "why": "move"}],
    }
    assert worked(N60, "2019-06-15", **rules) == (NO_MINUTE, NO_MINUTE, Reason.KEPT_IN, Reason.KEPT_IN)
    assert worked(N60, "2019-06-16", **rules)[1] in within(21 * 60 + 26)


# U.S. Naval Observatory, one-year table 2019, 60 N 0 E: sunrise 5 January 09:00 and 6 January 08:59. The 5th was a
# Saturday (ISO 8601 week date 2019-W01-6), the 6th a Sunday; only Saturdays are shifted.
def test_weekday_shift_moves_its_weekday_only() -> None:
    rules = {"morning": {"twilight": "sunrise", "weekday_later_min": {"sat": 45}}}
    saturday, sunday = worked(N60, "2019-01-05", **rules), worked(N60, "2019-01-06", **rules)
    assert saturday[0] in within(9 * 60 + 45)
    assert saturday[2] is Reason.WEEKDAY
    assert sunday[0] in within(8 * 60 + 59)
    assert sunday[2] is Reason.TWILIGHT


# Clear sky gives 30 lux with the Sun at -4.00 deg (cubics of the Explanatory Supplement, read from public code, stated
# error 0.02 in log10 or 0.05 deg). Whether that altitude is refracted is not said: up to 0.08 deg more. At 20 min for a
# degree, as here in June, 0.13 deg are 2.6 min, and rounding up adds one. The moment of -4.00 deg is Skyfield's own;
# civil twilight itself never comes on that day (U.S. Naval Observatory, table as above: 21 June).
def test_fallback_light_decides_a_white_night() -> None:
    from sunsched.sky.second_opinion import skyfield_events

    evening = {"no_twilight": ["light"], "fallback_lux": 30}
    _, closes, _, why = worked(ANCHORAGE, "2020-06-21", evening=evening, morning={"twilight": "sunrise"})
    assert why is Reason.LIGHT
    noon_utc_min = day_number(dt.date(2020, 6, 21)) * 1440.0 + 22 * 60
    seen = skyfield_events(noon_utc_min, noon_utc_min + 720, 61.216667, -149.866667, [-4.0])
    dusk_min = float(seen.set_utc_min[0][0]) + ANCHORAGE_OFFSET_MIN - day_number(dt.date(2020, 6, 21)) * 1440
    assert abs(closes - dusk_min) < 2.6 + 1
