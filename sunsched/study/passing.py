"""When light that is constant for a minute passes a level, for many twilights at once: shapes (n_min, n).

Light that wavers passes a level many times. Its running extreme, the dimmest so far say, only falls or only rises, so
the first passing of any level is found in it by halving. Minima and maxima are exact: their order changes no bit.
"""

from dataclasses import dataclass

import numpy as np

from sunsched.study.weather import Ints, Light

GROUP_MIN = 20  # the minutes of every span of a scene are a multiple of it


def confirmed(light_log: Light, wait_min: int, brightest: bool) -> Light:
    """Brightest (else dimmest) of each minute and the `wait_min` before it, as far as they are held."""
    worst = np.maximum if brightest else np.minimum
    held, width = light_log, 1
    spare: Light | None = None
    while width <= wait_min:
        step = min(width, wait_min + 1 - width)
        longer = np.empty_like(held) if spare is None else spare
        longer[:step] = held[:step]
        worst(held[step:], held[:-step], out=longer[step:])
        spare = None if held is light_log else held
        held, width = longer, width + step
    return held


def proving_stretch(light_log: Light, n_min: int, columns: Ints, level_log: Light, dark: bool) -> Light:
    """The dimmest that the brightest of `n_min` minutes in a row gets, for each of `columns` (m,); else the reverse.

    level_log   (m,) any stretch below it (above it) stands for the dimmest (brightest) one: the first and the last
      are looked at before all others
    """
    worst, best, beyond = (np.maximum, np.minimum, np.less) if dark else (np.minimum, np.maximum, np.greater)
    ends = (light_log[:n_min, columns], light_log[-n_min:, columns])
    found: Light = best(*(worst.reduce(end, axis=0) for end in ends))
    others = np.flatnonzero(~beyond(found, level_log))
    held = confirmed(light_log[:, columns[others]], n_min - 1, dark)
    found[others] = best.reduce(held[n_min - 1 :], axis=0)
    return found


@dataclass(frozen=True)
class Running:
    """The running extreme of light, of each minute and all before it.

    A step from one minute to the next costs a call of numpy however few columns there are. So minutes stand in groups
    and the steps within all groups are taken at once.
    within   (n_groups, GROUP_MIN, n) the extreme from the group's first minute on; the last group is filled up with
      the light's last minute
    whole    (n_groups, n) the extreme from the first minute of all to the end of the group
    """

    n_min: int
    worst: np.ufunc
    within: Light
    whole: Light

    @classmethod
    def of(cls, light_log: Light, worst: np.ufunc) -> "Running":
        """Of one minute or more; `worst` is np.minimum or np.maximum."""
        n_min, n = light_log.shape
        n_groups = -(-n_min // GROUP_MIN)
        if n_groups * GROUP_MIN > n_min:
            fill = np.repeat(light_log[-1:], n_groups * GROUP_MIN - n_min, axis=0)
            light_log = np.concatenate([light_log, fill])
        light = light_log.reshape(n_groups, GROUP_MIN, n)
        within = np.empty_like(light, order="C")
        within[:, 0] = light[:, 0]
        for minute in range(1, GROUP_MIN):
            worst(light[:, minute], within[:, minute - 1], out=within[:, minute])
        whole = within[:, -1].copy()
        for group in range(1, n_groups):
            worst(whole[group], whole[group - 1], out=whole[group])
        return cls(n_min, worst, within, whole)

    def at(self, minute: Ints, columns: Ints) -> Light:
        """The extreme at each `minute` (m,) of each of `columns` (m,)."""
        group, rest = np.divmod(minute, GROUP_MIN)
        within = self.within[group, rest, columns]
        return np.where(group > 0, self.worst(within, self.whole[np.maximum(group - 1, 0), columns]), within)

    def leading(self, level_log: Light, before: np.ufunc) -> Ints:
        """How many leading minutes are `before` each level: np.greater_equal of a minimum, np.less_equal of a maximum.

        level_log  (..., n), any number of levels for each twilight; returns the same shape
        """
        n_groups, _, n = self.within.shape
        column = np.broadcast_to(np.arange(n), np.broadcast_shapes(level_log.shape, (n,)))
        # The last group is looked at below, whether its last minute is before the level or not.
        group = _leading(self.whole, column, n_groups - 1, level_log, before)
        group *= GROUP_MIN
        found = _leading(self.within, group * n + column, GROUP_MIN, level_log, before)
        found += group
        return np.minimum(found, self.n_min, out=found)


def first_below(light_log: Light, level_log: Light) -> Ints:
    """First minute below each level; `n_min` where there is none.

    level_log  (..., n), any number of levels for each twilight; returns the same shape
    """
    return Running.of(light_log, np.minimum).leading(level_log, np.greater_equal)


def first_above(light_log: Light, level_log: Light) -> Ints:
    """First minute above each level; otherwise as `first_below`."""
    return Running.of(light_log, np.maximum).leading(level_log, np.less_equal)


def last_reaching(light_log: Light, level_log: Light) -> Ints:
    """The minute after the last one at or above each level, 0 where there is none; otherwise as `first_below`."""
    return len(light_log) - lightest_to_come(light_log).leading(level_log, np.less)


def lightest_to_come(light_log: Light) -> Running:
    """The lightest of each minute and all after it, the last minute first."""
    return Running.of(light_log[::-1], np.maximum)


def _leading(ordered: Light, first: Ints, n: int, level_log: Light, before: np.ufunc) -> Ints:
    """How many of `n` minutes are before the level: leading ones, `ordered` only falls or only rises in them.

    first   place of the first of them in `ordered` taken flat; a minute further is a row of columns further
    """
    flat, row = ordered.reshape(-1), ordered.shape[-1]
    found = np.zeros(first.shape, dtype=np.int64)
    at, left = first.copy(), n
    while left > 0:
        half = max(left // 2, 1)
        met = before(flat.take(at + (half - 1) * row, mode="clip"), level_log)
        found += met * half
        at += met * (half * row)
        left = left - half if left > 1 else 0
    return found
