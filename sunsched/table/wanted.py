"""The input of a codec: for each side and day, the range of accepted minutes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sunsched.plan.year import NO_MINUTE

FREE = 20_000
Minutes = NDArray[np.int32]


@dataclass(frozen=True, slots=True)
class Wanted:
    """For each of y years, 2 sides and n days the least and the greatest accepted minute.

    least, greatest   (y, 2, n) [chip minutes]; -FREE and FREE where any minute is accepted. Both NO_MINUTE
      on a day when the door stays down and no rule says so.
    first_year   of the y years, which follow each other; day 0 is 1 January
    guide   (2, n) [chip minutes] a smooth path near the minutes, to search along
    """

    least: Minutes
    greatest: Minutes
    first_year: int
    guide: NDArray[np.float64]

    @property
    def n_years(self) -> int:
        """The number of years that the table must serve."""
        return len(self.least)

    @property
    def n_days(self) -> int:
        """Days of the longest year."""
        return int(self.least.shape[2])

    @property
    def has_shut_days(self) -> bool:
        """True if on some day the codec itself must say that the door stays down."""
        return bool((self.least == NO_MINUTE).any())

    def holds(self, minutes: Minutes) -> bool:
        """Whether decoded minutes (y, 2, n) all lie where they should."""
        return bool(((self.least <= minutes) & (minutes <= self.greatest)).all())


def smooth_guide(least: Minutes, greatest: Minutes) -> NDArray[np.float64]:
    """A path (2, n) through the middle of the wanted range (2, n), straight across free days."""
    rows = np.arange(least.shape[1])
    path = np.zeros(least.shape)
    for side in (0, 1):
        bound = (least[side] > -FREE) & (greatest[side] < FREE) & (least[side] != NO_MINUTE)
        if bound.any():
            middle = (least[side] + greatest[side]) / 2
            path[side] = np.interp(rows, rows[bound], middle[bound])
    return path
