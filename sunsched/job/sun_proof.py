"""A plan's moments of the Sun against two other finders: Skyfield on the JPL ephemeris, and astral's own formula."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sunsched.base.civil_time import date_of
from sunsched.plan.moments import asked_altitude_deg
from sunsched.plan.planning import variant_rows
from sunsched.plan.reasons import Reason
from sunsched.plan.rules import MomentRule, Rules
from sunsched.plan.year import YearPlan
from sunsched.sky.crossings import GRAZING_DEG, altitude_crossings
from sunsched.sky.daylight import depression_of_clear_sky_lux
from sunsched.sky.horizon import site_skyline
from sunsched.sky.second_opinion import (
    ASTRAL_LATITUDE_LIMIT_DEG,
    Events,
    astral_events,
    skyfield_events,
    skyfield_sun_deg,
)

Times = NDArray[np.float64]
Rows = NDArray[np.bool_]

# Ours stays within 1 s of Skyfield to 60 degrees of latitude and 2 s beyond, where the Sun does not graze the angle.
SKYFIELD_S = 5.0
# astral's formula is good to 20 s at 58 degrees; near a day's extreme it may miss an event.
ASTRAL_S = 90.0
ASTRAL_MARGIN_DEG = 0.5
HILLS_DEG = 0.01  # the Sun moves so far in 3 s
# An event that we miss is looked for well inside the half-day, so that noon and midnight need no tie-break.
EDGE_MIN = 20.0
UTC_MIDNIGHT_MIN = 5.0


def sun_faults(rules: Rules, plan: YearPlan) -> list[str]:
    """What the other finders say against the plan's moments of the Sun; empty when they agree.

    Dusk and dawn through an angle, those of the light that stands in for them, and sunrise and sunset over hills.
    """
    noon = np.asarray(plan.days * 1440.0 + plan.noon_min - plan.chip_offset_min, np.float64)
    civil_day = np.floor((noon + plan.civil_offset_min) / 1440).astype(np.int64)
    asked: dict[float, list[tuple[bool, Rows, Times]]] = {}
    found: list[str] = []
    for variant, rows in zip(rules.variants(), variant_rows(rules, civil_day), strict=True):
        for evening, rule in ((False, variant.morning), (True, variant.evening)):
            times = plan.dusk_utc_min if evening else plan.dawn_utc_min
            if _over_hills(rule, plan):
                found += _hill_faults(plan, rows & ~np.isnan(times), times, evening)
            else:
                asked.setdefault(asked_altitude_deg(rule), []).append((evening, rows, times))
            found += _light_faults(plan, rule, rows, evening)
    return found + _angle_faults(plan, noon, asked)


def _over_hills(rule: MomentRule, plan: YearPlan) -> bool:
    level = not plan.site.skyline and not plan.site.height_above_horizon_m
    return rule.twilight in ("sunrise", "sunset") and not level


def _hill_faults(plan: YearPlan, rows: Rows, times: Times, evening: bool) -> list[str]:
    """At sunrise and sunset over hills Skyfield's Sun must stand on the hills' edge."""
    if not rows.any():
        return []
    site = plan.site
    skyline = site_skyline(site.height_above_horizon_m, [(p.azimuth_deg, p.altitude_deg) for p in site.skyline])
    altitude, azimuth = skyfield_sun_deg(times[rows], site.latitude_deg, site.longitude_deg)
    off = np.abs(altitude - skyline.centre_altitude_deg(azimuth)) > HILLS_DEG
    if not off.any():
        return []
    day = plan.days[rows][off][0]
    return [f"{_side(evening)}: by Skyfield the Sun is not on the skyline on {off.sum()} days, first {date_of(day)}"]


def _light_faults(plan: YearPlan, rule: MomentRule, rows: Rows, evening: bool) -> list[str]:
    """Minutes decided by the fallback light alone must follow from Skyfield's Sun within the minute."""
    reasons, minutes = (plan.close_reason, plan.close_min) if evening else (plan.open_reason, plan.open_min)
    rows = rows & (reasons == Reason.LIGHT)
    if not rows.any():
        return []
    times = plan.utc_min(minutes)[rows]
    place = (plan.site.latitude_deg, plan.site.longitude_deg)
    wanted = -float(depression_of_clear_sky_lux(rule.fallback_lux))
    before, after = (skyfield_sun_deg(times + shift, *place)[0] - wanted for shift in (-1.02, 0.02))
    off = before * after > 0
    if not off.any():
        return []
    day = plan.days[rows][off][0]
    return [f"{_side(evening)}: the light that stands in is not Skyfield's on {off.sum()} days, first {date_of(day)}"]


def _angle_faults(plan: YearPlan, noon: Times, asked: dict[float, list[tuple[bool, Rows, Times]]]) -> list[str]:
    if not asked:
        return []
    angles = sorted(asked)
    place = (plan.site.latitude_deg, plan.site.longitude_deg)
    span = (float(noon[0]) - 730.0, float(noon[-1]) + 730.0)
    # Only to know the days on which the Sun grazes an angle, where a hair's breadth decides.
    first = round(float(noon[0] + 4 * plan.site.longitude_deg) // 1440)
    margin = altitude_crossings(first, plan.n_days, *place, np.array(angles)).margin_deg
    opinions = [("Skyfield", skyfield_events(*span, *place, angles), SKYFIELD_S, GRAZING_DEG)]
    if abs(plan.site.latitude_deg) <= ASTRAL_LATITUDE_LIMIT_DEG:
        opinions.append(("astral", astral_events(*span, *place, angles), ASTRAL_S, ASTRAL_MARGIN_DEG))
    found = []
    for name, events, within_s, least_margin in opinions:
        for k, angle in enumerate(angles):
            clear = margin[k] >= least_margin
            for evening, rows, times in asked[angle]:
                theirs = _of_side(events, k, evening)
                off = rows & clear & _differ(times, theirs, noon, within_s / 60, evening)
                if name == "astral":
                    off &= ~_near_utc_midnight(times)
                if off.any():
                    days = plan.days[off]
                    found.append(
                        f"{_side(evening)}: {name} finds the Sun at {angle:g} deg at other times "
                        f"on {len(days)} days, first {date_of(days[0])}"
                    )
    return found


def _of_side(events: Events, k: int, evening: bool) -> Times:
    return events.set_utc_min[k] if evening else events.rise_utc_min[k]


def _differ(ours: Times, theirs: Times, noon: Times, within_min: float, evening: bool) -> Rows:
    """Rows whose event the other finder has not, or has where we have none."""
    if not theirs.size:
        return ~np.isnan(ours)
    there = ~np.isnan(ours)
    apart = np.abs(_nearest(theirs, np.where(there, ours, noon)) - ours)
    middle = noon + (360.0 if evening else -360.0)
    theirs_inside = np.abs(_nearest(theirs, middle) - middle) < 360.0 - EDGE_MIN
    return np.where(there, apart > within_min, theirs_inside)


def _near_utc_midnight(times: Times) -> Rows:
    """astral is asked date by date (UTC): an event that passes from one date to the next is given twice or never."""
    return np.abs((times + 720.0) % 1440.0 - 720.0) < UTC_MIDNIGHT_MIN


def _nearest(events: Times, at: Times) -> Times:
    after = np.clip(np.searchsorted(events, at), 1, max(len(events) - 1, 1))
    pair = np.stack([events[after - 1], events[np.minimum(after, len(events) - 1)]])
    return np.asarray(np.where(np.abs(pair[0] - at) <= np.abs(pair[1] - at), pair[0], pair[1]))


def _side(evening: bool) -> str:
    return "evening" if evening else "morning"
