"""The same events from Skyfield's own finder and from astral: for checks, never for a table.

Both libraries are imported only when asked.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from typing import Any, NamedTuple

import numpy as np

from sunsched.base.errors import RangeError
from sunsched.sky import sun_nodes
from sunsched.sky.crossings import GRAZING_DEG, Crossings
from sunsched.sky.sun_nodes import Bools, Floats

J1970_JD = 2440587.5
TT_MINUS_EVEN_MIN = (32.184 + sun_nodes.LEAP_SECONDS[-1]) / 60.0
ASTRAL_LATITUDE_LIMIT_DEG = 58.0  # above it astral misses or misplaces events of short nights
EPOCH = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)


class Events(NamedTuple):
    """Risings and settings through k angles in a span, k arrays each, in order of time [utc_min]."""

    rise_utc_min: list[Floats]
    set_utc_min: list[Floats]


class Agreement(NamedTuple):
    """Our events against another finder's for one angle, risings and settings together.

    apart_s        differences of the events that both have, ours minus theirs [s]
    only_ours, only_theirs   events without a partner [utc_min]
    grazing_utc_min   solar noons of days whose extreme lies within 0.01 degrees of the angle: left out of the others
    """

    apart_s: Floats
    only_ours: Floats
    only_theirs: Floats
    grazing_utc_min: Floats

    @property
    def worst_s(self) -> float:
        """The largest difference [s], 0 without events."""
        return float(np.abs(self.apart_s).max(initial=0.0))


def skyfield_events(
    first_min: float, last_min: float, latitude_deg: float, longitude_deg: float, angles_deg: Sequence[float]
) -> Events:
    """Events between two times [utc_min] by Skyfield's find_risings and find_settings on DE421.

    Skyfield gives a time even where nothing rises; its flags mask those times.
    """
    from skyfield.almanac import find_risings, find_settings
    from skyfield.api import wgs84

    from sunsched.sky.make_sun_nodes import de421, timescale

    ends = np.array([first_min - 1440.0, last_min + 1440.0])
    ends_tt = J1970_JD + (ends + sun_nodes.even_minus_utc_min(ends) + TT_MINUS_EVEN_MIN) / 1440.0
    span = [timescale().tt_jd(end) for end in ends_tt]
    with de421() as ephemeris:
        observer = ephemeris["earth"] + wgs84.latlon(latitude_deg, longitude_deg)

        def events(find: Callable[..., Any], angle_deg: float) -> Floats:
            t, happens = find(observer, ephemeris["sun"], *span, horizon_degrees=angle_deg)
            even_min = ((t.whole - J1970_JD) + t.tt_fraction)[happens] * 1440.0 - TT_MINUS_EVEN_MIN
            return _within(even_min - sun_nodes.even_minus_utc_min(even_min), first_min, last_min)

        rises = [events(find_risings, angle) for angle in angles_deg]
        return Events(rises, [events(find_settings, angle) for angle in angles_deg])


def skyfield_sun_deg(utc_min: Floats, latitude_deg: float, longitude_deg: float) -> tuple[Floats, Floats]:
    """Altitude without refraction and azimuth of the Sun by Skyfield on DE421, two arrays (n,) [degrees]."""
    from skyfield.api import wgs84

    from sunsched.sky.make_sun_nodes import de421, timescale

    even_min = utc_min + sun_nodes.even_minus_utc_min(utc_min)
    with de421() as ephemeris:
        observer = ephemeris["earth"] + wgs84.latlon(latitude_deg, longitude_deg)
        when = timescale().tt_jd(J1970_JD + (even_min + TT_MINUS_EVEN_MIN) / 1440.0)
        altitude, azimuth, _ = observer.at(when).observe(ephemeris["sun"]).apparent().altaz()
    return np.asarray(altitude.degrees), np.asarray(azimuth.degrees)


def astral_events(
    first_min: float, last_min: float, latitude_deg: float, longitude_deg: float, angles_deg: Sequence[float]
) -> Events:
    """Events between two times [utc_min] by astral, an independent formula: within 5 s at 52 N, 20 s at 58.

    Without refraction, which astral otherwise adds to twilight too (civil dusk 26 s late at 52 N). An event
    beside an extreme may be missing. Raises RangeError above 58 degrees.
    """
    from astral import Observer, SunDirection
    from astral.sun import time_at_elevation

    if not abs(latitude_deg) <= ASTRAL_LATITUDE_LIMIT_DEG:
        raise RangeError(f"latitude {latitude_deg:g} degrees; astral is asked only up to {ASTRAL_LATITUDE_LIMIT_DEG:g}")
    observer = Observer(latitude_deg, longitude_deg, 0.0)
    days = range(int(first_min // 1440) - 1, int(last_min // 1440) + 2)

    def events(direction: Any, angle_deg: float) -> Floats:
        times = []
        for day in days:
            date = dt.date(1970, 1, 1) + dt.timedelta(days=day)
            try:
                moment = time_at_elevation(observer, angle_deg, date, direction, with_refraction=False)
            except ValueError:  # astral raises this when the Sun does not reach the angle on that date
                continue
            times.append((moment - EPOCH).total_seconds() / 60.0)
        return _without_repeats(_within(np.array(sorted(times)), first_min, last_min))

    return Events(
        [events(SunDirection.RISING, angle) for angle in angles_deg],
        [events(SunDirection.SETTING, angle) for angle in angles_deg],
    )


def agreement(ours: Crossings, theirs: Events, k: int, pair_within_min: float = 30.0) -> Agreement:
    """Compare our crossings of angle k with another finder's over the same span, midnight 0 to midnight n."""
    grazing = ours.margin_deg[k] < GRAZING_DEG
    pairs = [
        _paired(_kept(mine, ours, grazing), _kept(other, ours, grazing), pair_within_min)
        for mine, other in (
            (ours.rise_utc_min[k], theirs.rise_utc_min[k]),
            (ours.set_utc_min[k], theirs.set_utc_min[k]),
        )
    ]
    apart, only_ours, only_theirs = (np.concatenate(parts) for parts in zip(*pairs, strict=True))
    return Agreement(apart, only_ours, only_theirs, ours.noon_utc_min[grazing])


def _kept(events: Floats, ours: Crossings, grazing: Bools) -> Floats:
    """Events of days that do not graze the angle."""
    events = events[~np.isnan(events)]
    day = np.searchsorted(ours.midnight_utc_min, events, side="right") - 1
    return events[~grazing[np.clip(day, 0, grazing.size - 1)]]


def _paired(ours: Floats, theirs: Floats, within_min: float) -> tuple[Floats, Floats, Floats]:
    """Differences [s] of nearest events, and what is left on either side."""
    if not ours.size or not theirs.size:
        return np.zeros(0), ours, theirs
    near = np.abs(ours[:, None] - theirs[None, :])
    mine, other = near.argmin(axis=1), near.argmin(axis=0)
    both = (mine[other[mine]] == mine) & (other[mine] == np.arange(ours.size))
    both &= near[np.arange(ours.size), mine] <= within_min
    apart_s = (ours[both] - theirs[mine[both]]) * 60.0
    return apart_s, ours[~both], np.delete(theirs, mine[both])


def _within(utc_min: Floats, first_min: float, last_min: float) -> Floats:
    return utc_min[(utc_min > first_min) & (utc_min < last_min)]


def _without_repeats(utc_min: Floats) -> Floats:
    """Two calendar dates may be given the same event."""
    return utc_min[np.diff(utc_min, prepend=-np.inf) > 5.0]
