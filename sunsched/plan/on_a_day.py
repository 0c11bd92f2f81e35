"""What holds on one date: its rule, the kept-in entry that covers it, and when to look after the door has moved."""

from __future__ import annotations

import numpy as np

from sunsched.base.civil_time import month_day
from sunsched.plan.rules import KeptIn, MomentRule, Rules

# After the last minute in which the door may still move: its travel and three tries a minute apart.
TRIES_MIN = 10


def rule_on(rules: Rules, day: int, evening: bool) -> MomentRule:
    """The rule that holds on a date [day number]: the season's where one covers it."""
    date = _month_day(day)
    own, *seasons = rules.variants()
    for variant in (*seasons, own):
        if any(first <= date <= last for first, last in variant.spans):
            return variant.evening if evening else variant.morning
    return rules.evening if evening else rules.morning


def kept_in_on(rules: Rules, day: int) -> KeptIn | None:
    """The kept-in entry that covers a date [day number], the first where several do."""
    return next((kept for kept in rules.kept_in if _covers(kept, day)), None)


def look_delay_min(rules: Rules, day: int, evening: bool = True) -> int:
    """Minutes from the planned move of a date [day number] to the look at the door."""
    return max(0, rule_on(rules, day, evening).cell_until_min) + TRIES_MIN


def _covers(kept: KeptIn, day: int) -> bool:
    once = kept.once()
    if once is not None:
        return once[0] <= day <= once[1]
    return any(first <= _month_day(day) <= last for first, last in kept.yearly())


def _month_day(day: int) -> int:
    return int(month_day(np.array([day], np.int64))[0])
