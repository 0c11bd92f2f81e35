"""The facts that the chip gets beside the minutes: when light and clock may be compared."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from sunsched.hardware.parts import LightCell
from sunsched.plan.day import Side
from sunsched.plan.moments import Moments
from sunsched.plan.reasons import by_sun
from sunsched.sky.daylight import LOWEST_DEG, clear_sky_lux, depression_of_clear_sky_lux

# A night counts as dark when the clear sky gives the cell a tenth of its dark level at solar midnight; a day as
# light when the clear noon sky gives it ten times its light level, so that a dull noon (a tenth of the clear
# sky, overcast: common practice) still reads light.
MARGIN = 10.0
# A minute shifted by more is no longer at dusk or dawn. Common practice.
MOST_SHIFT_MIN = 30.0


def expected_light(moments: Moments, cell: LightCell) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """For each noon (n,): whether the night after it is dark, and whether the day around it is light, at the cell."""
    _, highest_deg, lowest_deg = moments.extreme_deg
    dark_deg = _sun_angle_deg(cell.dark_lux / cell.sky_view / MARGIN)
    light_deg = _sun_angle_deg(cell.light_lux / cell.sky_view * MARGIN)
    return lowest_deg <= dark_deg, highest_deg >= light_deg


@lru_cache(maxsize=64)  # the sites of a batch share a few levels
def _sun_angle_deg(lux: float) -> float:
    """Airless altitude at which a clear sky gives `lux` [degrees]; infinite for light that it never or always gives.

    A cell with a small view of the sky may need more than the highest Sun gives, one with a very low level
    less than the clear night sky's own light: then light or dark is never expected.
    """
    if lux > float(clear_sky_lux(90.0)):
        return np.inf
    if lux < float(clear_sky_lux(LOWEST_DEG)):
        return -np.inf
    return -float(depression_of_clear_sky_lux(lux))


def sun_decided(side: Side) -> NDArray[np.bool_]:
    """Where the Sun, and no limit or large shift, decided the minute."""
    with np.errstate(invalid="ignore"):
        near = np.abs(side.time_utc_min - side.sun_utc_min) <= MOST_SHIFT_MIN
    return near & by_sun(side.reason)
