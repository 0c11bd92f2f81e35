"""When light that is constant for a minute passes a level, for many twilights at once: shapes (n_min, n)."""

import numpy as np

from sunsched.study.weather import Ints, Light


def confirmed(light_log: Light, wait_min: int, brightest: bool) -> Light:
    """Brightest (else dimmest) of each minute and the `wait_min` before it, as far as they are held."""
    worst = np.maximum if brightest else np.minimum
    held, width = light_log, 1
    while width <= wait_min:
        step = min(width, wait_min + 1 - width)
        longer = held.copy()
        worst(held[step:], held[:-step], out=longer[step:])
        held, width = longer, width + step
    return held


def first_below(light_log: Light, level_log: Light) -> Ints:
    """First minute below each level; `n_min` where there is none.

    level_log  (..., n), any number of levels for each twilight; returns the same shape
    """
    return passed_below(least_so_far(light_log), level_log)


def first_above(light_log: Light, level_log: Light) -> Ints:
    """First minute above each level; otherwise as `first_below`."""
    return _halved(_running(np.maximum, light_log), level_log, np.less_equal)


def last_reaching(light_log: Light, level_log: Light) -> Ints:
    """The minute after the last one at or above each level, 0 where there is none; otherwise as `first_below`."""
    return passed_below(most_to_come(light_log), level_log)


def least_so_far(light_log: Light) -> Light:
    """The dimmest of each minute and all before it."""
    return _running(np.minimum, light_log)


def most_to_come(light_log: Light) -> Light:
    """The brightest of each minute and all after it."""
    return np.ascontiguousarray(_running(np.maximum, light_log[::-1])[::-1])


def passed_below(falling_log: Light, level_log: Light) -> Ints:
    """How many leading minutes of light that only falls reach each level; levels and result as of `first_below`."""
    return _halved(falling_log, level_log, np.greater_equal)


def _running(worst: np.ufunc, light_log: Light) -> Light:
    """Running minimum or maximum along the minutes: a row at a time, seven times faster than `accumulate`."""
    run = light_log.copy()
    for minute in range(1, len(run)):
        worst(run[minute], run[minute - 1], out=run[minute])
    return run


def _halved(ordered: Light, level_log: Light, before: np.ufunc) -> Ints:
    """How many leading minutes of each column are `before` its level, by halving: columns only fall or only rise."""
    n_min, n = ordered.shape
    columns = np.arange(n)
    flat = np.ascontiguousarray(ordered).ravel()
    low = np.zeros(np.broadcast_shapes(level_log.shape, (n,)), dtype=np.int64)
    high = np.full_like(low, n_min)
    for _ in range(n_min.bit_length()):
        middle = (low + high) // 2
        short = before(flat.take(np.minimum(middle, n_min - 1) * n + columns), level_log) & (middle < high)
        low, high = np.where(short, middle + 1, low), np.where(short, high, middle)
    return low
