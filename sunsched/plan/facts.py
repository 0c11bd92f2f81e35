"""What the chip is told beside the minutes: when light and clock may be held against each other."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sunsched.hardware.parts import LightCell
from sunsched.plan.day import Side
from sunsched.plan.moments import Moments
from sunsched.plan.reasons import Reason
from sunsched.plan.site import Site
from sunsched.sky.crossings import sun_altitude_deg
from sunsched.sky.daylight import depression_of_clear_sky_lux

# A night counts as dark when the clear sky gives the cell a tenth of its dark level at solar midnight; a day as
# light when the clear noon sky gives it ten times its light level, so that a dull noon (a tenth of the clear
# sky, overcast: common practice) still reads light.
MARGIN = 10.0
# Beyond this the keeper has asked for a minute that is no longer dusk or dawn. Common practice.
MOST_SHIFT_MIN = 30.0
BY_SUN = (Reason.TWILIGHT, Reason.LIGHT, Reason.LATER, Reason.WEEKDAY)


def expected_light(moments: Moments, site: Site, cell: LightCell) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """For each noon (n,): whether the night after it is dark, and whether the day around it is light, at the cell."""
    place = (site.latitude_deg, site.longitude_deg)
    lowest_deg = sun_altitude_deg(moments.midnight_utc_min[1:], *place)
    highest_deg = sun_altitude_deg(moments.noon_utc_min, *place)
    dark_deg = -float(depression_of_clear_sky_lux(cell.dark_lux / cell.sky_view / MARGIN))
    light_deg = -float(depression_of_clear_sky_lux(cell.light_lux / cell.sky_view * MARGIN))
    return lowest_deg <= dark_deg, highest_deg >= light_deg


def sun_decided(side: Side) -> NDArray[np.bool_]:
    """Where the Sun, and no limit or large shift, decided the minute."""
    with np.errstate(invalid="ignore"):
        near = np.abs(side.time_utc_min - side.sun_utc_min) <= MOST_SHIFT_MIN
    return near & np.isin(side.reason, BY_SUN)
