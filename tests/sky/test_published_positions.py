"""Altitude, azimuth, declination and equation of time as published: tests/authorities/sun_position.csv."""

from __future__ import annotations

from collections import Counter

import numpy as np

from sunsched.sky.crossings import sun_position_deg
from sunsched.sky.daylight import refraction_deg
from sunsched.sky.sun_nodes import sun_at
from tests.sky.authority_rows import rows, utc_min

Row = dict[str, str]
SPA_LOWEST_REFRACTED_DEG = -0.8333  # the SPA code refracts above this only

# What a source leaves out, as degrees on the sky:
# SPA reference output takes TT = UT1 = UTC: up to 0.6 s of rotation (0.0025) and 67 s of the Sun's motion (0.0008)
# USNO celnav gives geocentric altitudes: parallax up to 0.0024
# Meeus, example 25.a, is his low-accuracy method, stated good to 0.01
ALLOWED_DEG = {"NREL SPA": 0.0035, "Reda I.,": 0.0025, "USNO Ast": 0.0026, "USNO API": 0.0016, "Meeus J.": 0.0031}
ONE_TURN_A_DAY = 15.0  # degrees an hour


def published_minus_ours_deg(row: Row) -> float:
    """Difference on the sky [degrees]."""
    quantity, value = row["quantity"], float(row["value"])
    # Meeus's times are TT; UTC was 27 + 32.184 s behind it in October 1992
    moment = utc_min(row["utc"].replace(" TD", "Z")) - (59.184 / 60.0 if row["utc"].endswith("TD") else 0.0)
    sun = sun_at(np.array([moment]))
    subsolar_deg = float(-np.degrees(sun.hour_angle_rad[0])) % 360.0
    if "dec" in quantity:
        return value - float(np.degrees(sun.declination_rad[0]))
    if quantity.startswith("apparent RA"):
        return (value - right_ascension_deg(moment) + 180.0) % 360.0 - 180.0
    if quantity.startswith("subsolar"):
        return (value - subsolar_deg + 180.0) % 360.0 - 180.0
    if quantity.startswith("equation"):
        ut_h = moment / 60.0 % 24.0
        ours_min = -4.0 * ((subsolar_deg + ONE_TURN_A_DAY * ut_h - 180.0 + 180.0) % 360.0 - 180.0)
        return (value - ours_min) / 4.0
    altitude, azimuth = (float(x) for x in sun_position_deg(moment, float(row["lat_deg"]), float(row["lon_deg"])))
    if quantity.startswith("azimuth"):
        return ((value - azimuth + 180.0) % 360.0 - 180.0) * float(np.cos(np.radians(altitude)))
    if "(refracted" in quantity and altitude > SPA_LOWEST_REFRACTED_DEG:
        hpa, celsius = (820.0, 11.0) if row["source"].startswith("Reda") else (1000.0, 10.0)
        altitude += float(refraction_deg(altitude)) * hpa / 1010.0 * 283.0 / (273.0 + celsius)
    return value - (90.0 - altitude if quantity.startswith("zenith") else altitude)


def right_ascension_deg(moment_utc_min: float) -> float:
    """Sidereal time (Meeus 1998, eq. 12.4, mean) less our hour angle [degrees]; good to the nutation, 0.005."""
    days = moment_utc_min / 1440.0 + 2440587.5 - 2451545.0
    sidereal_deg = 280.46061837 + 360.98564736629 * days
    hour_angle_deg = float(np.degrees(sun_at(np.array([moment_utc_min])).hour_angle_rad[0]))
    return (sidereal_deg - hour_angle_deg) % 360.0


def test_every_published_position() -> None:
    wrong = []
    seen: Counter[str] = Counter()
    for row in rows("sun_position.csv"):
        allowed = ALLOWED_DEG[row["source"][:8]]
        if row["quantity"].startswith("apparent RA"):
            allowed += 0.005  # our test's sidereal time is the mean one
        seen[row["source"][:8]] += 1
        apart = published_minus_ours_deg(row)
        if not abs(apart) <= allowed:
            wrong.append((row["row_id"], row["quantity"], row["value"], round(apart, 5)))
    assert wrong == []
    assert seen == {"NREL SPA": 128, "Reda I.,": 3, "USNO Ast": 8, "USNO API": 21, "Meeus J.": 3}
