"""What the chip gets beside the minutes: solar midnight, and four facts for each day.

The facts are kept as runs of days with the same four bits, because they change a few times a
year; solar midnight as a value every 16 days with straight lines between them.
"""

from __future__ import annotations

import functools
from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sunsched.plan.year import FACTS, NO_MINUTE, YearPlan

_BITS = {fact.name: fact.bit for fact in FACTS}
_BY_TWILIGHT = (_BITS["open_by_twilight"], _BITS["close_by_twilight"])
_ALL_FACTS = sum(_BITS.values())
NODE_DAYS = 16
_NO_CHANGE = 63  # days that pass without a change of facts


class Run(NamedTuple):
    """Rows first..last, both included, that share their four facts."""

    first_row: int
    last_row: int
    facts: int


def runs(bits: NDArray[np.uint8]) -> tuple[Run, ...]:
    """The days of `bits` as runs of equal facts."""
    edges = [0, *(np.flatnonzero(np.diff(bits)) + 1).tolist(), len(bits)]
    return tuple(Run(a, b - 1, int(bits[a])) for a, b in pairwise(edges))


class Midnight(NamedTuple):
    """Solar midnight through a year: a whole minute, and quarter minutes above it at every 16th row.

    base_min   [chip minutes]
    above   unsigned bytes [quarter minutes], one for rows 0, 16, 32 ... and one past the last
    """

    base_min: int
    above: tuple[int, ...]

    def at(self, rows: NDArray[np.int64]) -> NDArray[np.int64]:
        """Solar midnight of rows [chip minutes], in the unsigned arithmetic of the C reader."""
        above = np.array(self.above, np.int64)
        node, part = rows // NODE_DAYS, rows % NODE_DAYS
        return self.base_min + ((above[node] * (NODE_DAYS - part) + above[node + 1] * part + 32) >> 6)


def midnight_nodes(midnight_min: NDArray[np.int16]) -> Midnight:
    """Solar midnight as nodes that straight lines join, within a minute of each row.

    Over 16 days a straight line leaves the equation of time by 0.4 min at most (its second difference is
    below 0.012 min per day squared); fitting the nodes to all rows halves that.
    """
    values = np.append(midnight_min.astype(np.float64), 0.0)
    nodes = _fit(len(midnight_min)) @ values
    base = int(np.floor(nodes.min()))
    return Midnight(base, tuple(np.rint((nodes - base) * 4).astype(int).tolist()))


@functools.lru_cache(8)
def _fit(n_rows: int) -> NDArray[np.float64]:
    """What gives the nodes of least squares from the rows and a 0."""
    rows = np.arange(n_rows)
    count = (n_rows - 1) // NODE_DAYS + 2
    share = (rows % NODE_DAYS) / NODE_DAYS
    matrix = np.zeros((n_rows + 1, count))
    matrix[rows, rows // NODE_DAYS] = 1 - share
    matrix[rows, rows // NODE_DAYS + 1] += share
    # A span may end on a node's first day; the node after it has no day of its own then and stays level.
    matrix[-1, -2:] = (-1e-3, 1e-3)
    return np.asarray(np.linalg.pinv(matrix), np.float64)


# How late solar noon is, plus 17 min [quarter minutes], on 1 January and every 16 days after, lines between: the
# mean of 2020 to 2049 by least squares; no noon of those years is further than 0.93 min. The C reader has the same.
LATE_QUARTERS = (
    84, 110, 124, 124, 113, 95, 76, 60, 53, 55, 66, 80, 92, 95, 88, 72, 50, 27, 9, 1, 7, 27, 57, 89,
)  # fmt: skip


def late_quarters(rows: NDArray[np.int64]) -> NDArray[np.int64]:
    """The lateness of solar noon, plus 17 min, on days of a year [quarter minutes]."""
    late = np.array(LATE_QUARTERS, np.int64)
    node, part = rows >> 4, rows & 15
    return np.asarray((late[node] * (16 - part) + late[node + 1] * part + 8) >> 4)


def fact_block(plans: Sequence[YearPlan]) -> bytes:
    """The facts of an image: mean solar midnight, and the day's facts as changes.

    For many years a fact holds on a day only if it holds in each year in which the door moves then. Weekdays on
    which twilight never decides (because a weekday's shift does) are stored once, not as a change each week.
    """
    least_days = min(plan.n_days for plan in plans)
    rows = np.arange(least_days)
    # A plan's solar midnight is without summer time; a chip that keeps civil time adds it.
    middle = np.mean([plan.midnight_min[:least_days] for plan in plans], axis=0)
    constant = int(np.rint(np.mean(middle * 4 - late_quarters(rows))))
    masks = bytes(_never_on(plans, bit) for bit in _BY_TWILIGHT)
    bits = np.full(max(plan.n_days for plan in plans), _ALL_FACTS, np.uint8)
    for plan in plans:
        bits[: plan.n_days] &= _filled(plan.first_day, plan.fact_bits, masks) | unasked(plan, len(plans))
    data = bytearray(constant.to_bytes(2, "little", signed=True))
    data.append(int(bits[0]) | (16 if any(masks) else 0))
    data += masks if any(masks) else b""
    last = 0
    for row in np.flatnonzero(np.diff(bits)) + 1:
        while row - last >= _NO_CHANGE:
            data.append(_NO_CHANGE << 2)
            last += _NO_CHANGE
        for number in range(4):
            if (bits[row] ^ bits[row - 1]) >> number & 1:
                data.append(int(row - last) << 2 | number)
                last = int(row)
    return bytes(data)


def unasked(plan: YearPlan, n_years: int) -> NDArray[np.uint8]:
    """What decided a minute that is not there: nobody asks, so an order of one year takes nothing from the others."""
    if n_years == 1:
        return np.zeros(plan.n_days, np.uint8)
    opening, closing = _BY_TWILIGHT
    shut = (plan.open_min == NO_MINUTE) * opening + (plan.close_min == NO_MINUTE) * closing
    return np.asarray(shut, np.uint8)


def _never_on(plans: Sequence[YearPlan], bit: int) -> int:
    """Weekdays (bit 0 Monday) on which a fact never holds, if it holds on some others."""
    ever = np.zeros(7, np.bool_)
    for plan in plans:
        ever |= np.bincount((plan.days + 3) % 7, weights=(plan.fact_bits & bit) > 0, minlength=7) > 0
    return int(sum(1 << day for day in range(7) if not ever[day])) if ever.any() else 0


def _filled(first_day: int, bits: NDArray[np.uint8], masks: bytes) -> NDArray[np.uint8]:
    """Facts with the masked weekdays as the nearest day before that is not masked, so that runs stay long."""
    out = bits.copy()
    weekday = (first_day + np.arange(len(bits)) + 3) % 7
    for bit, mask in zip(_BY_TWILIGHT, masks, strict=True):
        kept = np.flatnonzero(mask >> weekday & 1 == 0)
        source = kept[np.clip(np.searchsorted(kept, np.arange(len(bits)), side="right") - 1, 0, None)]
        out = np.asarray((out & ~np.uint8(bit)) | (bits[source] & bit), np.uint8)
    return out


def block_facts(data: bytes, first_day: int, n_days: int) -> NDArray[np.uint8]:
    """The facts of each day of a year (n,), as the C reader gives them. Raises ValueError if cut short."""
    if len(data) < 3 or (data[2] & 16 and len(data) < 5):
        raise ValueError("the facts are cut short")
    out = np.full(n_days, data[2] & 15, np.uint8)
    at, row = (5 if data[2] & 16 else 3), 0
    for change in data[at:]:
        row += change >> 2
        if change >> 2 != _NO_CHANGE:
            out[row:] ^= np.uint8(1 << (change & 3))
    if data[2] & 16:
        weekday = (first_day + np.arange(n_days) + 3) % 7
        for bit, mask in zip(_BY_TWILIGHT, data[3:5], strict=True):
            out[mask >> weekday & 1 == 1] &= ~np.uint8(bit)
    return out


def block_midnight_min(data: bytes, n_days: int) -> NDArray[np.int64]:
    """Solar midnight of each day of a year (n,) [chip minutes without summer time], as the C reader gives it."""
    constant = int.from_bytes(data[:2], "little", signed=True)
    return (constant + late_quarters(np.arange(n_days)) + 2) >> 2
