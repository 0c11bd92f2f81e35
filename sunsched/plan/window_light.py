"""How bright a clear sky is on the cell at a year's own minutes: the light with which the door checks its clock.

A plan may close before sunset or open in the night. The door's rules that doubt an unproven clock must then expect
the light of such a minute.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sunsched.hardware.parts import LightCell
from sunsched.plan.rules import Rules
from sunsched.plan.year import YearPlan
from sunsched.sky.daylight import clear_sky_lux_at

DULL_SHARE = 0.1  # an overcast sky's share of a clear one's light: common practice
MOST_LEAD_MIN = 180


class WindowLight(NamedTuple):
    """The clear sky on the cell, at the extreme of all days whose minute the Sun decided.

    brightest_close_lux   at the planned closing [lux]
    darkest_open_lux   at the end of the morning's window [lux], infinite where the Sun decides no opening
    dark_before_close_min   longest from the cell's dark level to the planned closing [minutes, 0..180]
    """

    brightest_close_lux: float
    darkest_open_lux: float
    dark_before_close_min: int


LIKE_DARK = WindowLight(0.0, np.inf, 0)


def window_light(plan: YearPlan, rules: Rules, cell: LightCell) -> WindowLight:
    """The light at the plan's minutes; accuracy of the clear-sky model, 0.01 to 0.02 in log10 (sky/daylight.py)."""
    close_utc_min = plan.utc_min(plan.close_min)[plan.close_by_twilight]
    open_utc_min = plan.utc_min(plan.open_min)[plan.open_by_twilight] + rules.morning.cell_until_min
    close_lux, open_lux = _on_the_cell(plan, cell, close_utc_min), _on_the_cell(plan, cell, open_utc_min)
    before_lux = _on_the_cell(plan, cell, close_utc_min - np.arange(MOST_LEAD_MIN + 1.0)[:, None])
    dark_min = np.logical_and.accumulate(before_lux < cell.dark_lux, axis=0).sum(axis=0)
    return WindowLight(
        float(close_lux.max(initial=0.0)),
        float(open_lux.min(initial=np.inf)),
        min(MOST_LEAD_MIN, int(dark_min.max(initial=0))),
    )


def _on_the_cell(plan: YearPlan, cell: LightCell, utc_min: NDArray[np.float64]) -> NDArray[np.float64]:
    return clear_sky_lux_at(utc_min, plan.site.latitude_deg, plan.site.longitude_deg) * cell.sky_view
