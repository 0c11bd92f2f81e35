"""Whether a site's coordinates belong to its zone: a wrong sign, or latitude and longitude exchanged, is asked about.

The zone's own place is known (base/zone_places.py), and a mistake moves a hut far from it. Thresholds come from the
34,006 cities of more than 15,000 people of GeoNames: the farthest lies 3,885 km from its zone's place (Gar,
Asia/Shanghai). Ten of the 34,006 are asked about in vain. Of single mistakes that move a city by more than
1,600 km 94 to 100 % are found, by 800 to 1,600 km 79 to 87 %, by less than 400 km none: the zone is too wide to tell.
"""

from __future__ import annotations

import math

from sunsched.base.warned import Harm, Warned
from sunsched.base.zone_places import zone_place_deg
from sunsched.plan.site import Site

EARTH_RADIUS_KM = 6371.0
ASK_FROM_KM = 800.0  # from here on, if another sign or order would at least halve the distance
FARTHEST_KM = 4000.0  # from here on whatever the reason
# A zone's clock rarely differs from the Sun by more; a wrong sign of the longitude is the usual cause.
MOST_ZONE_GAP_H = 3.5
_TO_DO = (
    "Look at the signs and at the order on a map: north and east are positive. Where the place is right, "
    "place_checked = true in [site] says so."
)
# What a keeper may have meant: the words, whether the two are exchanged, the signs of latitude and longitude.
_MEANT = (
    ("the other sign of longitude_deg", False, 1, -1),
    ("the other sign of latitude_deg", False, -1, 1),
    ("the two exchanged", True, 1, 1),
    ("both signs changed", False, -1, -1),
    ("the two exchanged and a sign changed", True, 1, -1),
    ("the two exchanged and a sign changed", True, -1, 1),
)


def place_text(latitude_deg: float, longitude_deg: float) -> str:
    """A place as a map writes it, without signs: '41.29 S 173.2 E'."""
    north, east = "S" if latitude_deg < 0 else "N", "W" if longitude_deg < 0 else "E"
    return f"{abs(latitude_deg):g} {north} {abs(longitude_deg):g} {east}"


def distance_km(one_deg: tuple[float, float], other_deg: tuple[float, float]) -> float:
    """Great-circle distance of two places (latitude, longitude) [degrees] on a sphere [km]; haversine formula."""
    north, east, other_north, other_east = (math.radians(angle) for angle in (*one_deg, *other_deg))
    half = math.sin((other_north - north) / 2) ** 2
    half += math.cos(north) * math.cos(other_north) * math.sin((other_east - east) / 2) ** 2
    return 2 * EARTH_RADIUS_KM * math.asin(math.sqrt(min(1.0, half)))


def doubtful_place(site: Site) -> Warned | None:
    """What is doubtful about the coordinates, None where nothing is or the keeper has looked."""
    home = zone_place_deg(site.zone)
    if home is None or site.place_checked:
        return None
    away_km = distance_km((site.latitude_deg, site.longitude_deg), home)
    if away_km <= ASK_FROM_KM:
        return None
    text = (
        f"latitude_deg {site.latitude_deg:g} and longitude_deg {site.longitude_deg:g} lie {away_km:.0f} km from the "
        f"place of {site.zone} ({home[0]:.2f}, {home[1]:.2f})"
    )
    would_be = [(distance_km(place, home), words) for words, place in _possible(site)]
    nearest_km, words = min(would_be)
    if nearest_km < away_km / 2:
        return Warned("place", Harm.EVERY_DAY, f"{text}; with {words}: {nearest_km:.0f} km", _TO_DO)
    if away_km > FARTHEST_KM:
        return Warned("place", Harm.EVERY_DAY, f"{text}, farther than any city of a zone", _TO_DO)
    return None


def doubtful_hour(site: Site, standard_offset_h: float) -> Warned | None:
    """What is doubtful about the longitude where the zone has no place of its own: its clock lies far from the Sun's.

    standard_offset_h   the zone's civil time minus UTC without summer time [h]
    """
    gap_h = abs(site.longitude_deg / 15 - standard_offset_h)
    if site.place_checked or min(gap_h, 24 - gap_h) <= MOST_ZONE_GAP_H:
        return None
    text = (
        f"longitude_deg {site.longitude_deg:g} and zone {site.zone} differ by {gap_h:.1f} h of Sun: "
        "check the sign, east is positive"
    )
    return Warned("place", Harm.EVERY_DAY, text, _TO_DO)


def _possible(site: Site) -> list[tuple[str, tuple[float, float]]]:
    given = site.latitude_deg, site.longitude_deg
    found = []
    for words, exchanged, north_sign, east_sign in _MEANT:
        north, east = given[::-1] if exchanged else given
        if abs(north) <= 90:
            found.append((words, (north_sign * north, east_sign * east)))
    return found
