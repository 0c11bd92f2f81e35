"""Results are rounded where they leave the sums.

A sine or a power differs in its last bit from one processor to the next: numpy and the C library choose their
routines by the processor's features. Sixteen printed digits would show that, and it would decide a tie: 2.5 to
whole numbers, a difference that should be 0, a whole number of counts.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

DIGITS = 9  # of a result: what is left of 0.1 + 0.2 - 0.3 is 0, and a tie is a tie
PRINTED_DIGITS = 7  # of a result as plain values, JSON: more than any input is known to; sums of a year keep 13
MINUTE_DECIMALS = 3  # of a difference of two utc_min, whose last bit is worth 4e-9 min; the Sun is good to 0.02 min
_SPLIT = 2.0**12 + 1.0  # keeps 41 of the 53 bits of a double


def rounded(value: float, digits: int = DIGITS) -> float:
    """A result to so many significant digits and at most as many decimals. Infinities and NaN stay; -0 becomes 0."""
    if not math.isfinite(value):
        return float(value)
    return float(f"{round(float(value), digits):.{digits}g}") + 0.0


def printed_values(values: Any) -> Any:
    """Plain values (dicts, lists, tuples, texts, numbers) with every float to PRINTED_DIGITS; the rest as it is."""
    if isinstance(values, float):
        return rounded(values, PRINTED_DIGITS)
    if isinstance(values, dict):
        return {key: printed_values(value) for key, value in values.items()}
    if isinstance(values, (list, tuple)):
        return type(values)(printed_values(value) for value in values)
    return values


def to_41_bits(values: ArrayLike) -> NDArray[np.float64]:
    """Numbers below 1e300, any shape, to 41 of their 53 bits: 2.3e-13 of themselves. For columns within the sums.

    A whole number stays whole, so that a floor or a comparison with it does not depend on the last bit. Infinities
    and NaN stay. Three exact operations, the same on every processor. Source: Dekker, Numer. Math. 18 (1971) 224.
    """
    column = np.asarray(values, np.float64)
    with np.errstate(invalid="ignore"):
        spread = column * _SPLIT
        return np.where(np.isfinite(spread), spread - (spread - column), column)
