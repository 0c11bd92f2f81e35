"""Light logs of our own making: a clear sky over a site, with weather, a cell's error and a clock of choice."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sunsched.base.civil_time import date_of, day_number, zone_of
from sunsched.hardware.light_cell import divider_counts
from sunsched.sky.crossings import sun_altitude_deg
from sunsched.sky.daylight import clear_sky_lux, refraction_deg

PLACE = {"latitude_deg": 47.318, "longitude_deg": 8.949}
ZONE = "Europe/Zurich"


def light_lux(
    utc_min: NDArray[np.float64],
    factor: float = 0.4,
    dullness: Callable[..., Any] | None = None,
    place: dict[str, float] = PLACE,
) -> NDArray[np.float64]:
    """Lux at a cell: the clear sky times `factor`, divided for each date (UTC) by what `dullness` says [log10]."""
    airless = sun_altitude_deg(utc_min, **place)
    lux = clear_sky_lux(airless + refraction_deg(airless)) * factor
    if dullness is None:
        return lux
    days = ((utc_min - 0) // 1440).astype(int)
    return np.asarray(lux / 10 ** np.array([dullness(int(day)) for day in days]))


def times(first: str = "2027-03-01", n_days: int = 10, step_min: int = 1) -> NDArray[np.float64]:
    start = day_number(dt.date.fromisoformat(first)) * 1440
    return np.arange(start, start + n_days * 1440, step_min, dtype=np.float64)


def stamped(
    utc_min: NDArray[np.float64],
    clock: str | int = "civil",
    ahead_min: int | NDArray[np.int64] = 0,
    form: str = "%Y-%m-%d %H:%M",
) -> list[str]:
    """Each time as a log's clock writes it: "civil", "Z" or a fixed offset in minutes, and `ahead_min` fast."""
    if isinstance(clock, int):
        local = utc_min + clock
    else:
        local = utc_min + (zone_of(ZONE).utc_offset_min(utc_min) if clock == "civil" else 0)
    tail = "Z" if clock == "Z" else ""
    epoch = dt.datetime(1970, 1, 1)
    ahead = np.broadcast_to(ahead_min, local.shape)
    shown = (local + ahead).tolist()
    return [f"{epoch + dt.timedelta(minutes=minute):{form}}{tail}" for minute in shown]


def lux_log(utc_min: NDArray[np.float64], lux: NDArray[np.float64], **clock: Any) -> list[str]:
    """The lines of a log in lux."""
    return ["time,lux", *(f"{stamp},{value:.4f}" for stamp, value in zip(stamped(utc_min, **clock), lux, strict=True))]


def counts_log(
    utc_min: NDArray[np.float64], lux: NDArray[np.float64], fixed_ohm: float = 10_000.0, **clock: Any
) -> list[str]:
    """The lines of a log in counts of a 50 kohm cell, gamma 0.7."""
    counts = divider_counts(lux, 50_000.0, 0.7, fixed_ohm)
    pairs = zip(stamped(utc_min, **clock), counts.tolist(), strict=True)
    return ["time,counts", *(f"{stamp},{value}" for stamp, value in pairs)]


def day_name(day: int) -> str:
    return date_of(day).isoformat()
