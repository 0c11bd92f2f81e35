"""The apparent Sun seen from the Earth's centre, 1990 to 2052, interpolated between nodes four days apart.

The nodes are package data (sun_nodes.bin), made from the JPL ephemeris DE421 by tools/sun_nodes.py.
"""

from __future__ import annotations

import zlib
from functools import cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sunsched.base.errors import DamagedError, RangeError
from sunsched.base.package_data import package_bytes

Floats = NDArray[np.float64]
Int8s = NDArray[np.int8]
Int32s = NDArray[np.int32]
Bools = NDArray[np.bool_]

STEP_DAYS = 4
FIRST_NODE = 1815  # 1989-11-17, in steps since 1970-01-01
N_NODES = 5781  # to 2053-03-06
FIRST_MIN = 7290 * 1440.0  # 1989-12-17T00:00Z, well inside the nodes: six are needed around a moment
LAST_MIN = 30345 * 1440.0  # 2053-01-30T00:00Z
MAGIC = b"sunnode1"
TURN = 2.0 * np.pi

# Day of 1970-01-01 + n from which TAI - UTC has the value: IERS Bulletin C, leap seconds since 1990
LEAP_DAYS = (7305, 7670, 8217, 8582, 8947, 9496, 10043, 10592, 13149, 14245, 15522, 16617, 17167)
LEAP_SECONDS = (25, 26, 27, 28, 29, 30, 31, 32, 33, 34, 35, 36, 37)
EVEN_SINCE_MIN = LEAP_DAYS[-1] * 1440.0


_AROUND = np.arange(-2, 4)[:, None]
_INVERSE_PRODUCTS = 1.0 / np.array([-120.0, 24.0, -12.0, 12.0, -24.0, 120.0])[:, None]


class Sun(NamedTuple):
    """The apparent geocentric Sun; three arrays of one shape."""

    hour_angle_rad: Floats  # of Greenwich, west positive, not reduced to one turn
    declination_rad: Floats
    distance_au: Floats


def packed(nodes: Int32s) -> bytes:
    """The bytes of sun_nodes.bin: MAGIC, the nodes as little-endian int32, CRC-32 of all before it."""
    body = MAGIC + nodes.astype("<i4").tobytes()
    return body + zlib.crc32(body).to_bytes(4, "little")


def unpacked(data: bytes) -> Int32s:
    """The nodes, shape (3, N_NODES), from the bytes of sun_nodes.bin.

    Raises DamagedError if length, mark or checksum are wrong.
    """
    body = data[:-4]
    wanted = len(MAGIC) + 12 * N_NODES + 4
    if len(data) != wanted or not body.startswith(MAGIC):
        raise DamagedError(f"sun_nodes.bin: got {len(data)} bytes starting {data[:8]!r}; wanted {wanted}, {MAGIC!r}")
    if zlib.crc32(body) != int.from_bytes(data[-4:], "little"):
        raise DamagedError("sun_nodes.bin: its checksum does not fit its contents; install sunsched again")
    return np.asarray(np.frombuffer(body, "<i4", offset=len(MAGIC)).reshape(3, N_NODES))


@cache
def _table() -> Floats:
    """Nodes as (3, N_NODES): hour angle less one turn a day [rad], declination [rad], distance [au]."""
    nodes = unpacked(package_bytes("sunsched.sky", "sun_nodes.bin"))
    milliarcsec = TURN / 1_296_000_000.0
    return np.asarray(nodes * np.array([[milliarcsec], [milliarcsec], [1e-9]]), np.float64)


def even_minus_utc_min(utc_min: Floats) -> Floats | float:
    """Minutes to add to UTC to get a time without leap seconds that agrees with UTC from 2017 on.

    The hour angle as a function of UTC jumps by 15 arcsec at a leap second, which no interpolation can follow.
    No leap second has been announced after 2017; should one come, UTC here means the count without it.
    """
    if utc_min.size == 0 or utc_min.min() >= EVEN_SINCE_MIN:
        return 0.0
    row = np.searchsorted(np.array(LEAP_DAYS) * 1440.0, utc_min, side="right") - 1
    return (np.array((LEAP_SECONDS[0] - 1, *LEAP_SECONDS))[row + 1] - LEAP_SECONDS[-1]) / 60.0


def check_span(first_min: float, last_min: float) -> None:
    """Raise RangeError unless both times [utc_min] lie within the nodes."""
    if not (first_min >= FIRST_MIN and last_min <= LAST_MIN):
        days = [_date_text(minute) for minute in (first_min, last_min)]
        raise RangeError(f"the Sun is known from 1990 to 2052; asked for {days[0]} to {days[1]}")


def _date_text(utc_min: float) -> str:
    """The date of a time, or the number itself where the calendar has no date."""
    return str(np.datetime64(int(utc_min), "m"))[:10] if abs(utc_min) < 4e9 else f"{utc_min:g}"


def slow_sun_at(even_day: Floats) -> Floats:
    """Hour angle of Greenwich less one turn a day and half a turn [rad], declination [rad], distance [au], (3, n).

    even_day   (n,) days since 1970-01-01 in time without leap seconds, within the nodes (not checked here)
    """
    place = even_day / STEP_DAYS - FIRST_NODE
    node = np.floor(place).astype(np.intp)
    slow: Floats = np.einsum("kjn,jn->kn", np.take(_table(), node + _AROUND, axis=1), _weights(place - node))
    return slow


PHASES = 2 * STEP_DAYS  # half-days from a node to the next


def slow_sun_half_days(first_day: Floats, n: int) -> Floats:
    """The same as `slow_sun_at`, (3, ..., n), for n times half a day apart from each of the times (..., 1) on.

    Every eighth time lies alike between its nodes, and places that begin within a few days of each other share nodes.
    """
    steps = -(-n // PHASES)
    place = first_day.reshape(-1, 1) / STEP_DAYS - FIRST_NODE + np.arange(PHASES) / PHASES
    node = np.floor(place).astype(np.intp)
    first = int(node.min()) - 2
    weights = _weights((place - node).ravel())
    nodes = _table()[:, first : int(node.max()) + steps + 3]
    n_rows = nodes.shape[1] - 5
    rows = nodes[:, :n_rows, None] * weights[0]
    for k in range(1, 6):
        rows += nodes[:, k : k + n_rows, None] * weights[k]
    step = (node.ravel() - first - 2) + np.arange(steps)[:, None]
    found = rows[:, step, np.arange(step.shape[1])].reshape(3, steps, *place.shape)
    slow: Floats = np.moveaxis(found, 1, 2).reshape(3, len(place), -1)[..., :n].reshape(3, *first_day.shape[:-1], n)
    return slow


def sun_at(utc_min: Floats) -> Sun:
    """The apparent Sun at times of shape (n,) [utc_min].

    Within 0.05 arcsec of DE421 by Skyfield (tests/sky/test_sun_nodes.py). Raises RangeError outside 1990 to 2052.
    """
    if utc_min.size:
        check_span(float(utc_min.min()), float(utc_min.max()))
    even_day = (utc_min + even_minus_utc_min(utc_min)) / 1440.0
    hour_angle, declination, distance = slow_sun_at(even_day)
    return Sun(hour_angle + TURN * (even_day - np.floor(even_day)) + np.pi, declination, distance)


def _weights(part: Floats) -> Floats:
    """Lagrange's weights of the six nodes -2..3 for a place `part` between nodes 0 and 1, shape (6, n)."""
    a, b, c, d, e, f = part + 2.0, part + 1.0, part, part - 1.0, part - 2.0, part - 3.0
    ab, cd, ef = a * b, c * d, e * f
    cd_ef, ab_ef, ab_cd = cd * ef, ab * ef, ab * cd
    products = (b * cd_ef, a * cd_ef, d * ab_ef, c * ab_ef, f * ab_cd, e * ab_cd)
    return np.stack(products) * _INVERSE_PRODUCTS
