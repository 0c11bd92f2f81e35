"""A plan seen as nights: each from the noon before it to the noon after it, in civil minutes of its evening's date.

Night j lies between the plan's row j - 1 and row j, so n days have n + 1 nights; the first has no
evening in the plan and the last no morning.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sunsched.base.civil_time import DAY_MIN, WEEKDAYS, month_day, zone_of
from sunsched.plan.reasons import Kind, kinds_of
from sunsched.plan.rules import MomentRule, Rules, evening_minute
from sunsched.plan.year import NO_MINUTE, YearPlan
from sunsched.sky.crossings import State, altitude_crossings
from sunsched.sky.horizon import SUNRISE_ALTITUDE_DEG

Floats = NDArray[np.float64]
NOON_MIN = DAY_MIN // 2
# Sunset, and the ends of civil, nautical and astronomical twilight.
BAND_ALTITUDES_DEG = (SUNRISE_ALTITUDE_DEG, -6.0, -12.0, -18.0)


@dataclass(frozen=True, slots=True)
class Nights:
    """Civil minutes after midnight of each night's evening date; a morning is beyond 1440.

    close, open   (n + 1,) when the door goes down and when it comes up, NaN where it does not
    dark_from, dark_until   (4, n + 1) when the Sun is below sunset's altitude, -6, -12, -18 degrees;
      equal where it never is, noon to noon where it always is
    evening_day   (n + 1,) [day number] date of the evening
    from_min, until_min   what a chart must span: noon to noon, or whole hours more where something lies beyond
    clock_changes   (night, minute, change) of each change of civil time in the span [minutes]
    """

    evening_day: NDArray[np.int64]
    close: Floats
    open: Floats
    dark_from: Floats
    dark_until: Floats
    from_min: int
    until_min: int
    clock_changes: tuple[tuple[int, float, int], ...]

    def dark_edges(self, band: int) -> tuple[Floats, Floats]:
        """`dark_from` and `dark_until` of a band as a chart paints them, within its span (n + 1,) each.

        Darkness that lasts past the Sun's noon reaches the chart's edge on both nights, although that noon
        seldom falls on the clock's twelve.
        """
        left = np.clip(self.dark_from[band], self.from_min, self.until_min)
        right = np.clip(self.dark_until[band], self.from_min, self.until_min)
        lasts = self.dark_until[band, :-1] == self.dark_from[band, 1:] + DAY_MIN
        right[:-1][lasts] = self.until_min
        left[1:][lasts] = self.from_min
        return left, right


def nights_of(plan: YearPlan) -> Nights:
    """The nights of a plan, with the sky's bands worked out for the same place and dates."""
    n = plan.n_days
    close, opens = np.full(n + 1, np.nan), np.full(n + 1, np.nan)
    close[1:] = plan.civil_min(plan.close_min)
    opens[:-1] = plan.civil_min(plan.open_min) + DAY_MIN
    evening_day = plan.first_day - 1 + np.arange(n + 1, dtype=np.int64)
    dark_from, dark_until = _bands(plan, evening_day)
    known = np.concatenate([close, opens])
    known = known[~np.isnan(known)]
    earliest, latest = (known.min(), known.max()) if known.size else (NOON_MIN, NOON_MIN)
    from_min = min(NOON_MIN, int(np.floor(earliest / 60)) * 60)
    until_min = max(NOON_MIN + DAY_MIN, int(np.ceil(latest / 60)) * 60)
    return Nights(evening_day, close, opens, dark_from, dark_until, from_min, until_min, _changes(plan))


def _bands(plan: YearPlan, evening_day: NDArray[np.int64]) -> tuple[Floats, Floats]:
    site, n = plan.site, plan.n_days
    first_noon = float(plan.utc_min(plan.noon_min)[0])
    first_sun_day = round((first_noon + 4 * site.longitude_deg) / DAY_MIN - 0.5)
    place = (site.latitude_deg, site.longitude_deg)
    found = altitude_crossings(first_sun_day - 1, n + 2, *place, BAND_ALTITUDES_DEG)
    noon, midnight = found.noon_utc_min, found.midnight_utc_min
    starts = _moments(found.set_utc_min[:, :-1], found.evening_state[:, :-1], midnight[1:-1], noon[:-1])
    ends = _moments(found.rise_utc_min[:, 1:], found.morning_state[:, 1:], midnight[1:-1], noon[1:])
    return _civil(plan, starts, evening_day), _civil(plan, ends, evening_day)


def _moments(times: Floats, states: NDArray[np.int8], midnight: Floats, noon: Floats) -> Floats:
    """Crossings, with the lowest Sun where it never gets so low and noon where it never gets so high."""
    settled = np.where(states == State.ALWAYS_ABOVE, midnight, times)
    return np.where(states == State.ALWAYS_BELOW, noon, settled)


def _civil(plan: YearPlan, utc_min: Floats, evening_day: NDArray[np.int64]) -> Floats:
    offset = zone_of(plan.site.zone).utc_offset_min(utc_min)
    return np.asarray(utc_min + offset - evening_day * float(DAY_MIN))


def _changes(plan: YearPlan) -> tuple[tuple[int, float, int], ...]:
    zone = zone_of(plan.site.zone)
    first_min = (plan.first_day - 1) * DAY_MIN + NOON_MIN - int(plan.civil_offset_min[0])
    found = []
    for start, offset in zone.changes(first_min, first_min + (plan.n_days + 1) * DAY_MIN):
        before = int(zone.utc_offset_min(np.array([start - 1]))[0])
        local = start + before - first_min - int(plan.civil_offset_min[0])
        night = int(local // DAY_MIN)
        found.append((night, start + before - (plan.first_day - 1 + night) * DAY_MIN, offset - before))
    return tuple(found)


def limit_lines(plan: YearPlan, rules: Rules) -> list[tuple[str, float, int, int]]:
    """Civil limits as (side, civil minute of the night, first night, last night + 1) for each stretch of dates.

    An evening's limit lies on the nights that follow its dates, a morning's on the nights before.
    """
    found: list[tuple[str, float, int, int]] = []
    date = month_day(plan.days)
    for side in ("close", "open"):
        for key in ("not_before", "not_after"):
            # A line for each weekday, each through the weeks, not in dots of a day; equal ones are one.
            drawn: dict[tuple[str, float, int, int], None] = {}
            night = 1 if side == "close" else 0
            for day in range(len(WEEKDAYS)):
                minutes = np.full(plan.n_days, -1, np.int64)
                for variant in rules.variants():
                    rule = variant.evening if side == "close" else variant.morning
                    rows = np.zeros(plan.n_days, np.bool_)
                    for first, last in variant.spans:
                        rows |= (first <= date) & (date <= last)
                    minutes[rows] = _limit(rule, key, side, day)
                drawn |= dict.fromkeys((side, float(m), a + night, b + night) for m, a, b in runs_of(minutes) if m >= 0)
            found += drawn
    return found


def _limit(rule: MomentRule, key: str, side: str, day: int) -> int:
    limit: int | None = getattr(rule, f"{key}_by_weekday")[day]
    if limit is None:
        return -1
    return evening_minute(limit) if side == "close" else limit + DAY_MIN


def runs_of(values: NDArray[np.int64]) -> list[tuple[int, int, int]]:
    """Runs of equal values as (value, first index, last index + 1)."""
    if not len(values):
        return []
    edges = np.flatnonzero(np.diff(values)) + 1
    starts, ends = [0, *edges.tolist()], [*edges.tolist(), len(values)]
    return [(int(values[a]), a, b) for a, b in zip(starts, ends, strict=True)]


def kinds(plan: YearPlan, side: str) -> NDArray[np.int64]:
    """For each day (n,), what decided its closing or opening: one of the kinds.

    A day whose moment never comes keeps its stand-in even where a step after it moved the minute.
    """
    reasons = plan.close_reason if side == "close" else plan.open_reason
    asked = plan.dusk_utc_min if side == "close" else plan.dawn_utc_min
    by_reason = kinds_of(reasons)
    stand_in = np.isnan(asked) & (by_reason == Kind.SUN)
    down = plan.open_min == NO_MINUTE
    return np.where(down, Kind.DOWN, np.where(stand_in, Kind.LIGHT, by_reason)).astype(np.int64)
