"""A site-year of eight events: ours against astral's loop and Skyfield's finder, in one run, as ratios.

`python -m bench.sky_bench`; `figures()` gives the same numbers to other benchmarks.
"""

from __future__ import annotations

import datetime as dt
import json
import time
from collections.abc import Callable
from contextlib import suppress
from importlib.metadata import version

from sunsched.base.civil_time import date_of, year_days
from sunsched.sky.crossings import altitude_crossings
from sunsched.sky.horizon import SUNRISE_ALTITUDE_DEG, sunrise_sunset

LATITUDE_DEG, LONGITUDE_DEG = 52.0, 5.0
ANGLES_DEG = (SUNRISE_ALTITUDE_DEG, -6.0, -12.0, -18.0)  # mornings and evenings: eight events a day
FIRST_DAY, N_DAYS = year_days(2027)
MOST_OF_ASTRAL, MOST_OF_SKYFIELD = 0.15, 0.04
HILLS = ((60.0, 4.0), (120.0, 9.0), (180.0, 2.0), (250.0, 14.0), (320.0, 3.0))


def ours(n_angles: int = 4) -> None:
    """Our solver for the first n of the angles."""
    altitude_crossings(FIRST_DAY, N_DAYS, LATITUDE_DEG, LONGITUDE_DEG, ANGLES_DEG[:n_angles])


def hilly() -> None:
    """Sunrise and sunset over hills."""
    sunrise_sunset(FIRST_DAY, N_DAYS, LATITUDE_DEG, LONGITUDE_DEG, 0.0, HILLS)


def astral_loop() -> Callable[[], None]:
    """The loop that astral asks for: one call an event, ValueError where there is none."""
    from astral import Observer, SunDirection
    from astral.sun import time_at_elevation

    observer = Observer(LATITUDE_DEG, LONGITUDE_DEG, 0.0)
    dates: list[dt.date] = [date_of(day) for day in range(FIRST_DAY, FIRST_DAY + N_DAYS)]

    def loop() -> None:
        for date in dates:
            for angle in ANGLES_DEG:
                for direction in (SunDirection.RISING, SunDirection.SETTING):
                    with suppress(ValueError):
                        time_at_elevation(observer, angle, date, direction)

    return loop


def skyfield_finder() -> Callable[[], None]:
    """Skyfield's find_risings and find_settings over the year; ephemeris and time scale are open already."""
    from skyfield.almanac import find_risings, find_settings
    from skyfield.api import wgs84

    from sunsched.sky.make_sun_nodes import de421, timescale

    def finder() -> None:
        with de421() as ephemeris:
            observer = ephemeris["earth"] + wgs84.latlon(LATITUDE_DEG, LONGITUDE_DEG)
            span = timescale().utc(2027, 1, 1), timescale().utc(2028, 1, 1)
            for angle in ANGLES_DEG:
                find_risings(observer, ephemeris["sun"], *span, horizon_degrees=angle)
                find_settings(observer, ephemeris["sun"], *span, horizon_degrees=angle)

    return finder


def best_ms(rivals: dict[str, Callable[[], None]], rounds: int = 7) -> dict[str, float]:
    """The fastest of several rounds of each, taken in turn so that a busy machine slows all alike [ms]."""
    best = dict.fromkeys(rivals, float("inf"))
    for _ in range(rounds):
        for name, run in rivals.items():
            # a rival in the middle of its own caches: once unmeasured, then measured
            run()
            start = time.perf_counter()
            run()
            best[name] = min(best[name], (time.perf_counter() - start) * 1e3)
    return best


def figures() -> dict[str, float | str | bool]:
    """Times of a site-year [ms], ratios and whether they keep within the limits, versions of the rivals."""
    took = best_ms({"ours": ours, "astral": astral_loop(), "skyfield": skyfield_finder()})
    more = best_ms({"two_angles": lambda: ours(2), "hilly": hilly})
    to_astral, to_skyfield = took["ours"] / took["astral"], took["ours"] / took["skyfield"]
    return {
        "site_year_8_events_ms": round(took["ours"], 3),
        "site_year_4_events_ms": round(more["two_angles"], 3),
        "site_year_over_hills_ms": round(more["hilly"], 3),
        "astral_loop_ms": round(took["astral"], 2),
        "skyfield_finder_ms": round(took["skyfield"], 2),
        "ratio_to_astral": round(to_astral, 4),
        "ratio_to_skyfield": round(to_skyfield, 4),
        "within_limits": to_astral <= MOST_OF_ASTRAL and to_skyfield <= MOST_OF_SKYFIELD,
        "most_of_astral": MOST_OF_ASTRAL,
        "most_of_skyfield": MOST_OF_SKYFIELD,
        **{f"{package}_version": version(package) for package in ("numpy", "astral", "skyfield", "skyfield-data")},
    }


if __name__ == "__main__":
    print(json.dumps(figures(), indent=2))
