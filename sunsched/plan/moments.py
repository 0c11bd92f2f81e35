"""The Sun's moments that a site's rules name; one call finds the crossings of all angles."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sunsched.plan.rules import TWILIGHT_DEPRESSION_DEG, MomentRule, Rules
from sunsched.plan.site import Site
from sunsched.sky.crossings import Crossings, crossings_of_places
from sunsched.sky.daylight import depression_of_clear_sky_lux
from sunsched.sky.horizon import SUNRISE_ALTITUDE_DEG, sunrise_sunset

NAUTICAL_DEG = 12.0


class Asked(NamedTuple):
    """One moment on each day: times (n,) [utc_min], NaN where there is none, and the sky's State."""

    time_utc_min: NDArray[np.float64]
    state: NDArray[np.int8]


class Moments:
    """Crossings of every angle that the rules and the warnings need, for a span of solar noons.

    Of several sites the spans follow each other: columns are of shape (n,), n = sites x n_days.
    """

    def __init__(self, sites: Sequence[Site], first_sun_days: Sequence[int], n_days: int, rules: Rules) -> None:
        self._sites = sites
        self._first_days = first_sun_days
        self._n_days = n_days
        angles = {-NAUTICAL_DEG, SUNRISE_ALTITUDE_DEG}
        for variant in rules.variants():
            angles |= {asked_altitude_deg(rule) for rule in (variant.morning, variant.evening)}
        self._found: dict[float, tuple[Crossings, int]] = {}
        self._find(sorted(angles))
        self._horizon: Crossings | None = None
        some, _ = self._found[-NAUTICAL_DEG]
        self.noon_utc_min = some.noon_utc_min
        self.next_midnight_utc_min = some.midnight_utc_min[..., 1:].ravel()
        self.extreme_deg = some.extreme_deg

    def _find(self, angles_deg: list[float]) -> None:
        places = ([site.latitude_deg for site in self._sites], [site.longitude_deg for site in self._sites])
        crossings = crossings_of_places(self._first_days, self._n_days, *places, np.array(angles_deg))
        self._found.update({angle: (crossings, k) for k, angle in enumerate(angles_deg)})

    def at_angle(self, angle_deg: float, evening: bool) -> Asked:
        """When the Sun's centre passes an altitude [degrees], on the morning or the evening side."""
        if angle_deg not in self._found:
            self._find([angle_deg])
        return _side(*self._found[angle_deg], evening)

    def asked(self, rule: MomentRule, evening: bool) -> Asked:
        """The moment that a rule asks for."""
        if rule.twilight in ("sunrise", "sunset"):
            return self.sun_on_horizon(evening)
        return self.at_angle(asked_altitude_deg(rule), evening)

    def sun_on_horizon(self, evening: bool) -> Asked:
        """Sunrise or sunset over the site's own horizon."""
        if not any(site.skyline or site.height_above_horizon_m for site in self._sites):
            return self.at_angle(SUNRISE_ALTITUDE_DEG, evening)
        if self._horizon is None:
            (site,), (first_day,) = self._sites, self._first_days  # each has its own horizon: planned alone
            skyline = [(point.azimuth_deg, point.altitude_deg) for point in site.skyline]
            place = (site.latitude_deg, site.longitude_deg)
            self._horizon = sunrise_sunset(first_day, self._n_days, *place, site.height_above_horizon_m, skyline)
        return _side(self._horizon, 0, evening)

    def light(self, rule: MomentRule, evening: bool) -> Asked:
        """When the clear sky passes the rule's fallback_lux."""
        return self.at_angle(-float(depression_of_clear_sky_lux(rule.fallback_lux)), evening)


def asked_altitude_deg(rule: MomentRule) -> float:
    """The altitude of the Sun's centre that a rule asks for, over a level horizon [degrees]."""
    if rule.depression_deg is not None:
        return -rule.depression_deg
    if rule.clear_sky_lux is not None:
        return -float(depression_of_clear_sky_lux(rule.clear_sky_lux))
    if rule.twilight in TWILIGHT_DEPRESSION_DEG:
        return -TWILIGHT_DEPRESSION_DEG[rule.twilight]
    return SUNRISE_ALTITUDE_DEG


def moment_words(rule: MomentRule) -> str:
    """The moment that a rule asks for, in words."""
    if rule.depression_deg is not None:
        return f"Sun {rule.depression_deg:g} deg below the horizon"
    if rule.clear_sky_lux is not None:
        return f"clear sky passes {rule.clear_sky_lux:g} lux"
    return f"{rule.twilight} twilight" if rule.twilight in TWILIGHT_DEPRESSION_DEG else str(rule.twilight)


def _side(crossings: Crossings, k: int, evening: bool) -> Asked:
    if evening:
        return Asked(crossings.set_utc_min[k], crossings.evening_state[k])
    return Asked(crossings.rise_utc_min[k], crossings.morning_state[k])
