"""The map holds what the plan holds, read back from its drawn coordinates."""

from __future__ import annotations

import datetime as dt
import json
import xml.etree.ElementTree as ET
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import assume, example, given, settings

from sunsched.base.errors import ConfigError
from sunsched.config import toml_file
from sunsched.emit import json_table
from sunsched.job import pipeline
from sunsched.plan.year import NO_MINUTE, YearPlan
from sunsched.report.pictures.nights import nights_of
from sunsched.report.pictures.year_map import YearMap
from tests.conftest import CONFIGS
from tests.report.drawn import SVG, minutes_drawn, planned, row_edges
from tests.support.strategies import configurations

POLAR = {
    "site": {"name": "P", "latitude_deg": 78.2, "longitude_deg": 15.6, "zone": "Arctic/Longyearbyen"},
    "evening": {"twilight": "civil", "not_before": "15:30", "not_after": "23:00"},
    "morning": {"twilight": "civil", "not_before": "06:30", "not_after": "09:30"},
}
AFTER_MIDNIGHT = {
    "site": {"name": "A", "latitude_deg": 63.4, "longitude_deg": 10.4, "zone": "Europe/Oslo"},
    "evening": {"depression_deg": 3.0, "not_after": "00:45"},
    "morning": {"depression_deg": 3.0, "not_before": "03:30"},
}
SOUTH_KEPT: dict[str, Any] = {
    "site": {"name": "S", "latitude_deg": -45.2, "longitude_deg": 169.9, "zone": "Pacific/Auckland"},
    "kept_in": [{"from": "12-20", "to": "01-10"}, {"from": "06-01", "to": "06-21"}],
}


def check_map_against_plan(plan: YearPlan, root: ET.Element) -> None:
    """Every day's two minutes stand on the map at their place, and nothing else does."""
    top, height = row_edges(root, plan.n_days)
    for side, column, night in (("close", plan.close_min, 1), ("open", plan.open_min, 0)):
        drawn = minutes_drawn(root, side)
        civil = plan.civil_min(column) + (0 if side == "close" else 1440)
        wanted: dict[float, float] = {}
        for row in np.flatnonzero(column != NO_MINUTE).tolist():
            wanted[round((row + night) * height + top, 2)] = float(civil[row])
        assert sorted(wanted) == sorted(round(y, 2) for y in drawn)
        for y, minute in drawn.items():
            # Coordinates have two decimals: 0.005 of a unit is 0.015 of a minute.
            assert abs(minute - wanted[round(y, 2)]) < 0.05


@settings(max_examples=30)
@given(configurations())
@example(POLAR)
@example(AFTER_MIDNIGHT)
@example(SOUTH_KEPT)
def test_minutes_are_recovered_from_the_drawn_lines(data: dict[str, Any]) -> None:
    try:
        plan, configuration = planned(data, 2028)
    except ConfigError:
        assume(False)
    svg = YearMap(plan, configuration.rules).drawing.file_text()
    check_map_against_plan(plan, ET.fromstring(svg))


@pytest.mark.parametrize("path", CONFIGS, ids=lambda path: path.stem)
@pytest.mark.parametrize("year", [2027, 2028])
def test_shipped_configurations_are_recovered_and_drawn_alike_twice(path: Any, year: int) -> None:
    configuration = toml_file.read(str(path))
    plan = pipeline.plan_of(configuration, year)
    svg = YearMap(plan, configuration.rules).drawing.file_text()
    assert svg == YearMap(plan, configuration.rules).drawing.file_text()
    check_map_against_plan(plan, ET.fromstring(svg))
    assert len(svg) < 100_000


@pytest.mark.parametrize("path", CONFIGS, ids=lambda path: path.stem)
def test_the_map_holds_the_minutes_of_the_json_table(path: Any) -> None:
    work = pipeline.built(toml_file.read(str(path)), 2027)
    found = json.loads(json_table.text(work.plan, work.stamp))
    root = ET.fromstring(YearMap(work.plan, work.configuration.rules).drawing.file_text())
    top, height = row_edges(root, work.plan.n_days)
    zone, offset = ZoneInfo(found["site"]["zone"]), found["clock"]["utc_offset_min"]
    for side, night in (("close", 1), ("open", 0)):
        drawn = {round((y - top) / height) - night: minute for y, minute in minutes_drawn(root, side).items()}
        moving = {row: day for row, day in enumerate(found["days"]) if day[f"{side}_min"] is not None}
        assert drawn.keys() == moving.keys()
        for row, day in moving.items():
            date = dt.datetime.fromisoformat(day["date"]).replace(tzinfo=dt.UTC)
            local = (date + dt.timedelta(minutes=day[f"{side}_min"] - offset)).astimezone(zone).replace(tzinfo=dt.UTC)
            evening = date - dt.timedelta(days=1 - night)
            assert abs((local - evening).total_seconds() / 60 - drawn[row]) < 0.06


def test_a_closing_after_midnight_lies_beyond_the_middle() -> None:
    plan, configuration = planned(AFTER_MIDNIGHT)
    assert float(np.nanmax(plan.civil_min(plan.close_min))) > 1440
    root = ET.fromstring(YearMap(plan, configuration.rules).drawing.file_text())
    assert max(minutes_drawn(root, "close").values()) > 1440


def test_nights_of_a_polar_year_are_whole_or_nothing() -> None:
    plan, _ = planned(POLAR)
    nights = nights_of(plan)
    june, december = plan.row(dt.date(2027, 6, 21)) + 1, plan.row(dt.date(2027, 12, 21)) + 1
    # At 78 N the Sun does not set in June and does not rise in December.
    assert nights.dark_from[0, june] == nights.dark_until[0, june]
    assert nights.dark_until[0, december] - nights.dark_from[0, december] == pytest.approx(1440, abs=2)


def test_the_polar_night_is_painted_from_edge_to_edge() -> None:
    plan, _ = planned(POLAR)
    nights = nights_of(plan)
    left, right = nights.dark_edges(0)
    # At 78 N the Sun stays down from about 26 October to 16 February (from memory); a week is left at either end.
    for date in (dt.date(2027, 11, 5), dt.date(2027, 12, 21), dt.date(2027, 2, 8)):
        night = plan.row(date) + 1
        assert (left[night], right[night]) == (nights.from_min, nights.until_min)
    april = plan.row(dt.date(2027, 4, 1)) + 1
    assert nights.from_min < left[april] < right[april] < nights.until_min
    # A darkness that ends before noon is painted as it is.
    assert right[april] == nights.dark_until[0, april]


# Directive 2000/84/EC: clocks change on the last Sundays of March and October at 01:00 UTC, in 2027 the 28th and 31st,
# so in the nights that begin a day earlier, at 02:00 and 03:00 by the clocks of Oslo (UTC+1) before the change.
def test_clock_changes_are_marked_on_their_nights() -> None:
    plan, configuration = planned(AFTER_MIDNIGHT)
    nights = nights_of(plan)
    found = [(dt.date.fromordinal(719163 + int(nights.evening_day[n])), m, c) for n, m, c in nights.clock_changes]
    assert found == [(dt.date(2027, 3, 27), 1440 + 120, 60), (dt.date(2027, 10, 30), 1440 + 180, -60)]
    words = [t.text for t in ET.fromstring(YearMap(plan, configuration.rules).drawing.file_text()).iter(f"{SVG}text")]
    assert "clocks +1 h" in words and "clocks -1 h" in words


def test_sunset_band_of_the_map_is_where_another_library_finds_sunset() -> None:
    # astral, a general library of its own making, as the second opinion; it differs by some seconds.
    from astral import Observer
    from astral.sun import sunset

    plan, _ = planned({"site": {"name": "O", "latitude_deg": 52.0, "longitude_deg": 5.0, "zone": "Europe/Amsterdam"}})
    nights = nights_of(plan)
    for date in (dt.date(2027, 2, 10), dt.date(2027, 7, 10), dt.date(2027, 10, 31)):
        row = plan.row(date)
        event = sunset(Observer(52.0, 5.0), date, tzinfo=dt.UTC)
        civil = event.hour * 60 + event.minute + event.second / 60 + int(plan.civil_offset_min[row])
        assert nights.dark_from[0, row + 1] == pytest.approx(civil, abs=1.0)
