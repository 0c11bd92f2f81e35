"""What the chip is told beside the minutes: solar midnight, and four facts for each day.

The facts are kept as runs of days with the same four bits, because they change a few times a
year; solar midnight as a value every 16 days with straight lines between them.
"""

from __future__ import annotations

from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sunsched.plan.year import YearPlan

DARK_EXPECTED = 1
LIGHT_EXPECTED = 2
OPEN_BY_TWILIGHT = 4
CLOSE_BY_TWILIGHT = 8
NODE_DAYS = 16


class Run(NamedTuple):
    """Rows first..last, both included, that share their four facts."""

    first_row: int
    last_row: int
    facts: int


def fact_bits(plan: YearPlan) -> NDArray[np.uint8]:
    """The four facts of each day as one small number (n,)."""
    bits = plan.dark_expected * DARK_EXPECTED + plan.light_expected * LIGHT_EXPECTED
    bits = bits + plan.open_by_twilight * OPEN_BY_TWILIGHT + plan.close_by_twilight * CLOSE_BY_TWILIGHT
    return np.asarray(bits, np.uint8)


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
    rows = np.arange(len(midnight_min))
    count = (len(midnight_min) - 1) // NODE_DAYS + 2
    share = (rows % NODE_DAYS) / NODE_DAYS
    matrix = np.zeros((len(rows) + 1, count))
    matrix[rows, rows // NODE_DAYS] = 1 - share
    matrix[rows, rows // NODE_DAYS + 1] += share
    # A span may end on a node's first day; the node after it has no day of its own then and stays level.
    matrix[-1, -2:] = (-1e-3, 1e-3)
    values = np.append(midnight_min.astype(np.float64), 0.0)
    nodes = np.linalg.lstsq(matrix, values, rcond=None)[0]
    base = int(np.floor(nodes.min()))
    return Midnight(base, tuple(np.rint((nodes - base) * 4).astype(int).tolist()))
