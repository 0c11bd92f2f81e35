"""Hypothesis strategies: sites, rules and whole configurations that a keeper could write."""

from __future__ import annotations

from typing import Any

from hypothesis import strategies as st

# A spread of latitudes, longitudes and zones; the zone fits the longitude so that noon lies in the chip's day.
PLACES = (
    (52.1, 5.2, "Europe/Amsterdam"),
    (-45.2, 169.9, "Pacific/Auckland"),
    (0.4, 34.9, "Africa/Nairobi"),
    (69.1, 24.4, "Europe/Oslo"),
    (61.2, -149.9, "America/Anchorage"),
    (49.7, 81.4, "Asia/Almaty"),
    (-33.5, -70.7, "America/Santiago"),
    (27.7, 85.3, "Asia/Kathmandu"),
    (78.2, 15.6, "Arctic/Longyearbyen"),
)
CLOCK = st.integers(0, 23).flatmap(lambda h: st.sampled_from((0, 15, 30, 59)).map(lambda m: f"{h:02d}:{m:02d}"))


def sites() -> st.SearchStrategy[dict[str, Any]]:
    """A place with a zone that fits it."""
    return st.builds(
        lambda place, north, east: {
            "name": "Somewhere",
            "latitude_deg": place[0] + north,
            "longitude_deg": place[1] + east,
            "zone": place[2],
        },
        st.sampled_from(PLACES),
        st.floats(-3, 3),
        st.floats(-3, 3),
    )


def moments(evening: bool) -> st.SearchStrategy[dict[str, Any]]:
    """One of the three ways to name a moment of the Sun."""
    words = ("sunset" if evening else "sunrise", "civil", "nautical")
    return st.one_of(
        st.sampled_from(words).map(lambda word: {"twilight": word}),
        st.floats(-2, 12).map(lambda angle: {"depression_deg": angle}),
        st.floats(0.5, 2000).map(lambda lux: {"clear_sky_lux": lux}),
    )


@st.composite
def sides(draw: st.DrawFn, evening: bool) -> dict[str, Any]:
    """A morning or an evening: a moment, shifts, and limits that cannot cross."""
    side = draw(moments(evening))
    side["later_min"] = draw(st.integers(-40, 60))
    side["not_before"] = draw(st.sampled_from(("13:00", "15:30") if evening else ("03:00", "06:30")))
    side["not_after"] = draw(st.sampled_from(("21:15", "23:30") if evening else ("07:30", "10:00")))
    if not draw(st.booleans()):
        side["weekday_later_min"] = {draw(st.sampled_from(("mon", "sat", "sun"))): draw(st.integers(-30, 45))}
    if draw(st.integers(0, 2)) == 2:
        day = draw(st.sampled_from(("tue", "sat", "sun")))
        side["weekday_not_before"] = {day: draw(st.sampled_from(("14:00", "16:45") if evening else ("05:00", "07:20")))}
        side["weekday_not_after"] = {day: draw(st.sampled_from(("22:00", "00:30") if evening else ("07:45", "11:00")))}
    side["no_twilight"] = draw(st.permutations(("light", "limit", "shut")))
    return side


@st.composite
def configurations(draw: st.DrawFn) -> dict[str, Any]:
    """A configuration that can be planned for any year."""
    found: dict[str, Any] = {"site": draw(sites()), "warn": {"least_shut_min": 0}}
    found["morning"], found["evening"] = draw(sides(False)), draw(sides(True))
    if draw(st.booleans()):
        found["season"] = [
            {"name": "wraps", "from": "11-20", "to": "02-10", "evening": {"later_min": draw(st.integers(-20, 20))}}
        ]
    if draw(st.booleans()):
        found["kept_in"] = [{"from": "02-27", "to": "03-02", "why": "leap"}]
    return found
