"""Sunrise, sunset and twilight as published, every row: tests/authorities/sun_events_*.csv, sources on each row."""

from __future__ import annotations

from collections import Counter, defaultdict

import numpy as np
import pytest

from sunsched.sky.crossings import altitude_crossings, sun_altitude_deg
from tests.sky.authority_rows import day_of, rows, utc_min

Row = dict[str, str]
RISING = {"rise", "civil_dawn", "naut_dawn", "astro_dawn"}
LATITUDE_BANDS = ((0.0, 30.0), (30.0, 45.0), (45.0, 55.0), (55.0, 66.0), (66.0, 90.0))


def allowed_s(row: Row) -> tuple[float, float]:
    """Published minus ours: half a minute of rounding and 6 s to spare; more where the Sun sinks slowly."""
    if "truncated" in row["note"]:
        return -60.0, 30.0
    latitude = abs(float(row["lat_deg"]))
    most = 36.0 if latitude <= 55.0 else 45.0 if latitude <= 66.0 else 60.0
    return -most, most


def angle_deg(row: Row) -> float:
    # sunrise is defined as -50 arcmin; the files have it rounded to 0.8333
    depression = float(row["depression_deg"])
    return -50.0 / 60.0 if depression == 0.8333 else -depression


def sites(name: str) -> list[list[Row]]:
    """Rows by place, angle and year."""
    found: dict[tuple[str, ...], list[Row]] = defaultdict(list)
    for row in rows(name):
        found[row["lat_deg"], row["lon_deg"], row["depression_deg"], row["date"][:4]].append(row)
    return list(found.values())


def events_utc_min(site: list[Row]) -> dict[bool, np.ndarray]:
    """Our risings (True) and settings (False) around the dates of the rows of one place and angle."""
    days = [day_of(row["date"]) for row in site]
    place = float(site[0]["lat_deg"]), float(site[0]["lon_deg"])
    found = altitude_crossings(min(days) - 2, max(days) - min(days) + 5, *place, [angle_deg(site[0])])
    rise, set_ = found.rise_utc_min[0], found.set_utc_min[0]
    return {True: rise[~np.isnan(rise)], False: set_[~np.isnan(set_)]}


def faults(name: str) -> tuple[list[str], Counter[str], Counter[tuple[float, float]]]:
    """Rows that we contradict; rows compared by source and by latitude band."""
    wrong: list[str] = []
    by_source: Counter[str] = Counter()
    by_band: Counter[tuple[float, float]] = Counter()
    for site in sites(name):
        events = events_utc_min(site)
        for row in site:
            if row["flag"]:
                continue
            by_source[row["source_id"]] += 1
            by_band[next(band for band in LATITUDE_BANDS if abs(float(row["lat_deg"])) <= band[1])] += 1
            ours = events[row["event"] in RISING]
            if not (agrees_on_time(row, ours) if row["state"] == "event" else agrees_on_none(row, ours)):
                wrong.append(f"{row['row_id']} {row['place']} {row['date']} {row['event']} {row['state']}")
    return wrong, by_source, by_band


def agrees_on_time(row: Row, ours: np.ndarray) -> bool:
    least, most = allowed_s(row)
    apart_s = (utc_min(row["published_utc"]) - ours) * 60.0
    return bool(np.any((apart_s >= least) & (apart_s <= most)))


def agrees_on_none(row: Row, ours: np.ndarray) -> bool:
    """No such event on the date, and the Sun on the stated side of the angle throughout ("blank": only no event)."""
    midnight = day_of(row["date"]) * 1440.0 - float(row["tz_offset_h"]) * 60.0
    if np.any((ours >= midnight) & (ours < midnight + 1440.0)):
        return False
    altitude = sun_altitude_deg(midnight + np.arange(0, 1441, 5.0), float(row["lat_deg"]), float(row["lon_deg"]))
    above = altitude > angle_deg(row)
    return {"above": bool(above.all()), "below": not above.any(), "blank": True}[row["state"]]


@pytest.mark.parametrize(
    ("name", "n_rows", "n_without_event"), [("sun_events_core.csv", 341, 79), ("sun_events_full.csv", 6714, 1543)]
)
def test_every_published_event_and_day_without_one(name: str, n_rows: int, n_without_event: int) -> None:
    wrong, by_source, by_band = faults(name)
    assert wrong == []
    assert by_source.total() == n_rows
    assert set(by_source) == {row["source_id"] for row in rows("sun_event_sources.csv")}
    assert all(by_band[band] > 0 for band in LATITUDE_BANDS)
    assert sum(row["state"] != "event" and not row["flag"] for row in rows(name)) == n_without_event


def test_the_flagged_rows_are_the_sunset_of_the_evening_before() -> None:
    # Reda & Andreas, NREL/TP-560-34302: the worked example's sunset (17:20:19) is that of 16 October 2003
    flagged = [(site, row) for site in sites("sun_events_core.csv") for row in site if row["flag"]]
    assert len(flagged) == 2
    for site, row in flagged:
        ours = events_utc_min(site)[False]
        published = utc_min(row["published_utc"])
        apart_s = np.abs(ours - published).min() * 60.0
        the_evening_before_s = np.abs(ours + 1440.0 - published).min() * 60.0
        assert apart_s > 60.0
        assert the_evening_before_s < 5.0


def test_the_tolerances_notice_an_angle_that_is_wrong() -> None:
    """A centre 0.6 degrees down instead of 0.8333 (no semidiameter) must fail most rows of an ordinary year."""
    site = next(site for site in sites("sun_events_full.csv") if site[0]["source_id"] == "USNO-FRE-RS23")
    days = [day_of(row["date"]) for row in site]
    place = float(site[0]["lat_deg"]), float(site[0]["lon_deg"])
    found = altitude_crossings(min(days) - 2, len(days), *place, [-0.6])
    ours = {True: found.rise_utc_min[0], False: found.set_utc_min[0]}
    missed = sum(not agrees_on_time(row, ours[row["event"] in RISING]) for row in site)
    assert missed > 0.8 * len(site)
