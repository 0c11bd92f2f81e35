"""What it would cost, and whom it would let in, to raise the door once more after the light has closed it.

Rule O5 of controller/RULES.md: some minutes after a closing by light, and not after the end of the evening's window,
the door goes up once for a stated time. A bird that has come meanwhile is waiting, or comes while it is up. Birds that
walk out again, and what else walks in, are not modelled.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sunsched.study.weather import Floats

if TYPE_CHECKING:
    from sunsched.study.block import Block


@dataclass(frozen=True)
class SecondChance:
    """How long after the closing it comes, and how long the door is up."""

    after_min: int = 10
    for_s: int = 180

    @property
    def words(self) -> str:
        """For a table's note."""
        return f"{self.for_s} s, {self.after_min} min after a closing by light"


def let_in(block: Block) -> Floats:
    """For each year and share of followers (n_years, n_follow, 3): birds let in, minutes more open, nights used.

    Of the configuration's own clock and light; zeros where it has none. Minutes are the night's mean, after the last
    bird. A closing in the planned minute counts as one by light: a doubted cell is rare in these worlds.
    """
    stage, n_years, n_days = block.stage, block.years.n_years, block.stage.scene.n_days
    found = np.zeros((n_years, len(stage.follow_light), 3))
    own = [n for n, s in enumerate(stage.settings) if s.strategy == "both" and s.role == "own"]
    if not own or not block.flock.birds:
        return found
    closed = block.close_min[own[0]]
    window_end = np.tile(stage.settings[own[0]].planned_min(True), n_years) + stage.settings[own[0]].window(True)[1]
    up_min = closed + stage.second_chance.after_min
    with np.errstate(invalid="ignore"):
        used = (closed < window_end) & (up_min <= window_end)
    down_min = up_min + stage.second_chance.for_s / 60.0
    nights = np.maximum(np.count_nonzero(~np.isnan(closed).reshape(n_years, n_days), axis=1), 1)
    for number, birds_in in enumerate(block.birds_in_min):
        with np.errstate(invalid="ignore"):
            late = (birds_in > closed) & (birds_in <= down_min) & used
        last = np.where(late, birds_in, -np.inf).max(axis=0)
        more = np.where(used, down_min - np.maximum(up_min, last), 0.0)
        n_late = np.count_nonzero(late, axis=0) * (stage.birds / block.flock.birds)
        by_year = [values.reshape(n_years, n_days).sum(axis=1) for values in (n_late, more, used)]
        found[:, number] = np.stack([by_year[0], by_year[1] / nights, by_year[2]], axis=1)
    return found
