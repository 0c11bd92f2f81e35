"""From site and rules to a YearPlan: find the crossings of all angles once, then apply the rules to all days."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sunsched.base.civil_time import DAY_MIN, date_of, month_day, tzdata_release, year_days, zone_of
from sunsched.base.errors import ConfigError, Problem, RangeError
from sunsched.hardware.parts import LightCell
from sunsched.plan.checks import Touched, refuse_impossible, refuse_undecided, year_warnings
from sunsched.plan.day import Days, Mask, Side, TraceFn, decide, stay_down
from sunsched.plan.facts import expected_light, sun_decided
from sunsched.plan.moments import NAUTICAL_DEG, Moments
from sunsched.plan.reasons import Reason
from sunsched.plan.rules import KeptIn, Rules
from sunsched.plan.site import Chip, Site
from sunsched.plan.year import NO_MINUTE, YearPlan
from sunsched.sky.horizon import SUNRISE_ALTITUDE_DEG


def year_plan(site: Site, chip: Chip, rules: Rules, year: int, light_cell: LightCell | None = None) -> YearPlan:
    """The door's minutes for every day of a year; see `span_plan`."""
    first_day, n_days = year_days(year)
    return span_plan(site, chip, rules, first_day, n_days, light_cell)


def span_plan(
    site: Site,
    chip: Chip,
    rules: Rules,
    first_day: int,
    n_days: int,
    light_cell: LightCell | None = None,
    trace: TraceFn | None = None,
) -> YearPlan:
    """The door's minutes for `n_days` from `first_day` [day number of the chip's date at solar noon].

    Times are rounded up to the chip's whole minute. Raises ConfigError when nothing decides some
    day, when a night or a day is too short to be true, or when the chip's offset splits the day;
    RangeError outside the years of the Sun's data. Sun within 1 s of the JPL ephemeris to 60
    degrees of latitude, 2 s beyond.
    """
    (plan,) = _span_plans([site], chip, rules, first_day, n_days, light_cell, trace)
    return plan


SITES_AT_ONCE = 8  # more take longer again: their columns leave the processor's cache


def year_plans(
    sites: Sequence[Site], chip: Chip, rules: Rules, year: int, light_cell: LightCell | None = None
) -> list[YearPlan | ConfigError | RangeError]:
    """The plans of a year for several sites under the same rules, each as `year_plan` gives it or why it is refused.

    Sites of one zone are worked out together unless a horizon of their own takes a search of its own.
    """
    first_day, n_days = year_days(year)
    groups: dict[object, list[int]] = {}
    for place, site in enumerate(sites):
        alone = site.skyline or site.height_above_horizon_m
        groups.setdefault(place if alone else site.zone, []).append(place)
    found: dict[int, YearPlan | ConfigError | RangeError] = {}
    for places in groups.values():
        for at in range(0, len(places), SITES_AT_ONCE):
            some = places[at : at + SITES_AT_ONCE]
            together = [sites[place] for place in some]
            found.update(zip(some, _plans_or_errors(together, chip, rules, first_day, n_days, light_cell), strict=True))
    return [found[place] for place in range(len(sites))]


def _plans_or_errors(
    sites: Sequence[Site], chip: Chip, rules: Rules, first_day: int, n_days: int, light_cell: LightCell | None
) -> list[YearPlan | ConfigError | RangeError]:
    """All together; where one is refused, each by itself, so that the others are not."""
    try:
        return [*_span_plans(sites, chip, rules, first_day, n_days, light_cell)]
    except (ConfigError, RangeError) as error:
        if len(sites) == 1:
            return [error]
    return [
        outcome for site in sites for outcome in _plans_or_errors([site], chip, rules, first_day, n_days, light_cell)
    ]


def _span_plans(
    sites: Sequence[Site],
    chip: Chip,
    rules: Rules,
    first_day: int,
    n_days: int,
    light_cell: LightCell | None = None,
    trace: TraceFn | None = None,
) -> list[YearPlan]:
    """Plans of sites in one zone: columns hold the days of all sites, one site after the other."""
    zone = zone_of(sites[0].zone)
    _refuse_skipped_date(sites[0], chip, first_day, n_days)
    standard_min = 0 if chip.keeps == "utc" else zone.standard_offset_min(*_whole_years(first_day, n_days))
    sun_days = [first_day + _sun_day_shift(site, chip, standard_min) for site in sites]
    moments = Moments(sites, sun_days, n_days, rules)
    civil_offset_min = zone.utc_offset_min(moments.noon_utc_min)
    civil_day = np.floor((moments.noon_utc_min + civil_offset_min) / DAY_MIN).astype(np.int64)
    morning = Side.undecided(False, zone, civil_day, trace)
    evening = Side.undecided(True, zone, civil_day, trace)
    masks = variant_rows(rules, civil_day)
    for variant, rows in zip(rules.variants(), masks, strict=True):
        if rows.any():
            decide(morning, rows, variant.morning, moments, variant.name)
            decide(evening, rows, variant.evening, moments, variant.name)
    shut = (morning.reason == Reason.SHUT) | (evening.reason == Reason.SHUT)
    stay_down((morning, evening), shut, Reason.SHUT, "no twilight on the day's other side: the door stays down")
    kept = [kept_rows(entry, civil_day) for entry in rules.kept_in]
    for entry, rows in zip(rules.kept_in, kept, strict=True):
        stay_down((morning, evening), rows, Reason.KEPT_IN, entry.why)
    refuse_undecided(morning, evening, first_day)
    days = np.tile(first_day + np.arange(n_days, dtype=np.float64), len(sites))
    midnight_of_date = days * DAY_MIN - standard_min
    dark, light = expected_light(moments, light_cell or LightCell())
    columns: dict[str, NDArray[Any]] = {
        "open_min": _chip_minutes(morning, midnight_of_date, chip, standard_min),
        "close_min": _chip_minutes(evening, midnight_of_date, chip, standard_min),
        "open_reason": morning.reason,
        "close_reason": evening.reason,
        "noon_min": np.rint(moments.noon_utc_min - midnight_of_date).astype(np.int16),
        "midnight_min": np.rint(moments.next_midnight_utc_min - midnight_of_date).astype(np.int16),
        "dawn_utc_min": _asked(morning),
        "dusk_utc_min": _asked(evening),
        "dark_expected": dark,
        "light_expected": light,
        "open_by_twilight": sun_decided(morning),
        "close_by_twilight": sun_decided(evening),
        "civil_offset_min": civil_offset_min.astype(np.int16),
    }
    touched = Touched(
        masks[1:],
        kept,
        (morning.stood_in, evening.stood_in),
        (morning.weekday_shift_min != 0, evening.weekday_shift_min != 0),
        (morning.swallowed, evening.swallowed),
        moments.at_angle(SUNRISE_ALTITUDE_DEG, True).time_utc_min,
        moments.at_angle(-NAUTICAL_DEG, True).time_utc_min,
    )
    plans = []
    for number, site in enumerate(sites):
        own = slice(number * n_days, (number + 1) * n_days)
        parts: dict[str, Any] = {name: column[own] for name, column in columns.items()}
        plan = YearPlan(site, chip, standard_min, tzdata_release(), first_day, **parts)
        refuse_impossible(plan, rules)
        plans.append(replace(plan, warnings=year_warnings(plan, rules, touched.of(own))))
    return plans


def _whole_years(first_day: int, n_days: int) -> tuple[int, int]:
    """The span widened to whole calendar years: a week in summer must not take summer time for standard time."""
    start, _ = year_days(date_of(first_day).year)
    last, length = year_days(date_of(first_day + n_days - 1).year)
    return start, last + length - start


def _refuse_skipped_date(site: Site, chip: Chip, first_day: int, n_days: int) -> None:
    """Refuse civil time on a chip where a country moved over the date line: a date has no minute on its clocks."""
    if chip.keeps != "civil":
        return
    zone, start = zone_of(site.zone), first_day * DAY_MIN
    before = int(zone.utc_offset_min(np.array([start - 2.0 * DAY_MIN]))[0])
    for change_min, offset_min in zone.changes(start - 2.0 * DAY_MIN, start + (n_days + 2.0) * DAY_MIN):
        day = int((change_min + max(before, offset_min)) // DAY_MIN) - (offset_min > before)
        if abs(offset_min - before) >= DAY_MIN / 2 and first_day <= day < first_day + n_days:
            skipped = "skip" if offset_min > before else "show twice"
            got = f"'civil', but the clocks of {site.zone} {skipped} {date_of(day)}"
            raise ConfigError(Problem("", "chip.keeps", got, "'standard' or 'utc' for this year"))
        before = offset_min


def _sun_day_shift(site: Site, chip: Chip, standard_min: int) -> int:
    """Local mean date minus the chip's date at mean solar noon [days]; refuses an offset that splits the day."""
    noon = DAY_MIN / 2 - 4 * site.longitude_deg + standard_min
    days = int(np.floor(noon / DAY_MIN))
    of_day = noon - days * DAY_MIN
    if not 6 * 60 <= of_day <= 18 * 60:
        got = f"'{chip.keeps}', which puts solar noon near {int(of_day) // 60:02d}:{int(of_day) % 60:02d} on the chip"
        wanted = "a clock on which mean solar noon lies between 06:00 and 18:00"
        hint = "check the sign of site.longitude_deg, east is positive, and site.zone"
        raise ConfigError(Problem("", "chip.keeps", got, wanted, hint))
    return -days


def variant_rows(rules: Rules, civil_day: Days) -> list[Mask]:
    """The rows on which the year's own rules hold, then those of each season."""
    date = month_day(civil_day)
    seasons = [_inside(date, variant.spans) for variant in rules.variants()[1:]]
    own = np.ones(len(civil_day), np.bool_)
    for rows in seasons:
        own &= ~rows
    return [own, *seasons]


def kept_rows(kept: KeptIn, civil_day: Days) -> Mask:
    """The rows that a kept-in range touches."""
    once = kept.once()
    if once is not None:
        return (once[0] <= civil_day) & (civil_day <= once[1])
    return _inside(month_day(civil_day), kept.yearly())


def _inside(date: Days, spans: tuple[tuple[int, int], ...]) -> Mask:
    rows = np.zeros(len(date), np.bool_)
    for first, last in spans:
        rows |= (first <= date) & (date <= last)
    return rows


def _chip_minutes(
    side: Side, midnight_of_date: NDArray[np.float64], chip: Chip, standard_min: int
) -> NDArray[np.int16]:
    """Times rounded up to the chip's whole minutes after midnight of the row's date."""
    minutes = side.time_utc_min - midnight_of_date
    if chip.keeps == "civil":
        with_time = ~np.isnan(side.time_utc_min)
        minutes[with_time] += side.zone.utc_offset_min(side.time_utc_min[with_time]) - standard_min
    return np.where(np.isnan(minutes), NO_MINUTE, np.ceil(minutes)).astype(np.int16)


def _asked(side: Side) -> NDArray[np.float64]:
    """The Sun's moment that was asked for; a fallback light is not it."""
    return np.where(side.fell_back, np.nan, side.sun_utc_min)
