"""Whole years at random places against Skyfield's own finder: `python -m tests.sky.skyfield_proof [N_SITES]`.

Prints what was compared and found; ends with 1 when an event differs by more than is allowed or has no partner. The
tests run the first two dozen of the 300 places.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from sunsched.base.civil_time import iso_utc, year_days
from sunsched.sky.crossings import altitude_crossings
from sunsched.sky.second_opinion import Agreement, agreement, skyfield_events

N_SITES = 300
SEED = 20270621
# the finder's flag and ours must agree on every event; beyond 60 degrees the Sun sinks so slowly that 0.01 arcsec count
ALLOWED_S = ((60.0, 1.0), (90.0, 2.0))


class Place(NamedTuple):
    """One site-year of the proof, with the depressions asked for."""

    latitude_deg: float
    longitude_deg: float
    year: int
    depressions_deg: tuple[float, ...]

    @property
    def allowed_s(self) -> float:
        """The largest difference allowed [s]."""
        return next(seconds for limit, seconds in ALLOWED_S if abs(self.latitude_deg) <= limit)


def places(n_sites: int = N_SITES) -> Iterator[Place]:
    """The first n places: latitudes to 89 degrees, years 1990 to 2052, sunrise, twilights and more."""
    draw = np.random.default_rng(SEED)
    for _ in range(n_sites):
        others = draw.uniform(0.8333, 18.0, 4)
        yield Place(
            float(draw.uniform(-89.0, 89.0)),
            float(draw.uniform(-180.0, 180.0)),
            int(draw.integers(1990, 2053)),
            (0.8333, 6.0, 12.0, 18.0, *(float(other) for other in others)),
        )


def compared(place: Place) -> list[Agreement]:
    """Our year against Skyfield's, one answer for each depression."""
    angles = [-depression for depression in place.depressions_deg]
    ours = altitude_crossings(*year_days(place.year), place.latitude_deg, place.longitude_deg, angles)
    span = float(ours.midnight_utc_min[0]), float(ours.midnight_utc_min[-1])
    theirs = skyfield_events(*span, place.latitude_deg, place.longitude_deg, angles)
    return [agreement(ours, theirs, k) for k in range(len(angles))]


def faults(place: Place, found: list[Agreement]) -> list[str]:
    """What must not be, in words."""
    where = f"{place.latitude_deg:.3f} {place.longitude_deg:.3f} {place.year}"
    words = []
    for depression, result in zip(place.depressions_deg, found, strict=True):
        if result.worst_s > place.allowed_s:
            words.append(f"{where} at {depression:.4f}: {result.worst_s:.2f} s apart")
        for name, lone in (("only ours", result.only_ours), ("only Skyfield's", result.only_theirs)):
            words += [f"{where} at {depression:.4f}: {name} {iso_utc(float(time))}" for time in lone]
    return words


def main(n_sites: int) -> int:
    """Print the proof."""
    bands: dict[float, list[Agreement]] = {limit: [] for limit, _ in ALLOWED_S}
    wrong, grazing = [], []
    for place in places(n_sites):
        found = compared(place)
        bands[next(limit for limit in bands if abs(place.latitude_deg) <= limit)] += found
        wrong += faults(place, found)
        for depression, result in zip(place.depressions_deg, found, strict=True):
            where = f"{place.latitude_deg:8.3f} {place.longitude_deg:9.3f} {depression:8.4f}"
            grazing += [f"  {where}  {iso_utc(float(noon))}" for noon in result.grazing_utc_min]
    for limit, results in bands.items():
        apart = np.concatenate([result.apart_s for result in results] or [np.zeros(0)])
        worst, rms = (np.abs(apart).max(), np.sqrt(np.mean(apart**2))) if apart.size else (0.0, 0.0)
        print(f"to {limit:.0f} degrees: {apart.size} events, {worst:.3f} s apart at most, {rms:.3f} s RMS")
    print(f"{len(grazing)} days left out, an extreme within 0.01 degrees of the angle; where, depression, noon:")
    print("\n".join(grazing))
    print(f"{len(wrong)} faults")
    print("\n".join(wrong))
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else N_SITES))
