"""Plans of our own invention for the table's tests: smooth years, jagged years, years with days shut."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sunsched.base.civil_time import year_days
from sunsched.plan.site import Chip, Site
from sunsched.plan.year import NO_MINUTE, YearPlan

Column = NDArray[np.int16]


def made_plan(
    year: int = 2028,
    open_min: Column | None = None,
    close_min: Column | None = None,
    name: str = "Made up",
    shut: tuple[int, int] = (0, 0),
    offset_min: int = 60,
) -> YearPlan:
    """A plan of one year: sine-shaped unless minutes are given; rows shut[0] to shut[1]-1 stay down."""
    first, n = year_days(year)
    rows = np.arange(n)
    swing = np.sin(2 * np.pi * (rows - 80) / 365.25)
    opens = np.ceil(400.3 - 100 * swing) if open_min is None else open_min
    closes = np.ceil(1050.7 + 100 * swing) if close_min is None else close_min
    opens, closes = opens.astype(np.int16), closes.astype(np.int16)
    opens[slice(*shut)] = closes[slice(*shut)] = NO_MINUTE
    late = 7.4 * np.sin(2 * np.pi * (rows - 4) / 365.25) - 9.9 * np.sin(4 * np.pi * (rows - 80) / 365.25)
    up = opens != NO_MINUTE
    return YearPlan(
        site=Site(name=name, latitude_deg=47.3, longitude_deg=8.9, zone="Europe/Zurich"),
        chip=Chip(),
        chip_offset_min=offset_min,
        tzdata="made up",
        first_day=first,
        open_min=opens,
        close_min=closes,
        open_reason=np.zeros(n, np.uint8),
        close_reason=np.zeros(n, np.uint8),
        noon_min=np.rint(744 + late).astype(np.int16),
        midnight_min=np.rint(1464 + late).astype(np.int16),
        dawn_utc_min=np.full(n, np.nan),
        dusk_utc_min=np.full(n, np.nan),
        dark_expected=rows < 200,
        light_expected=np.ones(n, np.bool_),
        open_by_twilight=up & (rows % 7 != 3),
        close_by_twilight=up,
        civil_offset_min=np.full(n, 60, np.int16),
    )
