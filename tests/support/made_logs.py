"""Light logs of our own making: a clear sky over a site, with weather, a cell's error and a clock of choice."""

import datetime as dt

import numpy as np

from sunsched.base.civil_time import date_of, day_number, zone_of
from sunsched.hardware.light_cell import divider_counts
from sunsched.sky.crossings import sun_altitude_deg
from sunsched.sky.daylight import clear_sky_lux, refraction_deg

PLACE = {"latitude_deg": 47.318, "longitude_deg": 8.949}
ZONE = "Europe/Zurich"


def light_lux(utc_min, factor=0.4, dullness=None, place=PLACE):
    """Lux at a cell: the clear sky times `factor`, divided for each date (UTC) by what `dullness` says [log10]."""
    airless = sun_altitude_deg(utc_min, **place)
    lux = clear_sky_lux(airless + refraction_deg(airless)) * factor
    if dullness is None:
        return lux
    days = ((utc_min - 0) // 1440).astype(int)
    return lux / 10 ** np.array([dullness(int(day)) for day in days])


def times(first="2027-03-01", n_days=10, step_min=1):
    start = day_number(dt.date.fromisoformat(first)) * 1440
    return np.arange(start, start + n_days * 1440, step_min, dtype=np.float64)


def stamped(utc_min, clock="civil", ahead_min=0, form="%Y-%m-%d %H:%M"):
    """Each time as a log's clock writes it: "civil", "Z" or a fixed offset in minutes, and `ahead_min` fast."""
    if clock == "civil":
        local = utc_min + zone_of(ZONE).utc_offset_min(utc_min)
    else:
        local = utc_min + (0 if clock == "Z" else clock)
    tail = "Z" if clock == "Z" else ""
    epoch = dt.datetime(1970, 1, 1)
    ahead = np.broadcast_to(ahead_min, local.shape)
    shown = (local + ahead).tolist()
    return [f"{epoch + dt.timedelta(minutes=minute):{form}}{tail}" for minute in shown]


def lux_log(utc_min, lux, **clock):
    """The lines of a log in lux."""
    return ["time,lux", *(f"{stamp},{value:.4f}" for stamp, value in zip(stamped(utc_min, **clock), lux, strict=True))]


def counts_log(utc_min, lux, fixed_ohm=10_000.0, **clock):
    """The lines of a log in counts of a 50 kohm cell, gamma 0.7."""
    counts = divider_counts(lux, 50_000.0, 0.7, fixed_ohm)
    pairs = zip(stamped(utc_min, **clock), counts.tolist(), strict=True)
    return ["time,counts", *(f"{stamp},{value}" for stamp, value in pairs)]


def day_name(day):
    return date_of(day).isoformat()
