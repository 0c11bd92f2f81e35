"""Where each time zone's own place lies: zone.tab and zone1970.tab of the tzdata package, in the public domain."""

from __future__ import annotations

import re
from functools import lru_cache

from sunsched.base.package_data import package_bytes

# Degrees, minutes and perhaps seconds of latitude and longitude, ISO 6709: +4723+00832, +404251-0740023.
_PLACE = re.compile(r"([+-])(\d\d)(\d\d)(\d\d)?([+-])(\d{3})(\d\d)(\d\d)?")


def zone_place_deg(zone: str) -> tuple[float, float] | None:
    """Latitude and longitude of the zone's own place [degrees, north and east positive]; None for Etc/UTC and its like.

    Of the places that zone.tab names the one of the zone itself; another name of a zone has that zone's place.
    """
    return _places().get(zone) or _places().get(_links().get(zone, ""))


@lru_cache(maxsize=1)
def _places() -> dict[str, tuple[float, float]]:
    found = {}
    for table in ("zone1970.tab", "zone.tab"):
        for line in package_bytes("tzdata", "zoneinfo", table).decode("utf-8").splitlines():
            parts = line.split("\t")
            place = _PLACE.fullmatch(parts[1]) if len(parts) > 2 and not line.startswith("#") else None
            if place is not None:
                found[parts[2]] = _degrees(*place.groups()[:4]), _degrees(*place.groups()[4:])
    return found


def _degrees(sign: str, degrees: str, minutes: str, seconds: str | None) -> float:
    value = int(degrees) + int(minutes) / 60 + int(seconds or 0) / 3600
    return -value if sign == "-" else value


@lru_cache(maxsize=1)
def _links() -> dict[str, str]:
    """Each other name of a zone with the zone that it means."""
    lines = package_bytes("tzdata", "zoneinfo", "tzdata.zi").decode("utf-8").splitlines()
    return {name: zone for _, zone, name in (line.split() for line in lines if line.startswith("L "))}
