"""What a keeper's nights leave open: limits on the share left out, how many more nights would decide, a yearly angle.

Limits are for n nights alike and independent of one another. Depressions are in degrees, minutes are minutes.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import asdict, dataclass
from statistics import NormalDist
from typing import Any

from sunsched.base.errors import LogError
from sunsched.hardware.battery import chance_with_limits

LIMITS = (0.05, 0.95)
# The last bird's angle differs by so much from night to night [degrees, standard deviation]: assumed.
NIGHT_SPREAD_DEG, LEAST_SPREAD_DEG, MOST_SPREAD_DEG = 0.7, 0.4, 1.2
LEAST_UPDATE_NIGHTS = 60
NORMAL = NormalDist()


def left_out_limits(n: int, place: int) -> tuple[float, float, float]:
    """Share of nights to come that end later than the `place`-th smallest of `n`: mean, and 90 % limits.

    Source: the share beyond an order statistic follows a beta distribution, here of n + 1 - place and place (David &
    Nagaraja 2003, Order Statistics, 2.3 [from memory]); its quantiles by halving of the binomial sum.
    """
    above = n + 1 - place
    low, high = (_beta_quantile(above, place, share) for share in LIMITS)
    return above / (n + 1), low, high


def _beta_quantile(a: int, b: int, share: float) -> float:
    """The x with chance `share` below it, for a beta distribution of whole a and b: P(Binomial(a+b-1, x) >= a)."""
    return _halved(lambda x: _at_least(a, a + b - 1, x) < share)


def _halved(below: Callable[[float], bool]) -> float:
    low, high = 0.0, 1.0
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if below(middle) else (low, middle)
    return (low + high) / 2


def _at_least(k: int, n: int, x: float) -> float:
    """Chance that a binomial of n and x gives k or more; by its smaller tail, in logs, so that n may be thousands."""
    if x <= 0.0 or x >= 1.0:
        return float(x >= 1.0)
    logs = [
        math.lgamma(n + 1) - math.lgamma(i + 1) - math.lgamma(n - i + 1) + i * math.log(x) + (n - i) * math.log1p(-x)
        for i in range(k, n + 1)
    ]
    return min(1.0, math.fsum(math.exp(value) for value in logs))


@dataclass(frozen=True)
class Update:
    """A new angle from nights on which the door closed and the keeper counted, never applied by itself.

    late_share   nights with birds out after closing: share, with its 95 % limits
    now_deg      middle of the closings' depressions
    proposed_deg, low_deg, high_deg   the angle that leaves out the share wanted, and where it may lie
    changed      the interval leaves out the angle that is set
    """

    n_nights: int
    nights_with_birds_out: int
    late_share: tuple[float, float, float]
    now_deg: float
    set_deg: float
    proposed_deg: float
    low_deg: float
    high_deg: float

    @property
    def changed(self) -> bool:
        """The nights tell against the angle that is set."""
        return not self.low_deg <= self.set_deg <= self.high_deg

    def plain(self) -> dict[str, Any]:
        """Plain values, for JSON."""
        return {**asdict(self), "late_share": list(self.late_share), "changed": self.changed}


def update_of(depression_deg: list[float], birds_out: list[int], share: float, set_deg: float, name: str) -> Update:
    """Propose the angle at which only `share` of nights end later, from closings and counts.

    The last bird's angle is taken as normal from night to night; its spread is assumed, from 0.4 to 1.2 degrees, and
    the interval holds both ends and the limits of the share seen (Wilson 1927). Raises LogError for too few nights.
    """
    n = len(depression_deg)
    wanted = max(LEAST_UPDATE_NIGHTS, math.ceil(2 / share))
    if n < wanted:
        raise LogError(f"{name}: {n} nights with a closing and a count; wanted {wanted} or more to propose an angle")
    late = sum(count > 0 for count in birds_out)
    seen = chance_with_limits(late, n)
    now = sorted(depression_deg)[n // 2]

    def angle(seen_share: float, spread_deg: float) -> float:
        kept = min(max(seen_share, 0.5 / n), 1 - 0.5 / n)
        return now + spread_deg * (NORMAL.inv_cdf(1 - share) - NORMAL.inv_cdf(1 - kept))

    ends = [angle(s, d) for s in seen[1:] for d in (LEAST_SPREAD_DEG, MOST_SPREAD_DEG)]
    middle = angle(seen[0], NIGHT_SPREAD_DEG)
    return Update(n, late, seen, now, set_deg, _tenth(middle), min(*ends, middle), max(*ends, middle))


def _tenth(angle_deg: float) -> float:
    """Rounded up to a tenth: the later side."""
    return round(math.ceil(round(angle_deg * 10, 6)) / 10, 1)
