"""The Sun's events of a year at one site, as plain rows."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from sunsched.base.civil_time import DAY_MIN, date_of, iso_utc, year_days, zone_of
from sunsched.plan.site import Site
from sunsched.sky.crossings import Crossings, State, altitude_crossings
from sunsched.sky.horizon import SUNRISE_ALTITUDE_DEG, sunrise_sunset

# Sunrise and sunset stand first: the Sun's centre 50 arcmin below the horizon, shown as 0.8333.
NAMED_DEPRESSIONS_DEG = (-SUNRISE_ALTITUDE_DEG, 6.0, 12.0, 18.0)


def sun_list(site: Site, year: int, depressions_deg: Sequence[float]) -> list[dict[str, Any]]:
    """One row for each solar noon whose local date lies in `year`, and each depression [degrees].

    Times are ISO 8601 in UTC to the second, or None. Sunrise and sunset (0.8333) are those over the
    site's own skyline and height where it has them; these move no other angle. An angle given twice is
    listed once.
    """
    first_day, n_days = year_days(year)
    depressions_deg = tuple(dict.fromkeys(depressions_deg))
    # One day more at both ends: the local date of a solar noon may lie a day from its mean date.
    place = (first_day - 1, n_days + 2, site.latitude_deg, site.longitude_deg)
    found = altitude_crossings(*place, [-angle for angle in depressions_deg])
    civil = found.noon_utc_min + zone_of(site.zone).utc_offset_min(found.noon_utc_min)
    local_day = np.floor(civil / DAY_MIN).astype(np.int64)
    own_horizon = bool(site.skyline or site.height_above_horizon_m)
    skyline = [(point.azimuth_deg, point.altitude_deg) for point in site.skyline]
    horizon = sunrise_sunset(*place, site.height_above_horizon_m, skyline) if own_horizon else None
    rows = []
    for noon in np.flatnonzero((first_day <= local_day) & (local_day < first_day + n_days)):
        for k, angle in enumerate(depressions_deg):
            at_horizon = horizon is not None and angle == NAMED_DEPRESSIONS_DEG[0]
            events, column = (horizon, 0) if at_horizon and horizon is not None else (found, k)
            rows.append(_row(int(local_day[noon]), angle, events, column, int(noon)))
    return rows


def _row(day: int, depression_deg: float, events: Crossings, k: int, noon: int) -> dict[str, Any]:
    rise, fall = float(events.rise_utc_min[k, noon]), float(events.set_utc_min[k, noon])
    return {
        "date": date_of(day).isoformat(),
        "depression_deg": round(depression_deg, 4),
        "morning_utc": None if np.isnan(rise) else iso_utc(rise),
        "morning_state": State(int(events.morning_state[k, noon])).name.lower(),
        "evening_utc": None if np.isnan(fall) else iso_utc(fall),
        "evening_state": State(int(events.evening_state[k, noon])).name.lower(),
    }
