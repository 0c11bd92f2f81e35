"""When the door may move on each day of a plan: the light's window around the planned minute, as rules E and D have it.

A keeper's limit, not_before or not_after, binds the planned minute. The window lies around the planned minute whatever
decided it, so where the light may act the door may move by light beyond the limit, by cell_until_min at most (or before
it, by cell_from_min). Whoever wants a limit that nothing passes sets no window, or one that ends at the planned minute.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sunsched.base.civil_time import DAY_MIN
from sunsched.controller.door_plan import LEAST_AFTER_NOON_MIN
from sunsched.controller.door_state import HALF_DAY_MIN
from sunsched.plan.planning import variant_rows
from sunsched.plan.rules import MomentRule, Rules
from sunsched.plan.year import NO_MINUTE, YearPlan

# After the last minute in which the door may still move: its travel and three tries a minute apart.
TRIES_MIN = 10
Minutes = NDArray[np.int64]


class Windows(NamedTuple):
    """The first and the last minute in which a healthy door moves on each row (n,).

    Chip minutes after the midnight of the row's date, NO_MINUTE where the door stays down. Both are the planned minute
    where the clock alone decides.
    """

    first_min: Minutes
    last_min: Minutes


def evening_windows(plan: YearPlan, rules: Rules) -> Windows:
    """The closings: never before two hours after noon by light, never past the middle of the night."""
    close, noon = plan.close_min.astype(np.int64), plan.noon_min.astype(np.int64)
    least = np.minimum(noon + LEAST_AFTER_NOON_MIN, close)
    from_min, until_min = _minutes(plan, rules, True)
    middle = _middles(plan)
    first = np.minimum(np.maximum(close + from_min, least), middle)
    last = np.minimum(close + until_min, middle)
    return _known(plan, np.where(from_min == until_min, close + from_min, first), last)


def morning_windows(plan: YearPlan, rules: Rules) -> Windows:
    """The openings: never by light before the middle of the night."""
    opens = plan.open_min.astype(np.int64)
    from_min, until_min = _minutes(plan, rules, False)
    middle = np.concatenate([[np.iinfo(np.int64).min], _middles(plan)[:-1] - DAY_MIN])
    return _known(plan, np.maximum(opens + from_min, middle), opens + until_min)


def _minutes(plan: YearPlan, rules: Rules, evening: bool) -> tuple[Minutes, Minutes]:
    """cell_from_min and cell_until_min of each row's rule (n,); both 0: the clock alone."""
    civil_day = (plan.utc_min(plan.noon_min) + plan.civil_offset_min) // DAY_MIN
    found = np.zeros((2, plan.n_days), np.int64)
    rows_of = variant_rows(rules, civil_day.astype(np.int64))
    for variant, rows in zip(rules.variants(), rows_of, strict=True):
        rule: MomentRule = variant.evening if evening else variant.morning
        found[0, rows], found[1, rows] = rule.cell_from_min, rule.cell_until_min
    return found[0], found[1]


def _middles(plan: YearPlan) -> Minutes:
    """Where the program turns from an evening's rules to the morning's (n,) [chip minutes of the evening's date]."""
    close, noon = plan.close_min.astype(np.int64), plan.noon_min.astype(np.int64)
    opens = np.full(plan.n_days, NO_MINUTE, np.int64)
    opens[:-1] = plan.open_min[1:]
    both = (close != NO_MINUTE) & (opens != NO_MINUTE)
    return np.where(both, noon + (close - noon + opens + DAY_MIN - noon) // 2, noon + HALF_DAY_MIN)


def _known(plan: YearPlan, first: Minutes, last: Minutes) -> Windows:
    down = plan.open_min == NO_MINUTE
    return Windows(np.where(down, NO_MINUTE, first), np.where(down, NO_MINUTE, np.maximum(first, last)))
